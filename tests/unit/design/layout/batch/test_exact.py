"""Many rooms at once: the same answers as one by one, proved, and never beaten by brute force."""

import numpy as np
import pytest
from bench import compare_exact, mixed_rooms
from brute_force import random_room
from shapely import Polygon, affinity, box

from ifcgrid.design.layout import Request, solve_layout, solve_layouts, solve_requests
from ifcgrid.design.layout.batch.axes import read_axes
from ifcgrid.design.layout.batch.cases import see_cases
from ifcgrid.design.layout.batch.cells import count_panels, measure_areas
from ifcgrid.design.layout.coverage import measure_cells
from ifcgrid.design.layout.lattice import make_lattices, see_plan
from ifcgrid.design.layout.walls import read_all_edges
from ifcgrid.domain.building import HeldLine
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.policies import list_policies, read_policy
from ifcgrid.systems import read_system

HALF = read_policy("half-module")
SQUARE, PLANK = read_system("lay-in-600x600"), read_system("lay-in-300x1200")
TERMS = (Term.BORDER_MINIMUM, Term.EQUAL_BORDERS, Term.COLUMN_STRIPS, Term.SMALLEST_BORDER)


def cut_first(*terms: Term) -> Policy:
    return Policy(id="test", title="", source="", basis="", terms=terms)


@pytest.mark.parametrize("block", range(6))
def test_brute_force_finds_no_better_layout_and_the_same_scores(block):
    complaints, exact = compare_exact(range(10_000 + block * 25, 10_000 + block * 25 + 25))
    assert complaints == []
    assert exact >= 24


@pytest.mark.parametrize("system", ["lay-in-600x600", "lay-in-2x4-ft"])
@pytest.mark.parametrize("policy", ["half-module", "fewest-cuts"])
def test_a_batch_gives_to_the_last_bit_what_each_room_gets_alone(system, policy):
    own_system, own_policy = read_system(system), read_policy(policy)
    rooms = mixed_rooms(24, seed=7) + [random_room(seed) for seed in range(12)]
    rooms += [affinity.rotate(room, 11.3 * k, origin=(4e4, -7e4)) for k, room in enumerate(rooms[:12])]
    rooms += [Polygon([(0, 0), (5000, 0), (4300, 3000), (0, 3700)])]
    together = solve_layouts(rooms, own_system, own_policy)
    assert together == [solve_layout(room, own_system, own_policy) for room in rooms]


def test_one_bad_room_does_not_stop_the_others_and_is_named():
    crossed = Polygon([(0, 0), (1000, 1000), (1000, 0), (0, 1000)])
    requests = [Request(outline=o, key=k) for k, o in (("a", box(0, 0, 6100, 4270)), ("b", crossed))]
    good, bad = solve_requests(requests, SQUARE, HALF)
    assert good == solve_layout(box(0, 0, 6100, 4270), SQUARE, HALF, key="a")
    assert isinstance(bad, NoLayoutError)
    assert bad.key == "b"
    with pytest.raises(NoLayoutError, match="room b"):
        solve_layouts([box(0, 0, 6100, 4270), crossed], SQUARE, HALF, keys=["a", "b"])


def test_a_building_line_that_cannot_be_kept_is_the_answer_of_its_room_only():
    line = HeldLine(name="axis C", point=(0.0, 0.0), angle_deg=30.0)
    requests = [
        Request(outline=box(0, 0, 6100, 4270), lines=(line,)),
        Request(outline=box(0, 0, 6100, 4270), lines=(HeldLine(name="D", point=(250.0, 0), angle_deg=90.0),)),
    ]
    bad, good = solve_requests(requests, SQUARE, HALF)
    assert isinstance(bad, NoLayoutError)
    assert (good.frame.x - 250.0) % 600 == pytest.approx(0.0, abs=1e-6) or good.frame.angle_deg == 90.0
    assert "as far as the building's lines leave them open" in good.certificate.statement


