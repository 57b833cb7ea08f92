"""One direction of a room: strips, opposite borders and devices at given offsets."""

import numpy as np
import pytest
from shapely import Point, Polygon, box

from ifcgrid.design.layout.lattice import see_plan
from ifcgrid.design.layout.offsets import Axis, make_axis
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.policies import read_policy

HALF = read_policy("half-module")
BORDER, EQUAL, FIXTURES = Term.BORDER_MINIMUM, Term.EQUAL_BORDERS, Term.FIXTURES


def axis_of(
    outline: Polygon, number: int = 0, policy: Policy = HALF, fixtures: tuple[Polygon, ...] = ()
) -> Axis:
    plan = see_plan(outline, 0.0, fixtures)
    return make_axis(plan.edges, number, (600.0, 600.0), policy, plan.fixtures, plan.seats[number])


def score(axis: Axis, term: Term, *offsets: float) -> list[float]:
    return axis.score(np.array(offsets))[term].tolist()


def test_a_wall_on_a_line_has_a_full_panel():
    axis = axis_of(box(0, 0, 3000, 3000))
    found = score(axis, Term.SMALLEST_BORDER, 0.0, 0.005, 300.0)
    assert found == pytest.approx([-600, -599.995, -300])


def test_the_shortfall_is_that_of_the_narrowest_border():
    # 6100 mm: from 100 the borders are 100 and 600, from 470 they are 470 and 230.
    assert score(axis_of(box(0, 0, 6100, 3000)), BORDER, 100.0, 350.0, 470.0) == pytest.approx([200, 0, 70])


def test_a_niche_narrower_than_the_minimum_hides_no_shortfall_and_wants_no_line():
    # The niche spans 2000 to 2250; no line cuts it at offsets of 100 and 470, one does at 350.
    niche = axis_of(box(0, 0, 6100, 4270).union(box(2000, 4200, 2250, 6000)))
    assert score(niche, BORDER, 100.0, 470.0, 350.0) == pytest.approx([200, 70, 150])


def test_a_room_below_one_module_wants_no_line():
    assert score(axis_of(box(0, 0, 500, 4000)), BORDER, 250.0, 500.0, 550.0) == pytest.approx([50, 0, 0])
    assert score(axis_of(box(0, 0, 500, 4000)), EQUAL, 100.0, 550.0) == pytest.approx([300, 0])


def test_the_difference_of_opposite_borders_is_weighted_by_their_length():
    # 2000 mm of the height are 6100 mm wide: borders 300 and 400; 1000 mm are 4000 wide: 300 and 100.
    stepped = Polygon([(0, 0), (6100, 0), (6100, 2000), (4000, 2000), (4000, 3000), (0, 3000)])
    assert score(axis_of(stepped), EQUAL, 300.0) == pytest.approx([(100 * 2000 + 200 * 1000) / 3000])


def test_differences_within_what_the_policy_calls_equal_are_none():
    lenient = Policy(id="lenient", title="", source="", basis="", equal_within=5.0)
    assert score(axis_of(box(0, 0, 6100, 3000), policy=lenient), EQUAL, 348.0, 353.0) == pytest.approx([0, 6])


def test_the_mean_difference_at_a_tapering_wall_is_its_integral():
    taper = Polygon([(0, 0), (6100, 0), (6400, 4000), (0, 4000)])
    heights = (np.arange(20_000) + 0.5) / 20_000
    for offset in (10.0, 215.0, 350.0, 467.3):
        away = 2 * offset - (6100 + 300 * heights)
        wanted = np.abs(away - np.round(away / 600) * 600).mean()
        assert score(axis_of(taper), EQUAL, offset) == pytest.approx([wanted], abs=0.01)


def test_an_oblique_wall_has_no_opposite_border():
    oblique = Polygon([(0, 0), (9000, 0), (5000, 5500), (0, 5500)])
    assert score(axis_of(oblique), EQUAL, 0.0, 100.0, 300.0) == [0, 0, 0]


def test_a_circle_wants_a_joint_or_a_panel_on_its_centre():
    circle = axis_of(Point(0, 0).buffer(3000, quad_segs=64))
    joint, tile, beside = score(circle, EQUAL, 0.0, 300.0, 130.0)
    assert joint == pytest.approx(0, abs=1e-6)
    assert tile == pytest.approx(0, abs=1e-6)
    # At the very top and bottom the chords are too short to hold a line.
    assert beside == pytest.approx(260, abs=0.1)


def test_a_line_that_meets_a_tapering_wall_leaves_no_strip_there():
    taper = axis_of(Polygon([(0, 0), (6100, 0), (6200, 4000), (0, 4000)]))
    # Lines at 350 + 600 k: 6050..6350 lie beyond 6100, so the strip runs from 350 to 450 mm wide.
    assert taper.borders.widths(np.array([350.0, 150.0]), 600.0)[0].min() == pytest.approx(350)
    assert taper.borders.widths(np.array([150.0]), 600.0)[0].min() == 0.0


@pytest.mark.parametrize(
    ("offset", "off"), [(100.0, 0), (97.0, 0), (103.0, 0), (96.0, 1), (104.0, 1), (400.0, 1)]
)
def test_a_device_of_a_whole_cell_is_on_module_within_what_a_check_lets_pass(offset, off):
    axis = axis_of(box(0, 0, 6000, 3000), fixtures=(box(1300, 900, 1900, 1500),))
    assert score(axis, FIXTURES, offset) == [off]


def test_a_device_of_two_cells_is_on_module_from_either_line():
    axis = axis_of(box(0, 0, 6000, 3000), fixtures=(box(1300, 900, 2497, 1500),))
    assert score(axis, FIXTURES, 100.0, 700.0 % 600, 400.0) == [0, 0, 1]


def test_a_device_that_lies_loose_in_its_cells_is_off_module_anywhere():
    axis = axis_of(box(0, 0, 6000, 3000), fixtures=(box(1300, 900, 1909.6, 1500),))
    assert score(axis, FIXTURES, *range(0, 600, 5)) == [1] * 120


def test_no_offset_between_the_critical_ones_scores_better_on_the_leading_terms():
    rng = np.random.default_rng(7)
    stepped = Polygon([(0, 0), (6217, 0), (6217, 2140), (4033, 2140), (4033, 3333), (0, 3333)])
    axis = axis_of(stepped)
    best = min(zip(*(axis.score(axis.critical())[t] for t in (BORDER, EQUAL)), strict=True))
    offsets = rng.uniform(0, 600, 5000)
    offsets = offsets[axis.is_clear(offsets)]
    for short, unequal in zip(*(axis.score(offsets)[t] for t in (BORDER, EQUAL)), strict=True):
        assert (short, unequal) >= (best[0] - 1e-6, best[1] - 1e-6) or short > best[0] + 1e-6
