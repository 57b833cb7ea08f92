from __future__ import annotations

import numpy as np
import pytest
from handmade_lattices import LEVEL, make_layout, make_room, make_zone
from shapely import MultiPolygon, Point, Polygon, affinity, box

from ifcgrid.design.devices import fit_devices
from ifcgrid.design.seating import ask_devices, find_held
from ifcgrid.domain.ceiling import Opening
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

ROOM = box(0, 0, 4800, 3600)


def _device(
    outline: Polygon | MultiPolygon,
    bottom: float = LEVEL,
    top: float = LEVEL + 100,
    key: str = "D",
    kind: Kind = Kind.LIGHT,
    mesh: np.ndarray | None = None,
) -> Obstacle:
    return Obstacle(key=key, kind=kind, name=key, outline=outline, bottom=bottom, top=top, mesh=mesh)


def _at(u: float, v: float, width: float, depth: float) -> Polygon:
    return box(u - width / 2, v - depth / 2, u + width / 2, v + depth / 2)


def _fit(
    *devices: Obstacle, along: float = 600, across: float = 600, room: Polygon = ROOM
) -> tuple[Opening, ...]:
    layout = make_layout(room, along, across, main_every=2 if across == 600 else 1)
    return fit_devices(make_zone(room), layout, devices, LEVEL)


@pytest.mark.parametrize(
    ("centre", "size", "cells"),
    [
        ((900, 900), (595, 595), (1, 1, 1, 1)),
        ((903, 898), (595, 595), (1, 1, 1, 1)),
        ((1200, 900), (1195, 595), (1, 1, 2, 1)),
        ((900, 600), (595, 1195), (1, 0, 1, 2)),
        ((900, 900), (575, 600), (1, 1, 1, 1)),
    ],
)
def test_a_device_that_fills_cells_is_lay_in(
    centre: tuple[float, float], size: tuple[float, float], cells: tuple[int, int, int, int]
) -> None:
    (opening,) = _fit(_device(_at(*centre, *size)))
    assert opening.is_lay_in
    assert opening.cells == cells
    assert opening.outline.area == pytest.approx(size[0] * size[1])


@pytest.mark.parametrize(
    ("centre", "size", "why"),
    [
        ((900, 900), (609.6, 609.6), "24 in do not go into 600 mm"),
        ((900, 900), (300, 300), "loose in the cell"),
        ((920, 900), (595, 595), "17.5 mm over a tee"),
        ((1200, 900), (595, 595), "half a cell off"),
        ((900, 1200), (595, 1195), "a main goes through it"),
        ((4500, 3300), (595, 595), "in a cell that a wall cuts"),
    ],
)
def test_any_other_device_is_cut_into_the_panels(
    centre: tuple[float, float], size: tuple[float, float], why: str
) -> None:
    room = box(0, 0, 4790, 3590)
    (opening,) = _fit(_device(_at(*centre, *size)), room=room)
    assert not opening.is_lay_in, why
    assert opening.cells is None
    assert room.buffer(1e-6).covers(opening.outline)


def test_a_nominal_24_in_device_of_603_mm_lies_in_a_24_in_cell() -> None:
    (opening,) = _fit(_device(_at(914.4, 914.4, 603, 603)), along=609.6, across=609.6)
    assert opening.cells == (1, 1, 1, 1)


@pytest.mark.parametrize(("size", "cells"), [((295, 1195), (1, 1, 1, 1)), ((595, 1195), (1, 1, 2, 1))])
def test_planks_take_devices_of_their_own_size(
    size: tuple[float, float], cells: tuple[int, int, int, int]
) -> None:
    centre = (300 + 150 * cells[2], 1800)
    (opening,) = _fit(_device(_at(*centre, *size)), along=300, across=1200)
    assert opening.cells == cells


def test_a_round_device_as_large_as_a_cell_is_not_lay_in() -> None:
    (opening,) = _fit(_device(Point(900, 900).buffer(297)))
    assert not opening.is_lay_in


@pytest.mark.parametrize(
    ("bottom", "top", "is_opening"),
    [
        (LEVEL, LEVEL + 120, True),  # recessed
        (LEVEL + 20, LEVEL + 120, True),  # drawn a little high
        (LEVEL + 60, LEVEL + 160, False),  # above the ceiling
        (LEVEL - 60, LEVEL, True),  # mounted on the ceiling from below
        (LEVEL - 40, LEVEL + 200, True),  # a sprinkler on its pipe
        (LEVEL - 900, LEVEL, False),  # a pendant
        (LEVEL - 500, LEVEL - 300, False),  # far below
    ],
)
def test_only_devices_at_the_plane_need_an_opening(bottom: float, top: float, is_opening: bool) -> None:
    assert bool(_fit(_device(_at(900, 900, 100, 100), bottom, top))) == is_opening


