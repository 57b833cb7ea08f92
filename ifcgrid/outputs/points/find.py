"""The points of ceilings that are marked by instrument, under the numbers of the set-out sheets.

A name is the room's number, a dash and what it is on the room's sheet: `003-H12` is hanger
H12, `003-AB` the corner of walls A and B, `003-D4` device D4.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.hanging import HangerKind
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.points import PointRole, SetPoint
from ifcgrid.domain.room import Room
from ifcgrid.outputs.setout.control import SetOut, plan_setout
from ifcgrid.outputs.setout.devices import find_devices
from ifcgrid.outputs.setout.lists import hanger_numbers

__all__ = ["find_points"]

_LONGEST_NUMBER = 10
"""Letters of a room's number in a name, so that a name keeps within the 16 that many instruments take
(common practice, no source)."""

_KINDS = {
    HangerKind.STRAIGHT: "",
    HangerKind.SPLAYED: "splayed",
    HangerKind.COUNTER: "counter splayed",
    HangerKind.TRAPEZE: "on trapeze bar",
}

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Place:
    """A ceiling with what names its points: for each room its prefix."""

    ceiling: Ceiling
    prefixes: tuple[str, ...]

    def point(
        self, name: str, role: PointRole, local: Array, z: float, note: str, room: int | None = None
    ) -> SetPoint:
        """A point at a local place, in the room that it belongs to or lies in."""
        x, y = self.ceiling.layout.frame.to_world(np.asarray(local, dtype=float)[None])[0].tolist()
        index = self._room_at(x, y) if room is None or not 0 <= room < len(self.prefixes) else room
        return SetPoint(
            name=f"{self.prefixes[index]}-{name}",
            role=role,
            room=self.ceiling.zone.rooms[index].key,
            x=x,
            y=y,
            z=float(z),
            note=f"{role.value} {self.prefixes[index]} {note}".strip(),
        )

    def _room_at(self, x: float, y: float) -> int:
        rooms = self.ceiling.zone.rooms
        if len(rooms) == 1:
            return 0
        return int(np.argmin(shapely.distance([r.outline for r in rooms], shapely.Point(x, y))))


def find_points(
    ceilings: Sequence[Ceiling], obstacles: Sequence[Sequence[Obstacle]] = ()
) -> tuple[SetPoint, ...]:
    """All points of all ceilings, ceiling by ceiling, names unique.

    Args:
        ceilings: all ceilings of a model, so that names do not depend on which are wanted.
        obstacles: for each ceiling those near it; they tell what devices are.
    """
    found: list[SetPoint] = []
    near = obstacles or [()] * len(ceilings)
    for place, around in zip(_places(ceilings), near, strict=True):
        setout = plan_setout(place.ceiling)
        found += _corners(place, setout)
        found += _grid(place, setout)
        found += _hangers(place)
        found += _trapezes(place)
        found += _braces(place)
        found += _devices(place, around)
    return tuple(found)


def _places(ceilings: Sequence[Ceiling]) -> list[_Place]:
    """Prefixes that no two ceilings share: the room's number, with its storey where that is not enough."""
    every = [[_plain(r) for r in c.zone.rooms] for c in ceilings]
    uses: dict[str, set[int]] = {}
    for k, names in enumerate(every):
        for name in names:
            uses.setdefault(name, set()).add(k)
    taken: set[str] = set()
    places = []
    for ceiling, names in zip(ceilings, every, strict=True):
        own: dict[str, str] = {}
        for room, name in zip(ceiling.zone.rooms, names, strict=True):
            if name not in own:
                own[name] = _free(name if len(uses[name]) == 1 else f"{_initials(room)}.{name}", taken)
        taken |= {prefix.casefold() for prefix in own.values()}
        places.append(_Place(ceiling=ceiling, prefixes=tuple(own[name] for name in names)))
    return places


def _free(name: str, taken: set[str]) -> str:
    count, free = 1, name
    while free.casefold() in taken:
        count += 1
        free = f"{name}.{count}"
    return free


