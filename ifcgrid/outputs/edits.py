"""What somebody changed by hand since the last run: as a record with counts, and in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.edit import Change, Edit

__all__ = ["format_edits", "record_edits"]

_MOST = 10
"""So many edits are named one by one in words; the record has them all."""


def record_edits(edits: Sequence[Edit], ceilings: Sequence[Ceiling]) -> dict[str, Any]:
    """The edits with their counts by change; `room` is the number of the zone's first room, where known."""
    rooms = {c.key: c.zone.rooms[0].number or c.zone.rooms[0].name for c in ceilings}
    counts = Counter(change for edit in edits for change in edit.changes)
    return {
        "count": len(edits),
        "kept": sum(edit.is_kept for edit in edits),
        "changes": {change.value: counts[change] for change in Change if counts[change]},
        "elements": [
            {
                "key": edit.key,
                "zone": edit.zone or None,
                "room": rooms.get(edit.zone),
                "part": edit.part,
                "changes": [change.value for change in edit.changes],
                "is_kept": edit.is_kept,
            }
            for edit in edits
        ],
    }


def format_edits(record: Mapping[str, Any], clean: Callable[[Any], str]) -> list[str]:
    """Lines of the summary; none where nothing was changed. `clean` makes names fit for a terminal."""
    if not record or not record["count"]:
        return []
    kept, count = record["kept"], record["count"]
    some = f"{kept} kept, the rest replaced" if kept else "all replaced"
    replaced = "all kept" if kept == count else some
    changes = ", ".join(f"{number} {change}" for change, number in record["changes"].items())
    lines = ["", f"Changed by hand since the last run: {count} ({changes}); {replaced}"]
    if not kept:
        lines[-1] += ". The model that was read still has them; --keep-edits leaves them as they are"
    for edit in record["elements"][:_MOST]:
        where = f"{clean(edit['room'])}: " if edit["room"] else ""
        lines.append(f"  {where}{clean(edit['part'])}: {', '.join(edit['changes'])}")
    if count > _MOST:
        lines.append(f"  ... and {count - _MOST} more, all in --json")
    return lines
