"""Hangers past ducts, pipes and beams: shifted, splayed with a counter, on a trapeze, else left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from handmade_lattices import LEVEL, make_layout, make_zone
from handmade_obstacles import rod, thing
from shapely import LineString, Polygon, box

from ifcgrid.design.framing import place_members
from ifcgrid.design.stock import cut_pieces
from ifcgrid.design.suspension import Hanging, hang
from ifcgrid.domain.ceiling import Opening, Role
from ifcgrid.domain.hanging import HangerKind
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.system import GridSystem
from ifcgrid.systems import read_system

SYSTEM = read_system("lay-in-600x600")
ROOM = box(0, 0, 5000, 2400)
TOP = LEVEL + SYSTEM.main.height
SOFFIT = LEVEL + 1300
SLAB = thing(Kind.SLAB, box(-500, -500, 5500, 2900), SOFFIT, SOFFIT + 200, "slab")
CLEAR = SYSTEM.hanging.clearance


def _hang(
    *others: Obstacle,
    room: Polygon = ROOM,
    system: GridSystem = SYSTEM,
    structure: tuple[Obstacle, ...] = (SLAB,),
    **more: object,
) -> Hanging:
    layout = make_layout(room, 600, 600, node=(0, 1200), main_every=2)
    members = place_members(make_zone(room), system, layout)
    if more.pop("spliced", False):
        cut = cut_pieces(system, layout, members)
        assert cut
        more["pieces"] = cut.pieces
    return hang(make_zone(room), system, layout, members, structure, services=others, **more)  # type: ignore[arg-type]


def _duct(outline: Polygon, above: float, height: float = 300, kind: Kind = Kind.DUCT) -> Obstacle:
    """A duct whose underside is so far above the tops of the mains."""
    return thing(kind, outline, TOP + above, TOP + above + height, "duct")


def _kinds(hanging: Hanging) -> set[HangerKind]:
    return {HangerKind(k) for k in hanging.hangers.kinds.tolist()}


def _ways(hanging: Hanging) -> list[np.ndarray]:
    """Ends (2, 3) of all wires, bars and rods."""
    h, ways = hanging.hangers, []
    for k in range(len(h)):
        ways.append(np.array([[*h.point[k], h.bottom[k]], [*h.top_points[k], h.top[k]]]))
    if hanging.trapezes is not None:
        for k, ends in enumerate(hanging.trapezes.ends):
            low = np.column_stack([ends, np.full(2, hanging.trapezes.z[k])])
            ways.append(low)
            ways += [np.array([low[i], [*ends[i], hanging.trapezes.top[k, i]]]) for i in (0, 1)]
    return ways


def _assert_clear(hanging: Hanging, duct: Obstacle) -> None:
    """No way comes nearer to an upright obstacle than the clearance, measured point by point."""
    for start, end in _ways(hanging):
        for share in np.linspace(0, 1, 101):
            x, y, z = start + share * (end - start)
            if duct.bottom - CLEAR + 0.1 < z < duct.top + CLEAR - 0.1:
                assert duct.outline.distance(shapely.Point(x, y)) >= CLEAR - 0.1


def test_a_duct_in_the_way_is_passed_in_this_order_shift_splay_trapeze_flag() -> None:
    plain = _hang()
    found = []
    for duct in (
        _duct(box(0, 1400, 5000, 1700), 500),  # beside the main
        _duct(box(1300, 0, 1800, 2400), 500),  # turned across it, over a hanger
        _duct(box(-100, 1150, 5100, 1250), 900, 100),  # turned along it, high up
        _duct(box(-100, 1150, 5100, 1250), 300, 100),  # lowered
        _duct(box(-100, 1150, 5100, 1250), 60, 100),  # lowered to the main
    ):
        hanging = _hang(duct)
        _assert_clear(hanging, duct)
        found.append((_kinds(hanging), len(hanging.hangers)))
        if duct.outline.bounds[1] > 1200:
            assert (hanging.hangers.point == plain.hangers.point).all()
    straight, splayed = {HangerKind.STRAIGHT}, {HangerKind.SPLAYED, HangerKind.COUNTER}
    count = len(plain.hangers)
    assert found == [
        (straight, count),
        (straight, count),
        (splayed, 2 * count),
        ({HangerKind.TRAPEZE}, count),
        (set(), 0),
    ]
    assert plain.notes == ()
    (note,) = hanging.notes
    assert "hang free for up to 5000 mm under duct 'duct'" in note


def test_a_duct_over_the_whole_end_of_a_main_leaves_no_way() -> None:
    # Rods of a bar would stand in the wall.
    hanging = _hang(_duct(box(0, -100, 900, 2500), 400))
    assert hanging.hangers.point[0, 0] >= 900 + CLEAR
    assert "hang free" in hanging.notes[0]


def test_beside_a_duct_in_the_ceiling_a_main_is_hung_with_less_clearance() -> None:
    # No bar fits under so low a duct, and no counter may lean over it.
    duct = _duct(box(1000, 1215, 4000, 1900), -150)
    hanging = _hang(duct)
    places = hanging.hangers.point[:, 0]
    assert (np.diff(places) <= SYSTEM.hanger_spacing + 0.01).all()
    assert _kinds(hanging) == {HangerKind.STRAIGHT}
    beside = np.flatnonzero((places > 1000) & (places < 4000))
    (note,) = hanging.notes
    radius = SYSTEM.hanger_diameter / 2
    assert note.startswith(f"{len(beside)} hangers pass duct 'duct' nearer than the clearance of 25 mm")
    assert f"down to {15 - radius:.0f} mm" in note
    # A quarter of the clearance has to stay; what that does not close stays as it was.
    barred = _hang(_duct(box(1000, 1200 + CLEAR / 4 + radius - 0.1, 4000, 1900), -150))
    places = barred.hangers.point[:, 0]
    assert np.diff(places).max() == pytest.approx(3000 + 2 * (CLEAR + radius), abs=0.01)
    assert "hang free" in barred.notes[0]


@pytest.mark.parametrize("step", range(50, 1000, 50))
def test_wherever_a_duct_crosses_all_demands_are_kept(step: int) -> None:
    duct = _duct(box(step, -100, step + 900, 2500), 400)
    hanging = _hang(duct)
    _assert_clear(hanging, duct)
    places = hanging.hangers.point[:, 0]
    assert places[0] <= SYSTEM.hanger_end + 0.01
    assert 5000 - places[-1] <= SYSTEM.hanger_end + 0.01
    assert (np.diff(places) <= SYSTEM.hanger_spacing + 0.01).all()
    assert _kinds(hanging) == {HangerKind.STRAIGHT}


def test_splayed_hangers_lean_at_most_1_in_6_and_their_counters_as_much_the_other_way() -> None:
    hangers = _hang(_duct(box(-100, 1150, 5100, 1250), 900, 100)).hangers
    lean = (hangers.top_points - hangers.point) / (hangers.top - hangers.bottom)[:, None]
    splayed = hangers.kinds == HangerKind.SPLAYED
    assert splayed.sum() * 2 == len(hangers)
    assert (np.hypot(*lean.T) <= 1 / 6 + 1e-9).all()
    assert lean[splayed] == pytest.approx(-lean[~splayed])
    assert np.isfinite(hangers.lengths).all()
    assert (hangers.lengths > hangers.top - hangers.bottom).all()


def test_the_least_lean_that_gets_past_is_taken() -> None:
    def steepest(width: float) -> float:
        hangers = _hang(_duct(box(-100, 1200 - width / 2, 5100, 1200 + width / 2), 900, 100)).hangers
        lean = (hangers.top_points - hangers.point) / (hangers.top - hangers.bottom)[:, None]
        return float(np.abs(lean).max())

    assert steepest(20) < steepest(120) < steepest(230) <= 1 / 6 + 1e-9


def test_a_wide_duct_is_spanned_by_a_bar_between_two_rods() -> None:
    duct = _duct(box(2000, -500, 3500, 2900), 112)
    hanging = _hang(duct)
    bars = hanging.trapezes
    assert bars is not None
    assert len(bars) == 1
    (hanger,) = bars.hanger.tolist()
    assert bars.spans == (("duct",),)
    assert bars.support == (("slab", "slab"),)
    assert bars.z[0] == duct.bottom - CLEAR - SYSTEM.hanging.bar_depth
    assert hanging.hangers.top[hanger] == bars.z[0]
    assert hanging.hangers.fixing[hanger] == "trapeze"
    assert LineString(bars.ends[0]).distance(shapely.Point(hanging.hangers.point[hanger])) < 1e-6
    assert "1 hangers are carried by trapezes under duct 'duct'" in hanging.notes
    # 1 mm lower there is no room for the least hanger under the bar.
    least = CLEAR + SYSTEM.hanging.bar_depth + SYSTEM.hanging.shortest
    assert _hang(_duct(box(2000, -500, 3500, 2900), least)).trapezes is not None
    assert _hang(_duct(box(2000, -500, 3500, 2900), least - 1)).trapezes is None


def test_a_bar_is_not_longer_than_the_longest() -> None:
    rules = replace(SYSTEM.hanging, bar_longest=1500.0)
    system = replace(SYSTEM, hanging=rules)
    reach = 2 * (CLEAR + SYSTEM.hanger_diameter / 2)
    fits = _duct(box(2000, -500, 3500 - reach, 2900), 300)
    wider = _duct(box(2000, -500, 3501 - reach, 2900), 300)
    assert _hang(fits, system=system).trapezes is not None
    assert _hang(wider, system=system).trapezes is None


def test_a_bar_stays_in_the_room_and_needs_structure_over_both_rods() -> None:
    duct = _duct(box(-600, 900, 5600, 1500), 300)
    assert _hang(duct).trapezes is not None
    half = thing(Kind.SLAB, box(-500, -500, 5500, 1300), SOFFIT, SOFFIT + 200, "half")
    assert _hang(duct, structure=(half,)).trapezes is None
    beyond = _duct(box(-600, 900, 5600, 2500), 300)  # reaches over the room's wall
    assert _hang(beyond).trapezes is None


def test_mains_under_one_duct_share_bars_where_they_can() -> None:
    room = box(0, 0, 5000, 4800)
    slab = thing(Kind.SLAB, box(-500, -500, 5500, 5300), SOFFIT, SOFFIT + 200, "slab")
    duct = _duct(box(-100, 1100, 5100, 2500), 300)  # over the mains at 1200 and 2400
    hanging = _hang(duct, room=room, structure=(slab,))
    bars = hanging.trapezes
    assert bars is not None
    assert all(len(carried) == 2 for carried in bars.carries)
    assert sum(map(len, bars.carries)) == int((hanging.hangers.kinds == HangerKind.TRAPEZE).sum())
    # With splices at different places they still share most of them.
    spliced = _hang(duct, room=room, structure=(slab,), spliced=True)
    assert spliced.trapezes is not None
    hung = int((spliced.hangers.kinds == HangerKind.TRAPEZE).sum())
    assert len(spliced.trapezes) <= hung - 4


def test_a_hanger_ends_at_a_beam_but_keeps_clear_of_its_side() -> None:
    for shift in range(0, 300, 10):
        beam = thing(Kind.BEAM, box(1400 + shift, -500, 1600 + shift, 2900), TOP + 700, SOFFIT, "beam")
        hanging = _hang(structure=(SLAB, beam))
        for u, top, support, fixing in zip(
            hanging.hangers.point[:, 0],
            hanging.hangers.top,
            hanging.hangers.support,
            hanging.hangers.fixing,
            strict=True,
        ):
            side = max(1400 + shift - u, u - 1600 - shift)
            assert (support == "beam") == (side <= 0.01)
            assert fixing == support
            assert top == (TOP + 700 if support == "beam" else SOFFIT)
            assert side <= 0.01 or side >= CLEAR


def test_a_beam_down_to_the_mains_is_kept_free_of_hangers() -> None:
    for mesh in (False, True):
        beam = thing(Kind.BEAM, box(1300, -500, 1800, 2900), TOP - 20, SOFFIT, "beam", meshed=mesh)
        hanging = _hang(structure=(SLAB, beam))
        places = hanging.hangers.point[:, 0]
        assert not ((places > 1300) & (places < 1800)).any()
        assert np.isfinite(hanging.hangers.top).all()


def test_services_above_the_slab_are_nobody_s_business() -> None:
    above = thing(Kind.DUCT, box(-100, 0, 5100, 2400), SOFFIT + 300, SOFFIT + 600, "duct")
    assert (_hang(above).hangers.point == _hang().hangers.point).all()
    # Where no structure is known, nobody knows how far a hanger goes.
    assert len(_hang(_duct(box(-100, 0, 5100, 2400), 100), structure=()).hangers) == len(_hang().hangers)


def test_a_round_askew_duct_is_passed_by_its_silhouette() -> None:
    mesh = rod((500, 0, TOP + 500), (2300, 2400, TOP + 500), 150)
    outline = shapely.union_all([p for p in shapely.polygons(mesh[:, :, :2]) if p.area > 1e-6]).buffer(0)
    duct = Obstacle(
        key="duct",
        kind=Kind.DUCT,
        name="duct",
        outline=outline,
        bottom=TOP + 350,
        top=TOP + 650,
        mesh=mesh,
    )
    hanging = _hang(duct)
    _assert_clear(hanging, duct)
    assert _kinds(hanging) == {HangerKind.STRAIGHT}


@pytest.mark.parametrize(("sides", "more"), [(0, 0), (1, 1), (2, 2)])
def test_a_splice_has_its_hangers(sides: int, more: int) -> None:
    room = box(0, 0, 5000, 2400)
    rules = replace(SYSTEM.hanging, splice_sides=sides)
    hanging = _hang(room=room, system=replace(SYSTEM, hanging=rules), spliced=True)
    splice = 3600 + SYSTEM.cutting.end_gap - _trim()  # type: ignore[union-attr]
    beside = np.abs(hanging.hangers.point[:, 0] - splice)
    near = beside <= rules.splice_reach + 0.01
    assert int(near.sum()) >= more
    if sides:
        assert (beside[near] >= rules.splice_gap - 0.01).all()
    if sides == 2:
        assert len(set(np.sign(hanging.hangers.point[near, 0] - splice))) == 2


def _trim() -> float:
    layout = make_layout(ROOM, 600, 600, node=(0, 1200), main_every=2)
    members = place_members(make_zone(ROOM), SYSTEM, layout)
    cut = cut_pieces(SYSTEM, layout, members)
    assert cut
    assert cut.pieces.stock_start is not None
    first = np.flatnonzero((members.role[cut.pieces.member] == Role.MAIN_RUNNER) & (cut.pieces.number == 0))
    return float(cut.pieces.stock_start[first[0]])


def test_notches_that_weaken_a_main_have_a_hanger_on_both_sides() -> None:
    assert SYSTEM.cutting
    system = replace(SYSTEM, cutting=replace(SYSTEM.cutting, notches=(1800.0,)))
    places = _hang(system=system, spliced=True).hangers.point[:, 0]
    notch = 1800.0 - _trim() + system.cutting.end_gap  # type: ignore[union-attr]
    near = places[np.abs(places - notch) <= system.hanging.splice_reach + 0.01]
    assert near.min() < notch < near.max()


def test_corners_of_devices_on_a_main_have_hangers_when_asked() -> None:
    light = Opening(key="L", outline=box(1800, 600, 2400, 1200), room=0, is_lay_in=True, cells=(3, 1, 1, 1))
    asked = replace(SYSTEM, hanging=replace(SYSTEM.hanging, corner_reach=76.2))
    for system, wanted in ((SYSTEM, False), (asked, True)):
        places = _hang(system=system, devices=(light,)).hangers.point[:, 0]
        kept = [bool((np.abs(places - corner) <= 76.21).any()) for corner in (1800, 2400)]
        assert all(kept) == wanted
