"""Wires of devices: how many, at which corners, up to what."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from handmade_lattices import LEVEL, make_layout, make_zone
from shapely import Polygon, box
from shapely.affinity import rotate

from ifcgrid.design.devices import fit_devices
from ifcgrid.design.wires import place_wires
from ifcgrid.domain.hanging import Wires
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.tiers import find_wire_tiers

POUND = 0.45359237
ROOM = box(0, 0, 6000, 4800)


def _device(outline: Polygon, pounds: float | None, kind: Kind = Kind.LIGHT, key: str = "lamp") -> Obstacle:
    weight = None if pounds is None else pounds * POUND
    return Obstacle(
        key=key, kind=kind, name=key, outline=outline, bottom=LEVEL, top=LEVEL + 80, weight_kg=weight
    )


def _thing(kind: Kind, outline: Polygon, bottom: float, top: float) -> Obstacle:
    return Obstacle(key=str(kind), kind=kind, name="", outline=outline, bottom=bottom, top=top)


SLAB = _thing(Kind.SLAB, box(-500, -500, 6500, 5300), LEVEL + 900, LEVEL + 1100)


def _wire(*devices: Obstacle, tiers: str = "nwcb", obstacles=(SLAB,), angle: float = 0.0, room=ROOM) -> Wires:
    zone = make_zone(room)
    layout = make_layout(room, 600, 600, main_every=2, angle=angle)
    openings = fit_devices(zone, layout, devices, LEVEL)
    return place_wires(zone, layout, openings, devices, find_wire_tiers(tiers), obstacles)


@pytest.mark.parametrize(("pounds", "count", "is_slack"), [(9.0, 1, True), (12.0, 2, True), (60.0, 4, False)])
def test_a_light_gets_the_wires_of_its_weight(pounds, count, is_slack):
    outline = box(1203, 1203, 1797, 1797)
    wires = _wire(_device(outline, pounds))
    assert len(wires) == count
    assert wires.device == ("lamp",) * count
    assert wires.number.tolist() == list(range(count))
    assert wires.is_slack.tolist() == [is_slack] * count
    assert (wires.bottom == LEVEL + 80).all()
    assert (wires.top == LEVEL + 900).all()
    assert set(wires.support) == {"slab"}
    assert wires.is_assumed is not None
    assert not wires.is_assumed.any()
    # Each hangs at a corner of the light, on it.
    corners = np.array(outline.exterior.coords)[:4]
    assert len({int(np.hypot(*(corners - p).T).argmin()) for p in wires.point}) == count
    assert all(outline.covers(shapely.Point(p)) for p in wires.point)
    assert all(np.hypot(*(corners - p).T).min() < 80 for p in wires.point)


def test_two_wires_go_to_opposite_corners_also_of_a_turned_device():
    room = rotate(ROOM, 17, origin=(0, 0))
    outline = rotate(box(1203, 1203, 1797, 2397), 17, origin=(0, 0))
    wires = _wire(_device(outline, 30.0), angle=17.0, room=room)
    assert len(wires) == 2
    assert np.hypot(*(wires.point[0] - wires.point[1])) > 0.8 * np.hypot(594, 1194)


def test_a_weight_that_the_model_does_not_give_is_assumed_and_marked():
    wires = _wire(_device(box(1203, 1203, 1797, 1797), None))
    assert len(wires) == 2
    assert wires.is_assumed is not None
    assert wires.is_assumed.all()


def test_round_terminals_are_held_on_their_rim_and_light_ones_and_heads_not_at_all():
    round_one = shapely.Point(1500, 1500).buffer(250)
    heavy = _device(round_one, 30.0, Kind.AIR_TERMINAL, "heavy")
    light = _device(shapely.Point(3300, 1500).buffer(150), 10.0, Kind.AIR_TERMINAL, "light")
    head = _device(shapely.Point(3300, 3300).buffer(40), 10.0, Kind.SPRINKLER, "head")
    wires = _wire(heavy, light, head)
    assert wires.device == ("heavy", "heavy")
    assert all(round_one.covers(shapely.Point(p)) for p in wires.point)


def test_wires_take_the_diagonal_that_passes_a_duct():
    outline = box(1203, 1203, 1797, 1797)
    duct = _thing(Kind.DUCT, box(1000, 1000, 1400, 1400), LEVEL + 300, LEVEL + 500)
    free, clear = (_wire(_device(outline, 30.0), obstacles=o) for o in ((SLAB,), (SLAB, duct)))
    assert any(duct.outline.covers(shapely.Point(p)) for p in free.point)
    assert not any(duct.outline.covers(shapely.Point(p)) for p in clear.point)


def test_without_structure_the_length_is_open():
    wires = _wire(_device(box(1203, 1203, 1797, 1797), 30.0), obstacles=())
    assert np.isnan(wires.top).all()
    assert wires.support == ("", "")
    assert len(_wire()) == 0
