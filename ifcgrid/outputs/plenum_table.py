"""The plenum study as record, CSV and text: how high each ceiling could hang, and what governs."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping, Sequence
from typing import Any

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.plenum import Keeper, Plenum
from ifcgrid.domain.room import Room, SkippedRoom
from ifcgrid.domain.units import INCH, format_feet_inches, in_feet_and_inches
from ifcgrid.outputs.cautions import caution_texts

__all__ = ["format_plenum", "record_plenum", "tabulate_plenum"]

MOST_KEEPERS = 10
"""So many obstacles are told of a room, the lowest first."""

_HEAD = (
    *("storey", "number", "name", "room", "ceiling_mm", "highest_mm", "spare_mm", "governed_by"),
    *("governing_key", "kind", "rule", "clearance_mm", "underside_mm", "device", "next_mm", "gain_mm"),
    *("next_by", "built_and_judged", "held_by", "structure_known", "walls_below", "source"),
)

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet would take for the beginning of a formula."""


def _mm(value: float | None) -> float | None:
    return None if value is None else round(float(value), 1) + 0.0


def record_plenum(
    *,
    model: Mapping[str, Any],
    studied: Sequence[tuple[Ceiling, Plenum]],
    skipped: Sequence[SkippedRoom] = (),
    outputs: Sequence[str] = (),
) -> dict[str, Any]:
    """The study, one entry a room; heights in mm above the room's floor.

    `gain_mm` of a keeper is what the ceiling could rise if it and those before it were gone;
    up to the least of that and what it is itself raised by.
    """
    rooms = [_room(room, plenum) for ceiling, plenum in studied for room in ceiling.zone.rooms]
    return {
        "model": dict(model),
        "rooms": rooms,
        "skipped": [
            {"key": s.key, "number": s.number, "name": s.name, "storey": s.storey, "reason": s.reason}
            for s in skipped
        ],
        "cautions": list(caution_texts(is_short=True)),
        "outputs": list(outputs),
    }


def _room(room: Room, plenum: Plenum) -> dict[str, Any]:
    highest, floor = plenum.highest, room.floor
    above = None if highest is None else highest - floor
    return {
        "key": room.key,
        "number": room.number,
        "name": room.name,
        "storey": room.storey,
        "zone": plenum.zone,
        "ceiling_mm": _mm(plenum.level - floor),
        "highest_mm": _mm(above),
        "spare_mm": None if highest is None else _mm(highest - plenum.level),
        "built_and_judged": plenum.tried is not None,
        "held_by": plenum.held_by,
        "is_usable": plenum.is_usable,
        "structure_known": plenum.is_known,
        "keepers": [_keeper(plenum, k, floor) for k in range(min(len(plenum.keepers), MOST_KEEPERS))],
        "through": list(plenum.through),
        "walls_below": [{"name": name, "top_mm": _mm(top - floor)} for name, top in plenum.lower_walls],
    }


def _keeper(plenum: Plenum, index: int, floor: float) -> dict[str, Any]:
    keeper: Keeper = plenum.keepers[index]
    after = plenum.without(index + 1)
    highest = plenum.highest
    return {
        "key": keeper.key,
        "kind": keeper.kind.value,
        "name": keeper.name,
        "level_mm": _mm(keeper.level - floor),
        "underside_mm": _mm(keeper.bottom - floor),
        "clearance_mm": _mm(keeper.need),
        "rule": keeper.rule,
        "source": keeper.source,
        "device": keeper.device,
        "point_mm": [_mm(keeper.spot[0]), _mm(keeper.spot[1]), _mm(keeper.bottom)],
        "without_mm": None if after is None else _mm(after - floor),
        "gain_mm": None if after is None or highest is None else _mm(after - highest),
    }


def _plain(cell: object) -> object:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell


def _cell(value: Any) -> object:
    return "" if value is None else value


def tabulate_plenum(record: Mapping[str, Any]) -> str:
    """The study as CSV with a head line, one line a room; heights in mm above the room's floor."""
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(_HEAD)
    for room in record["rooms"]:
        first, second = (*room["keepers"][:2], None, None)[:2]
        keeper = first or {}
        row = (
            *(room[k] for k in ("storey", "number", "name", "key", "ceiling_mm", "highest_mm", "spare_mm")),
            *(keeper.get(k) for k in ("name", "key", "kind", "rule", "clearance_mm", "underside_mm")),
            *(keeper.get(k) for k in ("device", "without_mm", "gain_mm")),
            second["name"] if second else "",
            *("yes" if room["built_and_judged"] else "no", room["held_by"]),
            "yes" if room["structure_known"] else "no",
            "; ".join(f"{wall['name']} {wall['top_mm']:g}" for wall in room["walls_below"]),
            keeper.get("source"),
        )
        table.writerow(_plain(_cell(cell)) for cell in row)
    return stream.getvalue()