def _prism(low: tuple[float, float, float], high: tuple[float, float, float]) -> np.ndarray:
    (a, b, c), (d, e, f) = low, high
    p = np.array([(x, y, z) for z in (c, f) for x, y in ((a, b), (d, b), (d, e), (a, e))])
    sides = [(0, 1, 5), (0, 5, 4), (1, 2, 6), (1, 6, 5), (2, 3, 7), (2, 7, 6), (3, 0, 4), (3, 4, 7)]
    return p[np.array([(0, 2, 1), (0, 3, 2), (4, 5, 6), (4, 6, 7), *sides])]


def test_of_a_lamp_on_a_rod_only_the_rod_makes_a_hole() -> None:
    shade = _prism((600, 600, LEVEL - 900), (1200, 1200, LEVEL - 600))
    rod = _prism((890, 890, LEVEL - 600), (910, 910, LEVEL + 700))
    mesh = np.concatenate([shade, rod])
    (opening,) = _fit(_device(box(600, 600, 1200, 1200), LEVEL - 900, LEVEL + 700, mesh=mesh))
    assert opening.outline.bounds == pytest.approx((890, 890, 910, 910))
    assert not opening.is_lay_in


def test_devices_outside_the_zone_and_other_things_are_left_alone() -> None:
    outside = _device(_at(-900, 900, 595, 595))
    duct = _device(_at(900, 900, 595, 595), kind=Kind.DUCT)
    empty = _device(Polygon())
    assert _fit(outside, duct, empty) == ()


def test_two_devices_in_one_cell_cannot_both_lie_in_it() -> None:
    same = _at(900, 900, 595, 595)
    openings = _fit(_device(same, key="B"), _device(same, key="A"))
    assert [(o.key, o.is_lay_in) for o in openings] == [("A", True), ("B", False)]


def test_a_cut_opening_stops_at_the_wall() -> None:
    (opening,) = _fit(_device(Point(30, 900).buffer(100)))
    assert opening.outline.bounds[0] == 0


def test_a_device_of_several_parts_makes_one_opening() -> None:
    parts = MultiPolygon([_at(700, 900, 50, 50), _at(1100, 900, 50, 50)])
    (opening,) = _fit(_device(parts))
    assert opening.outline.bounds == (675, 875, 1125, 925)


def test_openings_bear_the_room_of_their_device() -> None:
    west, east = box(0, 0, 2400, 3600), box(2400, 0, 4800, 3600)
    zone = make_zone(ROOM, make_room(west, "W"), make_room(east, "E"))
    devices = [_device(_at(900, 900, 595, 595), key="A"), _device(_at(3300, 900, 595, 595), key="B")]
    openings = fit_devices(zone, make_layout(ROOM, 600, 600, main_every=2), devices, LEVEL)
    assert [o.room for o in openings] == [0, 1]


def test_in_a_turned_room_devices_fit_the_turned_cells() -> None:
    room = affinity.rotate(ROOM, 17, origin=(0, 0))
    light = affinity.rotate(_at(900, 900, 595, 595), 17, origin=(0, 0))
    askew = _at(*affinity.rotate(Point(2100, 900), 17, origin=(0, 0)).coords[0], 595, 595)
    layout = make_layout(room, 600, 600, angle=17, main_every=2)
    openings = fit_devices(make_zone(room), layout, [_device(light, key="A"), _device(askew, key="B")], LEVEL)
    assert [o.is_lay_in for o in openings] == [True, False]
    assert openings[0].cells == (1, 1, 1, 1)


def test_devices_made_for_the_module_are_named_wherever_they_stand() -> None:
    system = read_system("lay-in-600x1200")
    wanted = [
        _device(_at(1000, 1000, 595, 1195), key="A"),
        _device(_at(2050, 1000, 1195, 595), key="B"),
        _device(affinity.rotate(_at(3300, 1000, 595, 1195), 30), key="C"),
    ]
    others = [
        _device(_at(1000, 2500, 595, 595), key="E"),
        _device(_at(2000, 2500, 609.6, 1219.2), key="F"),
        _device(Point(3000, 2500).buffer(300), key="G"),
        _device(_at(4000, 1000, 595, 1195), LEVEL + 300, LEVEL + 400, key="H"),
        _device(_at(-4000, 1000, 595, 1195), key="I"),
    ]
    asked = ask_devices(make_zone(ROOM), system, read_policy("half-module"), [*others, *wanted], ())
    assert list(find_held(asked).cells) == [d.outline for d in wanted]
