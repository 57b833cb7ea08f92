"""Laws of the way of the weight."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from handmade_ceilings import HALL, L2, ROUND_ENDED, T1, TP1, build_ceiling, light, rectangle
from hypothesis import given, settings
from hypothesis import strategies as st

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.load_path import measure_loads
from ifcgrid.domain.loads import GRAVITY
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.weights import Weights

SHAPES = {
    "rectangle": rectangle(9000, 6150),
    "L": L2,
    "T": TP1,
    "round": ROUND_ENDED,
    "oblique": T1,
    "hall": HALL,
}

ceilings = st.builds(
    build_ceiling,
    st.sampled_from(sorted(SHAPES)).map(SHAPES.get),
    st.tuples(st.floats(100, 600), st.floats(100, 600)),
    angle_deg=st.sampled_from([0.0, 17.0, 90.0]),
    main_phase=st.sampled_from([0, 1]),
)


def _without_hangers(ceiling: Ceiling, keep: np.ndarray) -> Ceiling:
    hangers = ceiling.hangers
    return replace(
        ceiling,
        hangers=replace(
            hangers,
            line=hangers.line[keep],
            index=hangers.index[keep],
            room=hangers.room[keep],
            point=hangers.point[keep],
            bottom=hangers.bottom[keep],
            top=hangers.top[keep],
            support=tuple(np.array(hangers.support)[keep]),
        ),
    )


class TestWeight:
    """The sum of the hanger forces is the weight."""

    @settings(max_examples=40)
    @given(ceilings)
    def test_all_weight_hangs(self, ceiling):
        loads = measure_loads(ceiling)
        grid = ceiling.members
        tees = grid.length[np.isin(grid.role, (Role.CROSS_TEE, Role.SECOND_TEE))].sum()
        mains = grid.length[grid.role == Role.MAIN_RUNNER].sum()
        tee, main = (
            s.thickness * 2 * (s.height + s.face) * 7850e-9 for s in (ceiling.system.tee, ceiling.system.main)
        )
        weight = GRAVITY * (5.0 * ceiling.zone.outline.area * 1e-6 + tees * tee + mains * main)
        assert loads.weight_n == pytest.approx(weight, rel=1e-5)  # scraps under 1 cm2 are no panels
        for forces in (loads.hanger_n, loads.built_n):
            assert forces.sum() + loads.unhung_n == pytest.approx(loads.weight_n, rel=1e-9)

    @settings(max_examples=20)
    @given(ceilings, st.integers(0, 10**6))
    def test_hangers_that_are_left_carry_what_was_theirs(self, ceiling, seed):
        keep = np.random.default_rng(seed).random(len(ceiling.hangers)) > 0.3
        before, after = measure_loads(ceiling), measure_loads(_without_hangers(ceiling, keep))
        assert after.weight_n == before.weight_n
        assert after.hanger_n.sum() + after.unhung_n == pytest.approx(before.weight_n, rel=1e-9)
        held = set(ceiling.hangers.line[keep].tolist())
        mains = set(ceiling.members.line[ceiling.members.role == Role.MAIN_RUNNER].tolist())
        assert (after.unhung_n > 0) >= bool(mains - held)


class TestTributaryArea:
    """The tributary areas of mains, of tees and of hangers each sum to the ceiling's area."""

    @settings(max_examples=40)
    @given(ceilings)
    def test_areas_sum_to_the_ceiling(self, ceiling):
        loads = measure_loads(ceiling)
        area = ceiling.zone.outline.area
        mains = ceiling.members.role == Role.MAIN_RUNNER
        assert loads.area == pytest.approx(area, rel=1e-5)
        assert loads.member_area[mains].sum() == pytest.approx(loads.area, rel=1e-9)
        assert loads.hanger_area.sum() == pytest.approx(loads.area, rel=1e-9) or loads.unhung_n > 0


