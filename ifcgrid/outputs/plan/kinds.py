"""The kinds of ceiling on a plan, C1, C2 ..., and what each room's tag says."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.outputs.paper.dimension import format_length, told
from ifcgrid.outputs.plan.content import Storey
from ifcgrid.outputs.plan.tag import Wish

__all__ = ["CeilingKinds", "ceiling_wishes", "find_kinds", "omitted_wishes"]

_NUMBER = re.compile(r"[\s:#_.-]*\d[\d\s:#_.-]*$")

_MOST_NAMES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class CeilingKinds:
    """The mark of each ceiling by its key, and one line a kind: its system and its finish."""

    mark: Mapping[str, str]
    finish: Mapping[str, str]
    lines: Sequence[str]


def _own_name(ceiling: Ceiling) -> str | None:
    """What the model calls the ceiling that was kept, without its number; None where none was."""
    names = [room.covering.name for room in ceiling.zone.rooms if room.covering is not None]
    # Many programs end a ceiling's name with its own number or its room's.
    return (_NUMBER.sub("", names[0]) or names[0]) if names else None


def _finish(ceiling: Ceiling, is_named: bool) -> str:
    name = _own_name(ceiling)
    if name is None:
        return f"lay-in panels {ceiling.system.panel_thickness:g} mm thick, else not in the model"
    return f"as the model's ceiling '{name}'" if name and is_named else "as the model's own ceiling there"


def find_kinds(ceilings: Sequence[Ceiling], units: str) -> CeilingKinds:
    """Ceilings of one system and one finish are of one kind, numbered as they first occur.

    Where the model calls nearly each of its ceilings by another name, the names tell no kinds.
    """
    seen: dict[tuple[str, str], str] = {}
    mark, finish, lines = {}, {}, []
    is_named = len({_own_name(ceiling) for ceiling in ceilings} - {None}) <= _MOST_NAMES
    for ceiling in ceilings:
        kind = (ceiling.system.id, told(_finish(ceiling, is_named), units))
        if kind not in seen:
            seen[kind] = f"C{len(seen) + 1}"
            lines.append(f"{seen[kind]}: {ceiling.system.title}. Finish: {kind[1]}.")
        mark[ceiling.key], finish[ceiling.key] = seen[kind], kind[1]
    return CeilingKinds(mark=mark, finish=finish, lines=tuple(lines))


def ceiling_wishes(ceiling: Ceiling, kinds: CeilingKinds, units: str) -> Iterator[Wish]:
    """What the tags of a ceiling's rooms say."""
    for room in ceiling.zone.rooms:
        lines = [("NUMBER", room.number or room.name or room.key)]
        if room.number and room.name:
            lines.append(("NAME", room.name))
        height = format_length(ceiling.zone.level - room.floor, units)
        lines.append(("CEILING", f"+{height}  {kinds.mark[ceiling.key]}"))
        shape = room.outline if len(ceiling.zone.rooms) > 1 else ceiling.zone.outline
        yield Wish(
            room=room.key,
            outline=shape,
            lines=tuple(lines),
            facts=(
                ("SYSTEM", ceiling.system.title),
                ("FINISH", kinds.finish[ceiling.key]),
                ("ROOM_NAME", room.name),
                ("STOREY", room.storey),
                ("GLOBALID", room.key),
            ),
            zone=ceiling.key,
        )


def omitted_wishes(storey: Storey) -> Iterator[Wish]:
    """What the tags of rooms without a ceiling say, where their outline is known."""
    for omitted in storey.omitted:
        if omitted.outline is not None:
            name = omitted.name if omitted.number else ""
            lines = (("NUMBER", omitted.number or omitted.name), ("NAME", name), ("CEILING", "no ceiling"))
            yield Wish(room="", outline=omitted.outline, lines=tuple(line for line in lines if line[1]))
