"""A floor of many rooms for measuring and testing the floor report, with names that try to be markup."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache

from shapely import Polygon, affinity, box

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.room import CeilingHeight, HeightEvidence, HeightSource, Room, SkippedRoom, Zone
from ifcgrid.outputs.report import FloorReport
from ifcgrid.outputs.setout import draw_setout
from ifcgrid.pipeline import take_off
from ifcgrid.pipeline.flow import hang_ceiling
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

__all__ = ["HOSTILE", "make_floor"]

HOSTILE = ("<script>alert(1)</script>", "=1+1", "]]>&amp;\"'</template></svg>", "x" * 120, "\u202eإسم ‮ \x07")
"""Names that a model may hold and that no page may take for anything but names."""

_SHAPES: tuple[Polygon, ...] = (
    box(0, 0, 5800, 4300),
    box(0, 0, 6000, 4800),
    Polygon([(0, 0), (5900, 0), (5900, 2600), (3400, 2600), (3400, 4700), (0, 4700)]),
    box(0, 0, 2400, 4700),
    Polygon(box(0, 0, 5700, 4600).exterior, [box(2500, 2000, 2900, 2400).exterior]),
    Polygon([(0, 0), (6000, 0), (5200, 4700), (0, 4500)]),
)
_SYSTEMS = ("lay-in-600x600", "lay-in-600x1200")
_PITCH = (6200.0, 5000.0)
_COLUMNS = 20
_LEVEL = 2700.0
_STAMP = {"model": "floor.ifc", "sha256": "0" * 16, "library": "ifcgrid"}


def _room(key: str, number: str, name: str, outline: Polygon) -> Room:
    height = CeilingHeight(
        value=_LEVEL,
        source=HeightSource.PROPERTY,
        candidates=(HeightEvidence(source=HeightSource.PROPERTY, value=_LEVEL, where="made up"),),
    )
    return Room(
        key=key,
        name=name,
        number=number,
        storey="Level 1",
        storey_key="storey",
        section=outline,
        outline=outline,
        floor=0.0,
        top=3200.0,
        height=height,
    )


def _lights(shape: Polygon, key: str) -> list[Obstacle]:
    x, y = shape.centroid.coords[0]
    outline = box(x - 300, y - 300, x + 300, y + 300)
    slab = box(-1e6, -1e6, 1e6, 1e6)
    return [
        Obstacle(
            key=f"light {key}", kind=Kind.LIGHT, name="Light", outline=outline, bottom=2690.0, top=2790.0
        ),
        Obstacle(key="slab", kind=Kind.SLAB, name="Slab", outline=slab, bottom=3200.0, top=3400.0),
    ]


@lru_cache(maxsize=1)
def _models() -> tuple[Ceiling, ...]:
    """One ceiling a shape."""
    policy = read_policy("half-module")
    made = []
    for k, shape in enumerate(_SHAPES):
        room = _room(f"model {k}", str(k), "", shape)
        zone = Zone(key=room.key, rooms=(room,), outline=shape, level=_LEVEL)
        made.append(hang_ceiling(zone, read_system(_SYSTEMS[k % 2]), policy, _lights(shape, str(k))))
    return tuple(made)


def _copy(ceiling: Ceiling, room: Room, dx: float, dy: float) -> Ceiling:
    """The same ceiling in another room: all its parts are local to its frame."""
    frame = ceiling.layout.frame
    moved = Frame(x=frame.x + dx, y=frame.y + dy, angle_deg=frame.angle_deg)
    borders = tuple(
        replace(b, start=(b.start[0] + dx, b.start[1] + dy), end=(b.end[0] + dx, b.end[1] + dy))
        for b in ceiling.layout.borders
    )
    zone = Zone(key=room.key, rooms=(room,), outline=room.outline, level=_LEVEL)
    return replace(ceiling, zone=zone, layout=replace(ceiling.layout, frame=moved, borders=borders))


def _findings(place: int, room: Room) -> Iterator[Finding]:
    x, y = room.outline.centroid.coords[0]
    if place % 3 == 0:
        yield Finding(
            rule="wall-in-room",
            source="common practice, no source",
            clause="",
            verdict=Verdict.FAIL,
            room=room.key,
            subjects=("slab",),
            message=f"wall '{room.name}' stands in room {room.number}; 120 mm of it are in the grid",
            value=120.0 + place,
            limit=0.0,
            unit="mm",
            point=(x + 700.0, y + 500.0, _LEVEL),
        )
    if place % 5 == 0:
        yield Finding(
            rule="hanger-without-structure",
            source="common practice, no source",
            clause="",
            verdict=Verdict.UNKNOWN,
            room=room.key,
            subjects=(),
            message=f"hangers of room {room.number} have no structure above them",
        )


def make_floor(count: int = 200, *, has_own_sheets: bool = False) -> FloorReport:
    """A storey of `count` rooms in rows, every third with a finding that fails, some without a ceiling.

    Args:
        count: how many rooms.
        has_own_sheets: draw every room's set-out sheet; else rooms of one shape share one, which is
            quicker and makes a file of the same size.
    """
    models = _models()
    drawn = [draw_setout(model, stamp=_STAMP, obstacles=[]) for model in models]
    ceilings: list[Ceiling] = []
    findings: list[Finding] = []
    obstacles: list[Obstacle] = []
    skipped: list[SkippedRoom] = []
    sheets: dict[str, str] = {}
    shapes: dict[str, Polygon] = {}
    for place in range(count):
        kind, key, number = place % len(models), f"room${place:03}", f"{100 + place}"
        dx, dy = (place % _COLUMNS) * _PITCH[0], (place // _COLUMNS) * _PITCH[1]
        outline = affinity.translate(_SHAPES[kind], dx, dy)
        name = HOSTILE[place] if place < len(HOSTILE) else f"Study {place}"
        if place % 29 == 8:
            reason = f"a stair, by its name '{name}'"
            skipped.append(
                SkippedRoom(
                    key=key, name=name, number=number, storey="Level 1", status="skipped", reason=reason
                )
            )
            shapes[key] = outline
            continue
        room = _room(key, number, name, outline)
        ceiling = _copy(models[kind], room, dx, dy)
        ceilings.append(ceiling)
        findings += _findings(place, room)
        obstacles += _lights(outline, key)[:1]
        sheets[key] = draw_setout(ceiling, stamp=_STAMP, obstacles=[]) if has_own_sheets else drawn[kind]
    return FloorReport(
        title="floor of <b>200</b> rooms",
        stamp={"Model": "floor.ifc, invented", "Made by": "ifcgrid"},
        origin="Invented for trials.",
        ceilings=ceilings,
        skipped=skipped,
        findings=findings,
        obstacles=obstacles,
        shapes=shapes,
        sheets=sheets,
        take_off=take_off(ceilings),
        north_deg=80.0,
    )
