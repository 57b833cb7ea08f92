"""Known rooms: panels, members and hangers against counts that anybody can count on a plan.

The room of 13 ft 7 in by 10 ft 4 in and the rules (opposite borders equal and as large as
possible; mains 4 ft apart, tees between them) stand in NAVEDTRA 14044, Builder, p. 5-16 and
5-17; the counts follow from them on paper. Hangers: at most 4 ft apart along a main
(NAVEDTRA 14044 p. 5-17) and 8 in from its ends (NWCB 401, second-hand). The other rooms are
derived, as said beside them.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from handmade_lattices import make_layout, make_zone
from shapely import Polygon, box

from ifcgrid.design.framing import place_members
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.suspension import place_hangers
from ifcgrid.domain.ceiling import Hangers, Members, Panels, Role
from ifcgrid.systems import read_system

INCH = 25.4
NAVY = box(0, 0, 163 * INCH, 124 * INCH)
TWELVE_BY_TEN = box(0, 0, 144 * INCH, 120 * INCH)
COLUMN_ROOM = box(0, 0, 240 * INCH, 192 * INCH) - box(111 * INCH, 87 * INCH, 129 * INCH, 105 * INCH)


@dataclass(frozen=True, kw_only=True)
class Case:
    room: Polygon
    system: str
    node: tuple[float, float]  # in inches, a node on a main
    angle: float = 0.0
    full: int
    cut: int
    mains: dict[float, int]  # length in inches: number
    cross_tees: dict[float, int]
    second_tees: dict[float, int]
    hangers: int


CASES = {
    "2 x 4 ft, mains along 13 ft 7 in": Case(
        room=NAVY,
        system="lay-in-2x4-ft",
        node=(21.5, 38),
        full=5,
        cut=16,
        mains={163: 2},
        cross_tees={48: 6, 38: 12},
        second_tees={},
        hangers=10,
    ),
    "2 x 2 ft, mains along 13 ft 7 in": Case(
        room=NAVY,
        system="lay-in-2x2-ft",
        node=(21.5, 38),
        full=20,
        cut=22,
        mains={163: 2},
        cross_tees={48: 6, 38: 12},
        second_tees={24: 15, 21.5: 6},
        hangers=10,
    ),
    "2 x 4 ft, mains along 10 ft 4 in": Case(
        room=NAVY,
        system="lay-in-2x4-ft",
        node=(33.5, 14),
        angle=90,
        full=8,
        cut=16,
        mains={124: 3},
        cross_tees={48: 10, 33.5: 10},
        second_tees={},
        hangers=12,
    ),
    "2 x 2 ft, mains along 10 ft 4 in": Case(
        room=NAVY,
        system="lay-in-2x2-ft",
        node=(21.5, 14),
        angle=90,
        full=20,
        cut=22,
        mains={124: 3},
        cross_tees={48: 10, 21.5: 5, 45.5: 5},
        second_tees={24: 12, 14: 6},
        hangers=12,
    ),
    # 12 x 10 ft; derived. Exact both ways: no cut panel, no line on a wall.
    "12 x 10 ft in 2 x 2 ft": Case(
        room=TWELVE_BY_TEN,
        system="lay-in-2x2-ft",
        node=(0, 48),
        full=30,
        cut=0,
        mains={144: 2},
        cross_tees={48: 10, 24: 5},
        second_tees={24: 12},
        hangers=8,
    ),
    "12 x 10 ft in 2 x 4 ft, long side along 12 ft": Case(
        room=TWELVE_BY_TEN,
        system="lay-in-2x4-ft",
        node=(48, 0),
        angle=90,
        full=15,
        cut=0,
        mains={120: 2},
        cross_tees={48: 12},
        second_tees={},
        hangers=8,
    ),
    "12 x 10 ft in 2 x 4 ft, long side along 10 ft": Case(
        room=TWELVE_BY_TEN,
        system="lay-in-2x4-ft",
        node=(0, 36),
        full=6,
        cut=12,
        mains={144: 2},
        cross_tees={48: 5, 36: 10},
        second_tees={},
        hangers=8,
    ),
    # 20 x 16 ft with an 18 in column in the middle; derived.
    "a joint on the middle of a column": Case(
        room=COLUMN_ROOM,
        system="lay-in-2x2-ft",
        node=(0, 0),
        full=76,
        cut=4,
        mains={240: 2, 111: 2},
        cross_tees={48: 34, 39: 2},
        second_tees={24: 40},
        hangers=18,
    ),
}


def _lay_out(case: Case) -> tuple[Panels, Members, Hangers]:
    system = read_system(case.system)
    zone = make_zone(case.room)
    layout = make_layout(
        case.room,
        system.along,
        system.across,
        node=(case.node[0] * INCH, case.node[1] * INCH),
        angle=case.angle,
        main_every=system.main_every,
    )
    members = place_members(zone, system, layout)
    return cut_panels(zone, layout), members, place_hangers(zone, system, layout, members)


def _lengths(members: Members, role: Role) -> dict[float, int]:
    return dict(Counter(np.round(members.length[members.role == role] / INCH, 6).tolist()))


@pytest.mark.parametrize("name", CASES)
def test_panels_members_and_hangers_are_those_on_the_plan(name: str) -> None:
    case = CASES[name]
    panels, members, hangers = _lay_out(case)
    assert (int(panels.is_full.sum()), int((~panels.is_full).sum())) == (case.full, case.cut)
    assert panels.area.sum() == pytest.approx(case.room.area, rel=1e-12)
    assert _lengths(members, Role.MAIN_RUNNER) == case.mains
    assert _lengths(members, Role.CROSS_TEE) == case.cross_tees
    assert _lengths(members, Role.SECOND_TEE) == case.second_tees
    angle = members.length[members.role == Role.WALL_ANGLE]
    assert angle.sum() == pytest.approx(case.room.length, rel=1e-12)
    assert len(hangers) == case.hangers


def test_the_panels_beside_the_column_keep_495_square_inches() -> None:
    panels, _, _ = _lay_out(CASES["a joint on the middle of a column"])
    assert (panels.area[~panels.is_full] / INCH**2).tolist() == pytest.approx([495.0] * 4)
    assert sorted(panels.outlines) == np.flatnonzero(~panels.is_full).tolist()


def test_a_metric_room_of_88_panels() -> None:
    # 6100 x 4270 mm in 600 mm, borders 350 and 335, mains at 935, 2135 and 3335; derived.
    room, system = box(0, 0, 6100, 4270), read_system("lay-in-600x600")
    zone = make_zone(room)
    layout = make_layout(room, 600, 600, node=(350, 935), main_every=2)
    panels, members = cut_panels(zone, layout), place_members(zone, system, layout)
    border = (panels.bounds[:, 2:] - panels.bounds[:, :2]) < 599
    assert len(panels) == 88
    assert Counter(border.sum(axis=1).tolist()) == {0: 54, 1: 30, 2: 4}
    mains = members.role == Role.MAIN_RUNNER
    assert layout.frame.to_world(members.start[mains])[:, 1].tolist() == [935.0, 2135.0, 3335.0]
    assert members.length[mains].tolist() == [6100.0] * 3
    assert Counter(members.length[members.role == Role.CROSS_TEE].tolist()) == {1200.0: 20, 935.0: 20}
    assert Counter(members.length[members.role == Role.SECOND_TEE].tolist()) == {600.0: 36, 350.0: 8}
    assert members.length[members.role == Role.WALL_ANGLE].sum() == 20740.0


@pytest.mark.parametrize(("node", "full", "cut"), [((0, 0), 60, 28), ((300, 300), 61, 40)])
def test_a_round_room_of_3_m_radius(node: tuple[float, float], full: int, cut: int) -> None:
    # Derived by analysis. The node (1800, 2400) lies on the circle: the cell beyond it, which
    # is touched there only, is no panel.
    turns = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    points = 3000 * np.stack([np.cos(turns), np.sin(turns)], axis=1)
    room = Polygon(np.vstack([points, [[1800, 2400], [-1800, 2400], [-1800, -2400], [1800, -2400]]]))
    room = shapely.convex_hull(room)
    panels = cut_panels(make_zone(room), make_layout(room, 600, 600, node=node))
    assert (int(panels.is_full.sum()), int((~panels.is_full).sum())) == (full, cut)
    assert panels.area.sum() == pytest.approx(room.area, rel=1e-12)


def test_an_l_shaped_room_on_the_module_needs_no_cut_panel() -> None:
    # Corners at (0,0) (240,0) (240,120) (144,120) (144,192) (0,192) in, 24 in panels; derived: 68 full.
    corners = [(0, 0), (240, 0), (240, 120), (144, 120), (144, 192), (0, 192)]
    room = Polygon([(x * INCH, y * INCH) for x, y in corners])
    panels = cut_panels(make_zone(room), make_layout(room, 24 * INCH, 24 * INCH))
    assert len(panels) == 68
    assert panels.is_full.all()


def test_a_column_on_the_middle_of_a_tile_leaves_a_ring() -> None:
    # The same 18 in column with the tile on its middle: 62 full and 37 cut; derived.
    room = COLUMN_ROOM
    panels = cut_panels(make_zone(room), make_layout(room, 24 * INCH, 24 * INCH, node=(12 * INCH, 12 * INCH)))
    assert (int(panels.is_full.sum()), int((~panels.is_full).sum())) == (62, 37)
    rings = [shape for shape in panels.outlines.values() if shape.interiors]
    assert [ring.area / INCH**2 for ring in rings] == pytest.approx([24**2 - 18**2])


@pytest.mark.parametrize(("length", "count"), [(163, 5), (124, 4), (16, 1), (16.1, 2), (64, 2), (64.1, 3)])
def test_hangers_on_a_main_at_8_and_48_inches(length: float, count: int) -> None:
    # ceil((L - 16) / 48) + 1 for L > 16 in, else one in the middle.
    room, system = box(0, 0, length * INCH, 60 * INCH), read_system("lay-in-2x4-ft")
    zone = make_zone(room)
    layout = make_layout(room, system.along, system.across, node=(0, 30 * INCH))
    hangers = place_hangers(zone, system, layout, place_members(zone, system, layout))
    assert len(hangers) == count