def _ascii(text: str) -> str:
    """Letters, digits and dots: what instruments take, and no spreadsheet or shell acts upon."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^A-Za-z0-9]+", ".", plain).strip(".")


def _plain(room: Room) -> str:
    return (_ascii(room.number) or _ascii(room.name) or _ascii(room.key))[:_LONGEST_NUMBER].strip(".") or "R"


def _initials(room: Room) -> str:
    """Ground floor: GF; Level 02: L02."""
    words = _ascii(room.storey).split(".")
    return "".join(w if w.isdigit() else w[:1].upper() for w in words)[:4] or "S"


def _corners(place: _Place, setout: SetOut) -> Iterator[SetPoint]:
    """The corners of the outer walls, named by the walls that meet there."""
    ceiling = place.ceiling
    walls = [wall for wall in setout.walls if wall.ring == 0]
    if len(walls) < 2:
        return
    for one, following in zip(walls, [*walls[1:], walls[0]], strict=True):
        letters = one.letter + ("" if len(one.letter + following.letter) == 2 else ".") + following.letter
        note = f"corner of walls {one.letter} and {following.letter} at ceiling level"
        yield place.point(letters, PointRole.CHECK, following.points[0], ceiling.zone.level, note)


def _grid(place: _Place, setout: SetOut) -> Iterator[SetPoint]:
    """Ends and crossing of the strings, first main on first tee line, corners of the largest full field."""
    z = place.ceiling.zone.level
    for line in setout.lines:
        for end, at in (("A", line.start), ("B", line.end)):
            note = f"string {line.number} end {end}"
            yield place.point(f"S{line.number}{end}", PointRole.GRID, np.array(at), z, note)
    if len(setout.lines) == 2:
        first, second = setout.lines
        cross = np.array([second.at, first.at])
        yield place.point("S12", PointRole.GRID, cross, z, "strings 1 and 2 cross")
        if setout.first_tee is not None:
            meet = np.array([setout.first_tee, first.member])
            yield place.point("MT", PointRole.GRID, meet, z, "first main on first tee line")
    if (field := setout.field) is not None:
        layout = place.ceiling.layout
        low = np.array([field.column * layout.along, field.row * layout.across])
        high = low + np.array([field.columns * layout.along, field.rows * layout.across])
        ends = ((low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1]))
        for k, corner in enumerate(ends, start=1):
            note = f"corner {k} of {field.columns} x {field.rows} full panels"
            yield place.point(f"F{k}", PointRole.GRID, np.array(corner), z, note)


def _hangers(place: _Place) -> Iterator[SetPoint]:
    """Where each hanger is fixed above; where nothing is known there, where it meets the main."""
    hangers = place.ceiling.hangers
    tops, kinds = hangers.top_points, hangers.kinds
    for k, name in enumerate(hanger_numbers(place.ceiling)):
        is_known = bool(np.isfinite(hangers.top[k]))
        kind = _KINDS[HangerKind(int(kinds[k]))]
        words = [kind, "hanger fixing" if is_known else "hanger at the main; soffit not known"]
        yield place.point(
            name,
            PointRole.HANGER,
            tops[k] if is_known else hangers.point[k],
            hangers.top[k] if is_known else hangers.bottom[k],
            " ".join(filter(None, words)),
            int(hangers.room[k]),
        )


def _trapezes(place: _Place) -> Iterator[SetPoint]:
    """The fixings of the two rods of each bar."""
    bars = place.ceiling.trapezes
    for k in range(0 if bars is None else len(bars)):
        assert bars is not None
        for end, letter in enumerate("ab"):
            is_known = bool(np.isfinite(bars.top[k, end]))
            yield place.point(
                f"T{k + 1}{letter}",
                PointRole.TRAPEZE,
                bars.ends[k, end],
                bars.top[k, end] if is_known else bars.z[k],
                f"trapeze {k + 1} rod {letter}" + ("" if is_known else "; soffit not known"),
            )


def _braces(place: _Place) -> Iterator[SetPoint]:
    """Of every brace set its foot, the top of its post and the fixings of its wires."""
    braces = place.ceiling.braces
    for k in range(0 if braces is None else len(braces)):
        assert braces is not None
        z, foot = place.ceiling.zone.level, braces.point[k]
        name = f"B{k + 1}"
        yield place.point(name, PointRole.BRACE, foot, z, f"brace set {k + 1} foot")
        if np.isfinite(braces.post_top[k]):
            note = f"brace set {k + 1} post top"
            yield place.point(f"{name}P", PointRole.BRACE, foot, braces.post_top[k], note)
        for number, top in enumerate(braces.wire_top[k], start=1):
            if np.isfinite(top).all():
                note = f"brace set {k + 1} wire {number} fixing"
                yield place.point(f"{name}W{number}", PointRole.BRACE, top[:2], top[2], note)


def _devices(place: _Place, around: Sequence[Obstacle]) -> Iterator[SetPoint]:
    """The middle of every device under its number on the sheet, then the fixings of devices' wires."""
    ceiling = place.ceiling
    numbers: dict[tuple[float, ...], int] = {}
    for device in find_devices(ceiling, around):
        if device.ring is not None:
            numbers[_middle(device.ring)] = device.number
        note = f"middle of {device.kind}" + (" where it stands; off its seat" if device.move else "")
        name = f"D{device.number}"
        yield place.point(name, PointRole.DEVICE, device.point, ceiling.zone.level, note)
    number = {
        o.key: numbers[_middle(np.asarray(o.outline.exterior.coords)[:-1, :2])] for o in ceiling.openings
    }
    wires = ceiling.wires
    for k in range(0 if wires is None else len(wires)):
        assert wires is not None
        if wires.device[k] in number and np.isfinite(wires.top[k]):
            name = f"D{number[wires.device[k]]}W{int(wires.number[k])}"
            note = f"device wire fixing{' slack' if wires.is_slack[k] else ''}"
            yield place.point(name, PointRole.WIRE, wires.point[k], wires.top[k], note)


def _middle(ring: Array) -> tuple[float, ...]:
    """What tells one opening from another: the middle of its corners."""
    return tuple(np.round(ring.mean(axis=0), 3).tolist())
