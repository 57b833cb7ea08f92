from __future__ import annotations

import numpy as np
import pytest
from handmade_lattices import LEVEL, make_layout, make_room, make_zone
from shapely import Polygon, box

from ifcgrid.design.framing import place_members
from ifcgrid.design.suspension import place_hangers
from ifcgrid.domain.ceiling import Hangers
from ifcgrid.domain.hanging import HangerKind
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.room import Zone
from ifcgrid.systems import read_system

SYSTEM = read_system("lay-in-600x600")


def _hang(zone: Zone, *structure: Obstacle, angle: float = 0.0) -> Hangers:
    layout = make_layout(zone.outline, 600, 600, node=(0, 1200), angle=angle, main_every=2)
    return place_hangers(zone, SYSTEM, layout, place_members(zone, SYSTEM, layout), structure)


def _slab(key: str, outline: Polygon, bottom: float, kind: Kind = Kind.SLAB) -> Obstacle:
    return Obstacle(key=key, kind=kind, name=key, outline=outline, bottom=bottom, top=bottom + 200)


def test_hangers_stand_evenly_and_use_the_same_share_of_both_limits() -> None:
    hangers = _hang(make_zone(box(0, 0, 5000, 2400)))
    ends = SYSTEM.hanger_end, SYSTEM.hanger_spacing
    places = hangers.point[:, 0]
    steps = np.diff(places)
    assert steps == pytest.approx([steps[0]] * len(steps))
    assert places[0] == pytest.approx(5000 - places[-1])
    assert places[0] / ends[0] == pytest.approx(steps[0] / ends[1])


def test_a_main_in_two_runs_counts_its_hangers_on() -> None:
    hangers = _hang(make_zone(box(0, 0, 3600, 2400) - box(1500, 1100, 1900, 1300)))
    assert hangers.keys() == [f"hanger/2/{k}" for k in range(len(hangers))]
    assert (np.diff(hangers.point[:, 0]) > 0).all()
    assert not ((hangers.point[:, 0] > 1500) & (hangers.point[:, 0] < 1900)).any()


def test_hangers_reach_from_the_top_of_the_main_to_the_lowest_structure_above() -> None:
    room = box(0, 0, 3600, 2400)
    beam = _slab("beam", box(0, 0, 1000, 2400), 3200, Kind.BEAM)
    hangers = _hang(make_zone(room), _slab("slab", box(0, 0, 2800, 2400), 3500), beam)
    assert (hangers.bottom == LEVEL + SYSTEM.main.height).all()
    for (u, _), top, support in zip(hangers.point, hangers.top, hangers.support, strict=True):
        wanted = (3200, "beam") if u < 1000 else (3500, "slab") if u < 2800 else (None, "")
        assert support == wanted[1]
        assert np.isnan(top) if wanted[0] is None else top == wanted[0]
    assert {"beam", "slab", ""} == set(hangers.support)


def test_the_structure_is_sought_at_the_hangers_place_in_the_model() -> None:
    # Mains along Y in a room away from the origin; only its north half has a slab.
    room = box(10_000, 5000, 12_400, 8600)
    hangers = _hang(make_zone(room), _slab("north", box(10_000, 6800, 12_400, 8600), 3500), angle=90)
    turned = make_layout(room, 600, 600, node=(0, 1200), angle=90, main_every=2).frame
    north = turned.to_world(hangers.point)[:, 1] > 6800
    assert [key == "north" for key in hangers.support] == north.tolist()
    assert north.any()
    assert not north.all()


def test_hangers_bear_the_room_they_hang_in() -> None:
    west, east = box(0, 0, 1800, 2400), box(1800, 0, 3600, 2400)
    zone = make_zone(box(0, 0, 3600, 2400), make_room(west, "W"), make_room(east, "E"))
    hangers = _hang(zone)
    assert (hangers.room == (hangers.point[:, 0] > 1800)).all()


def test_a_room_without_mains_has_no_hangers() -> None:
    hangers = _hang(make_zone(box(100, 100, 500, 500)))
    assert len(hangers) == 0
    assert hangers.support == ()


def test_structure_that_leaves_no_room_above_the_main_carries_nothing_but_is_named() -> None:
    slab = _slab("slab", box(0, 0, 6000, 2400), LEVEL + 800)
    beam = _slab("beam", box(0, 0, 1500, 2400), LEVEL - 50, Kind.BEAM)  # hangs through the ceiling
    below = _slab("below", box(0, 0, 6000, 2400), LEVEL - 600, Kind.BEAM)  # stands wholly under it
    hangers = _hang(make_zone(box(0, 0, 6000, 2400)), slab, beam, below)
    in_beam = hangers.point[:, 0] < 1500
    assert in_beam.any()
    assert not in_beam.all()
    assert np.isnan(hangers.top[in_beam]).all()
    assert (hangers.top[~in_beam] == LEVEL + 800).all()
    supports = np.array(hangers.support)
    assert set(supports[in_beam]) == {"beam"}
    assert set(supports[~in_beam]) == {"slab"}


def test_a_hanger_leans_to_nothing_where_the_model_has_no_structure_above() -> None:
    half = _slab("half", box(-500, -500, 2500, 2900), LEVEL + 1300)
    pipe = Obstacle(
        key="pipe",
        kind=Kind.PIPE,
        name="pipe",
        outline=box(-100, 1150, 5100, 1250),  # along the main, over all of it
        bottom=LEVEL + 900,
        top=LEVEL + 1000,
    )
    zone = make_zone(box(0, 0, 5000, 2400))
    layout = make_layout(zone.outline, 600, 600, node=(0, 1200), main_every=2)
    members = place_members(zone, SYSTEM, layout)
    hangers = place_hangers(zone, SYSTEM, layout, members, [half], services=[pipe])
    bare = hangers.point[:, 0] > 2500
    assert (hangers.kinds[~bare] != HangerKind.STRAIGHT).all()
    assert np.isfinite(hangers.top[~bare]).all()
    assert (hangers.kinds[bare] == HangerKind.STRAIGHT).all()
    assert np.isnan(hangers.top[bare]).all()
    assert (hangers.top_points[bare] == hangers.point[bare]).all()
    places = hangers.point[bare].tolist()
    assert len(places) == len({tuple(p) for p in places}) > 0  # no counters of what does not lean
    assert np.diff(np.unique(hangers.point[:, 0])).max() <= SYSTEM.hanger_spacing + 0.01
