"""Continuous beams against handbook values and simple statics.

Values of equal spans under a uniform load: AISC Steel Construction Manual, beam diagrams
for continuous beams (coefficients from memory, each recomputed here by hand where short).
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ifcgrid.domain.beam import Patches, Solution, solve_beams


def _patches(*rows: tuple[int, float, float, float]) -> Patches:
    table = np.array(rows, dtype=float).reshape(-1, 4)
    return Patches(beam=table[:, 0].astype(np.int64), start=table[:, 1], end=table[:, 2], force=table[:, 3])


def _solve(supports: list[float], *rows: tuple[int, float, float, float]) -> Solution:
    places = np.array(supports, dtype=float)
    return solve_beams(1, np.zeros(len(places), dtype=np.int64), places, _patches(*rows))


@pytest.mark.parametrize(
    ("spans", "reactions", "moments"),
    [
        (1, [1 / 2, 1 / 2], [0, 0]),
        (2, [3 / 8, 10 / 8, 3 / 8], [0, -1 / 8, 0]),
        (3, [0.4, 1.1, 1.1, 0.4], [0, -0.1, -0.1, 0]),
        (4, [11 / 28, 32 / 28, 26 / 28, 32 / 28, 11 / 28], [0, -3 / 28, -2 / 28, -3 / 28, 0]),
    ],
)
def test_equal_spans_under_a_uniform_load_have_the_handbook_reactions_and_moments(spans, reactions, moments):
    span, load = 1200.0, 0.05
    found = _solve([k * span for k in range(spans + 1)], (0, 0.0, spans * span, spans * span * load))
    assert found.continuous / (load * span) == pytest.approx(reactions)
    assert found.moment / (load * span**2) == pytest.approx(moments, abs=1e-12)
    assert found.simple / (load * span) == pytest.approx([0.5] + [1.0] * (spans - 1) + [0.5])


@pytest.mark.parametrize(("spans", "coefficient"), [(1, 5 / 384), (2, 1 / 185), (3, 0.0069), (4, 0.0065)])
def test_the_end_spans_deflect_by_the_handbook_coefficient(spans, coefficient):
    # 1/185 = 0.00541, 0.0069 and 0.0065 are printed to two figures.
    span, load = 1200.0, 0.05
    found = _solve([k * span for k in range(spans + 1)], (0, 0.0, spans * span, spans * span * load))
    assert found.continuous_deflection[0] / (load * span**4) == pytest.approx(coefficient, rel=0.01)
    assert found.simple_deflection / (load * span**4) == pytest.approx([5 / 384] * spans, rel=1e-9)


def test_a_point_load_off_the_middle_deflects_a_simple_span_as_tabulated():
    # P a (L^2 - a^2)^1.5 / (9 sqrt(3) L E I), load at L - a: AISC beam diagrams, case 8 (from memory).
    span, a, force = 1000.0, 300.0, 7.0
    found = _solve([0.0, span], (0, span - a, span - a, force))
    peak = force * a * (span**2 - a**2) ** 1.5 / (9 * 3**0.5 * span)
    assert found.simple_deflection[0] == pytest.approx(peak, rel=1e-4)
    assert found.simple == pytest.approx([force * 0.3, force * 0.7])


def test_an_overhang_bends_the_first_support_and_lifts_the_next():
    found = _solve([0.0, 1000.0], (0, -200.0, -200.0, 10.0))
    assert found.moment[0] == -2000.0
    assert found.continuous == pytest.approx([12.0, -2.0])
    assert found.simple == pytest.approx([10.0, 0.0])
    # A moment M at one end of a simple span: M L^2 / (9 sqrt(3)).
    assert found.continuous_deflection[0] == pytest.approx(2000 * 1000**2 / (9 * 3**0.5), rel=1e-4)


def test_a_beam_without_supports_holds_nothing_and_says_so():
    beams = np.array([1, 1], dtype=np.int64)
    found = solve_beams(
        3, beams, np.array([0.0, 100.0]), _patches((0, 0, 9, 5), (1, 0, 100, 8), (2, 3, 3, 2))
    )
    assert found.unheld.tolist() == [5, 0, 2]
    assert found.continuous == pytest.approx([4, 4])
    assert solve_beams(1, beams[:0], np.empty(0), _patches((0, 0, 9, 5))).unheld.tolist() == [5]


loads = st.lists(
    st.tuples(st.integers(0, 2), st.floats(-500, 9000), st.floats(0, 3000), st.floats(0, 100)), max_size=12
)
steps = st.lists(st.lists(st.floats(50, 1500), min_size=1, max_size=7), min_size=3, max_size=3)


class TestEquilibrium:
    """Reactions sum to the loads, however many beams are solved together."""

    @given(steps, loads)
    def test_forces_balance(self, gaps, rows):
        places = [np.cumsum(g) for g in gaps]
        beam = np.repeat(np.arange(3), [len(p) for p in places])
        patches = _patches(*[(b, s, s + w, f) for b, s, w, f in rows])
        found = solve_beams(3, beam, np.concatenate(places), patches)
        for total in (found.simple, found.continuous):
            sums = np.bincount(beam, weights=total, minlength=3)
            wanted = np.bincount(patches.beam, weights=patches.force, minlength=3)
            assert sums == pytest.approx(wanted, rel=1e-9, abs=1e-6)

    @given(steps, loads)
    def test_beams_do_not_know_of_each_other(self, gaps, rows):
        places = [np.cumsum(g) for g in gaps]
        beam = np.repeat(np.arange(3), [len(p) for p in places])
        patches = _patches(*[(b, s, s + w, f) for b, s, w, f in rows])
        together = solve_beams(3, beam, np.concatenate(places), patches)
        for k in range(3):
            own = patches.pick(patches.beam == k)
            rows_of = [(0, s, e, f) for s, e, f in zip(own.start, own.end, own.force, strict=True)]
            alone = _solve(places[k].tolist(), *rows_of)
            assert together.continuous[beam == k] == pytest.approx(alone.continuous, rel=1e-9, abs=1e-6)


PLACES = [0.0, 0.9, 2.1, 2.7, 3.9]
UNIFORM = [1.3, 0.4, 2.2, 0.9]
POINTS = [(0, 0.25, 0.7), (1, 0.5, 1.9), (3, 1.1, 0.4)]
"""Span, distance from its left end, force."""


def test_uneven_spans_agree_with_a_general_frame_analysis():
    package = pytest.importorskip("Pynite", reason="PyNiteFEA is not installed; pip install .[test]")
    frame = package.FEModel3D()
    for k, x in enumerate(PLACES):
        frame.add_node(f"N{k}", x, 0, 0)
        frame.def_support(f"N{k}", k == 0, True, True, k == 0, k == 0, False)
    frame.add_material("steel", 1.0, 1.0, 0.3, 1.0)
    frame.add_section("runner", 1e9, 5.0, 5.0, 5.0)
    for k, load in enumerate(UNIFORM):
        frame.add_member(f"M{k}", f"N{k}", f"N{k + 1}", "steel", "runner")
        frame.add_member_dist_load(f"M{k}", "Fy", -load, -load)
    for k, x, force in POINTS:
        frame.add_member_pt_load(f"M{k}", "Fy", -force, x)
    frame.analyze()
    rows = [(0, PLACES[k], PLACES[k + 1], w * (PLACES[k + 1] - PLACES[k])) for k, w in enumerate(UNIFORM)]
    ours = _solve(PLACES, *rows, *[(0, PLACES[k] + x, PLACES[k] + x, force) for k, x, force in POINTS])
    theirs = [frame.nodes[f"N{k}"].RxnFY["Combo 1"] for k in range(5)]
    assert ours.continuous == pytest.approx(theirs, rel=1e-6)
    for k in range(4):
        member = frame.members[f"M{k}"]
        peak = max(abs(member.max_deflection("dy")), abs(member.min_deflection("dy")))
        # Theirs is the greatest of twenty samples a span.
        assert ours.continuous_deflection[k] / 5.0 == pytest.approx(peak, rel=0.01)