def _clean(text: Any, width: int = 26) -> str:
    shown = "".join(c if c.isprintable() else "?" for c in str(text))
    return shown if len(shown) <= width else shown[: width - 2] + ".."


def _units(record: Mapping[str, Any]) -> str:
    """How lengths are told: as the model's own unit is."""
    unit = str(record["model"].get("unit", "")).lower()
    return "ft-in" if "foot" in unit or "inch" in unit else "mm"


def _length(value: float | None, units: str, sign: bool = False) -> str:
    if value is None:
        return "-"
    if units == "mm":
        return f"{value:+.0f}" if sign else f"{value:.0f}"
    return ("+" if sign and value > 0 else "") + format_feet_inches(value)


def format_plenum(record: Mapping[str, Any]) -> str:
    """The study for a terminal: a table a storey, heights above the floor in mm, or in feet and inches."""
    units = _units(record)
    head = ("Room", "Name", "Now", "Highest", "Spare", "Governed by", "Needs", "for", "Then", "Gain")
    lines: list[str] = []
    storeys: dict[str, list[Mapping[str, Any]]] = {}
    for room in record["rooms"]:
        storeys.setdefault(str(room["storey"] or "no storey"), []).append(room)
    for storey, rooms in storeys.items():
        rows = [_text_row(room, units) for room in rooms]
        widths = [max(len(row[k]) for row in (head, *rows)) for k in range(len(head))]
        rule = tuple("-" * width for width in widths)
        lines += ["", _clean(storey, 60)]
        for row in (head, rule, *rows):
            lines.append("  ".join(_aligned(cell, widths[k], k) for k, cell in enumerate(row)).rstrip())
    lines += _notes(record["rooms"], units)
    if record["outputs"]:
        lines += ["", "Written", *(f"  {_clean(path, 200)}" for path in record["outputs"])]
    lines += [
        "",
        f"Heights {'in mm ' if units == 'mm' else ''}above the floor. Now: as it is; Highest: clear "
        "of structure, services, tilt-in and devices; Then: without what governs.",
        "Geometry of the models only. Local codes, the authority having jurisdiction and a registered design "
        "professional decide; fire, sound and smoke are not looked at.",
    ]
    return "\n".join(lines).lstrip("\n")


def _down(value: float | None, units: str) -> float | None:
    """A height to what is printed, never higher than it is."""
    step = 1.0 if units == "mm" else float(INCH) / 16
    return None if value is None else math.floor((value + tolerance.LENGTH) / step) * step


def _told(sentence: str, units: str) -> str:
    text = _clean(sentence, 240)
    return in_feet_and_inches(text) if units == "ft-in" else text


def _aligned(cell: str, width: int, column: int) -> str:
    return cell.rjust(width) if column in (2, 3, 4, 6, 8, 9) else cell.ljust(width)


def _text_row(room: Mapping[str, Any], units: str) -> tuple[str, ...]:
    first = room["keepers"][0] if room["keepers"] else None
    mark = "" if room["built_and_judged"] or first is None else " ?"
    told = ("-",) * 5
    if first is not None:
        what = f"{first['kind']} {_clean(first['name'] or first['key'])}"
        told = (
            what,
            *(_length(first["clearance_mm"], units), first["rule"]),
            *(_length(first["without_mm"], units), _length(first["gain_mm"], units, sign=True)),
        )
    return (
        *(_clean(room["number"] or "-", 12), _clean(room["name"])),
        *(
            _length(room["ceiling_mm"], units),
            _length(_down(room["highest_mm"], units), units) + mark,
            _length(room["spare_mm"], units, sign=True),
        ),
        *told,
    )


def _notes(rooms: Sequence[Mapping[str, Any]], units: str) -> list[str]:
    lines = []
    for room in rooms:
        title = " ".join(filter(None, (_clean(room["number"], 12), _clean(room["name"]))))
        if room["held_by"]:
            lines.append(f"  {title}: higher, {_told(room['held_by'], units)}")
        if not room["is_usable"]:
            lines.append(f"  {title}: that is lower than people need")
        if not room["structure_known"]:
            lines.append(f"  {title}: the models have no structure over part of it; more may be there")
        if room["walls_below"]:
            wall = room["walls_below"][0]
            more = f" and {len(room['walls_below']) - 1} more" if len(room["walls_below"]) > 1 else ""
            top = _length(wall["top_mm"], units)
            lines.append(f"  {title}: wall {_clean(wall['name'])} ends at {top}{more}, below it")
        if room["through"]:
            lines.append(f"  {title}: {len(room['through'])} things go through it at every usable height")
    return ["", "Notes", *lines] if lines else []
