"""Networks of distances adjusted, against published data and against another method of adjustment."""

from itertools import combinations

import numpy as np
import pytest
from measured_rooms import corners_of, lengths_of, measures, zone_of
from shapely import Polygon

from ifcgrid.design.measured import Lengths, adjust, adjust_zone

# Control and observed distances of a trilateration of one station from three, in feet: C. D. Ghilani
# and P. R. Wolf, Adjustment Computations, chapter on adjustment of horizontal surveys: trilateration
# (from memory). The book's answer was not at hand, so it is found again by search below.
CONTROL = np.array([(865.40, 4527.15), (2432.55, 2047.25), (2865.22, 27.15)])
OBSERVED = np.array([6049.00, 4736.83, 5446.49])
APPROXIMATE = np.array([6861.325, 3727.596])


def searched(objective, start, reach):
    """The least of a function of two coordinates, by a grid that closes in on it."""
    best = np.array(start, dtype=float)
    while reach > 1e-7:
        steps = np.linspace(-reach, reach, 21)
        grid = best + np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
        best = grid[np.argmin([objective(p) for p in grid])]
        reach /= 4
    return best


def test_one_station_from_three_known_points_is_where_a_search_finds_it():
    points = np.concatenate([CONTROL, [APPROXIMATE + np.array([3.0, -2.0])]])
    lengths = Lengths(
        start=np.array([0, 1, 2]),
        end=np.array([3, 3, 3]),
        factor=np.ones(3),
        value=OBSERVED,
        deviation=np.ones(3),
    )
    done = adjust(points, lengths, ways=np.eye(8)[:, 6:])
    found = searched(lambda p: ((np.hypot(*(CONTROL - p).T) - OBSERVED) ** 2).sum(), APPROXIMATE, 5.0)
    assert done.points[3] == pytest.approx(found, abs=1e-5)
    # The network has one length more than two coordinates need.
    assert done.redundancy.sum() == pytest.approx(1.0)
    assert done.points[3] == pytest.approx(APPROXIMATE, abs=0.5)


def braced_by_conditions(observed, deviation):
    """The six lengths of a braced quadrilateral adjusted by its one condition, without coordinates.

    Four points of a plane have a Cayley-Menger determinant of zero. Conditions, not
    parameters, are the other of the two textbook methods of least squares.
    """

    def determinant(lengths):
        matrix = np.ones((5, 5)) - np.eye(5)
        for (a, b), length in zip(combinations(range(4), 2), lengths, strict=True):
            matrix[a + 1, b + 1] = matrix[b + 1, a + 1] = length**2
            matrix[0, 0] = 0.0
        for k in range(5):
            matrix[k, k] = 0.0
        return np.linalg.det(matrix / 1e3)

    adjusted = np.array(observed, dtype=float)
    weight_inverse = np.diag(np.asarray(deviation, dtype=float) ** 2)
    for _ in range(50):
        step = 1e-4
        slope = np.array(
            [
                (determinant(adjusted + step * e) - determinant(adjusted - step * e)) / (2 * step)
                for e in np.eye(6)
            ]
        )
        misclosure = determinant(adjusted) + slope @ (observed - adjusted)
        correction = -weight_inverse @ slope * misclosure / (slope @ weight_inverse @ slope)
        adjusted = observed + correction
    return adjusted


@pytest.mark.parametrize("deviation", [(2, 2, 2, 2, 2, 2), (1, 3, 2, 2, 5, 1)])
def test_a_braced_quadrilateral_comes_out_as_by_its_one_condition(deviation):
    corners = np.array([(0.0, 0.0), (61.0, 3.0), (58.0, 45.0), (-2.0, 41.0)])  # metres would do as well
    pairs = np.array(list(combinations(range(4), 2)))
    true = np.hypot(*(corners[pairs[:, 1]] - corners[pairs[:, 0]]).T)
    observed = true + np.array([0.012, -0.008, 0.015, -0.011, 0.009, 0.004])
    sigma = np.array(deviation, dtype=float)
    lengths = Lengths(start=pairs[:, 0], end=pairs[:, 1], factor=np.ones(6), value=observed, deviation=sigma)
    done = adjust(corners + np.array([(0.1, 0), (0, 0.1), (-0.1, 0), (0, 0)]), lengths)
    assert lengths.at(done.points) == pytest.approx(braced_by_conditions(observed, sigma), abs=1e-6)
    assert done.redundancy.sum() == pytest.approx(1.0, abs=1e-6)
    # With one length too many all residuals tell the same story: they are alike in their own deviations.
    assert np.abs(done.standardised) == pytest.approx(np.full(6, abs(done.standardised[0])), rel=1e-5)


def test_a_room_with_both_diagonals_comes_out_as_by_its_one_condition():
    corners = np.array([(6010.0, 0.0), (6010.0, 4270.0), (0.0, 4270.0), (0.0, 0.0)])
    polygon = Polygon(corners)
    sheared = corners + np.array([(20, 3), (35, 0), (14, 4), (0, 0)])
    names = ["DA-AB", "DA-BC", "DA-CD", "AB-BC", "AB-CD", "BC-CD"]
    true = lengths_of(sheared)
    wall_of = {"DA-AB": "A", "AB-BC": "B", "BC-CD": "C", "DA-CD": "D"}
    given = {wall_of.get(name, name): 0.0 for name in names}
    errors = dict(zip(given, (1.5, -2.0, 1.0, -1.0, 2.5, -0.5), strict=True))
    for name in given:
        turned = "-".join(reversed(name.split("-")))
        given[name] = true.get(name, true.get(turned)) + errors[name]
    zone = adjust_zone(zone_of(polygon), measures(given))
    assert not zone.measured.is_square
    wanted = braced_by_conditions(np.array(list(given.values())), np.full(6, 2.0))
    assert [one.after for one in zone.measured.lengths] == pytest.approx(wanted, abs=1e-3)
    ours = lengths_of(corners_of(zone.outline))
    assert ours["A"] == pytest.approx(wanted[0], abs=1e-3)