def test_walls_take_half_of_what_spans_to_them_from_line_loads_but_nothing_from_hangers():
    # One main in the middle of 2.4 m: it carries 1.2 m of width with the walls, 2.4 m without.
    ceiling = build_ceiling(rectangle(8400, 2400), (600, 600))
    assert np.unique(ceiling.members.line[ceiling.members.role == Role.MAIN_RUNNER]).tolist() == [2]
    weights = Weights(panel_kg_per_m2=6.0, main_kg_per_m=0.0, tee_kg_per_m=0.0, basis="test")
    loads = measure_loads(replace(ceiling, system=replace(ceiling.system, weights=weights)))
    main = int(np.flatnonzero(ceiling.members.role == Role.MAIN_RUNNER)[0])
    load = 6.0 * GRAVITY / 1e6
    assert loads.member_load[main] == pytest.approx(load * 1200)
    assert loads.member_area[main] == pytest.approx(8400 * 2400)
    assert loads.built_n.sum() == pytest.approx(load * 8400 * 2400)
    assert loads.span_load == pytest.approx(load * 1200)


def test_a_uniform_ceiling_gives_the_hand_calculation():
    # 8.4 x 7.2 m, mains at 1200, tees at 600: an inner tee carries 0.6 m, a main 1.2 m.
    ceiling = build_ceiling(rectangle(8400, 7200), (600, 600))
    ceiling = replace(
        ceiling,
        system=replace(
            ceiling.system,
            weights=Weights(panel_kg_per_m2=6.0, main_kg_per_m=0.0, tee_kg_per_m=0.0, basis="test"),
        ),
    )
    loads = measure_loads(ceiling)
    load = 6.0 * GRAVITY / 1e6
    members = ceiling.members
    inner = (members.role == Role.CROSS_TEE) & (members.length == 1200)
    inner &= (members.start[:, 0] > 900) & (members.start[:, 0] < 7500)
    assert loads.member_load[inner] == pytest.approx(load * 600)
    mains = np.flatnonzero(members.role == Role.MAIN_RUNNER)
    middle = [m for m in mains if 2000 < members.start[m, 1] < 5000]
    assert loads.member_load[middle] == pytest.approx(load * 1200)
    deflection = 5 * load * 600 * 1200**4 / (384 * 203_395.0)
    inertia = deflection / loads.tee_deflection[inner]
    assert inertia == pytest.approx(inertia[0])


def test_a_device_that_says_its_weight_is_believed_and_one_that_does_not_is_marked():
    ceiling = build_ceiling(rectangle(6000, 4800), (300, 300), openings=(light(3, 3), light(5, 3)))
    first, second = (o.key for o in ceiling.openings)
    known = Obstacle(
        key=first, kind=Kind.LIGHT, name="", outline=rectangle(1, 1), bottom=0, top=1, weight_kg=7.5
    )
    silent = replace(known, key=second, weight_kg=None)
    loads = measure_loads(ceiling, [known, silent])
    assert loads.device_kg == {first: 7.5, second: pytest.approx(0.36 * 12.0)}
    assert loads.assumed_devices == {second}
    assert loads.parts_n["devices"] == pytest.approx((7.5 + 4.32) * GRAVITY)
    assert any("1 of 2 devices" in text for text in loads.assumed)


def test_a_leaning_hanger_pulls_harder():
    ceiling = build_ceiling(rectangle(6000, 4800), (300, 300))
    hangers = ceiling.hangers
    aside = hangers.point + np.where(np.arange(len(hangers))[:, None] == 0, [100.0, 0.0], [0.0, 0.0])
    leaning = replace(ceiling, hangers=replace(hangers, top_point=aside))
    plumb, leant = measure_loads(ceiling), measure_loads(leaning)
    rise = hangers.top[0] - hangers.bottom[0]
    assert leant.tension_n[0] == pytest.approx(plumb.force_n[0] * np.hypot(100, rise) / rise)
    assert leant.side_n[0] == pytest.approx(plumb.force_n[0] * 100 / rise)
    assert leant.tension_n[1:] == pytest.approx(plumb.tension_n[1:])