@pytest.mark.parametrize("seed", range(20))
def test_terms_cells_and_mains_agree_with_those_of_one_lattice_seen_alone(seed):
    # The general search has its own code for these, for walls in any direction.
    room, system = random_room(seed), (SQUARE, PLANK)[seed % 2]
    edges, owner = read_all_edges([room])
    cases = see_cases(edges, owner, [Request(outline=room)], [[(0.0, (0,))]], system, HALF)
    (lattice,) = make_lattices(see_plan(room, 0.0, ()), system, HALF, (0,))
    rng = np.random.default_rng(seed)
    offsets = rng.uniform(0, 1, (40, 2)) * cases.module[0]
    case = np.zeros(40, dtype=np.int64)
    for axis in lattice.axes:
        alone, place = axis.score(offsets[:, axis.number]), offsets[:, axis.number]
        for term in TERMS:
            found = read_axes(cases, axis.number).measure(term, place, case)
            assert found == pytest.approx(alone[term], abs=1e-6), term
    coverage = measure_cells(lattice.plan.edges.start, lattice.plan.edges.end, lattice.modules, offsets)
    cut, pieces = count_panels(cases, case, offsets)
    assert cut.tolist() == coverage.cut.tolist()
    assert pieces.tolist() == (coverage.cut + coverage.full).tolist()
    assert measure_areas(cases, case, offsets).area.sum() == pytest.approx(40 * room.area)


def test_joint_terms_may_come_first():
    room, terms = box(0, 0, 6010, 6000), (Term.CUT_PANELS, Term.WASTE, Term.EQUAL_BORDERS, Term.MAINS)
    fewest = solve_layout(room, SQUARE, cut_first(*terms))
    assert fewest.certificate.method == "exact"
    # Lines on three walls; 10 mm beside the fourth are a row of 10 cut panels.
    assert dict(fewest.scores)["cut panels"] == 10
    balanced = solve_layout(room, SQUARE, cut_first(Term.EQUAL_BORDERS, Term.CUT_PANELS, Term.MAINS))
    assert dict(balanced.scores)["equal borders"] == 0.0


@pytest.mark.parametrize("seed", range(6))
def test_between_the_compared_offsets_no_layout_gains_more_than_the_stated_gap(seed):
    room, policy = random_room(seed), cut_first(Term.CUT_PANELS, Term.WASTE, Term.MAINS)
    layout = solve_layout(room, SQUARE, policy, angles=[0.0])
    least = dict(layout.scores)["cut panels"]
    if layout.certificate.gap_term == "cut panels":
        least -= layout.certificate.gap
    edges, owner = read_all_edges([room])
    cases = see_cases(edges, owner, [Request(outline=room)], [[(0.0, (0,))]], SQUARE, HALF)
    places = np.mod(np.random.default_rng(seed).uniform(0, 600, (3000, 2)), 600.0)
    walls = [np.unique(edges.start[:, k] - edges.start[:, k].min()) for k in (0, 1)]
    away = [np.abs((places[:, k, None] - walls[k] + 300) % 600 - 300).min(axis=1) for k in (0, 1)]
    # A hair beside a wall there are scraps that nobody sets out: spots beside a wall are left out.
    places = places[(away[0] >= 1.0) & (away[1] >= 1.0)]
    cut, _ = count_panels(cases, np.zeros(len(places), dtype=np.int64), places)
    assert cut.min() >= least


def test_nearly_equal_ties_take_the_offset_on_the_wall():
    # A run of ten modules and 0.00999 mm: a line on either wall is as good, and the first wall's is taken.
    layout = solve_layout(box(0, 0, 6000.00999, 4270), SQUARE, HALF, angles=[0.0, 90.0])
    assert layout.frame.x % 600 == pytest.approx(0.0, abs=1e-9)
    turned = solve_layout(box(0, 0, 4270, 6000.00999), SQUARE, HALF, angles=[0.0, 90.0])
    assert turned.frame.y % 600 == pytest.approx(0.0, abs=1e-9)


def test_corners_a_hair_out_of_line_are_set_in_line():
    wavering = Polygon([(0, 0), (6100, 0.004), (6100.003, 4270), (0.002, 4269.998)])
    straight = solve_layout(box(0, 0, 6100, 4270), SQUARE, HALF)
    layout = solve_layout(wavering, SQUARE, HALF)
    assert layout.certificate.method == "exact"
    assert [s for _, s in layout.scores] == pytest.approx([s for _, s in straight.scores], abs=0.02)
    assert layout.borders[0].end == (6100.0, 0.004)  # the outline itself stays as it was drawn


@pytest.mark.parametrize("policy", list_policies())
def test_the_proof_says_which_terms_were_compared_in_pairs(policy):
    layout = solve_layout(mixed_rooms(2)[1], SQUARE, read_policy(policy))
    assert layout.certificate.gap == 0.0
    assert layout.certificate.gap_term == ""
    assert "no other offset scores better" in layout.certificate.statement
    assert f"{layout.certificate.tried} layouts" in layout.certificate.statement
