"""Measured points: slips of unit and axes, moved stations and outliers are told, each by its name."""

import math

import numpy as np
import pytest

from ifcgrid.checks.survey import compare_points

FAR = np.array([9_063_992_684.7, 729_013_348.8, 1300.0])
"""A place in a national grid, in mm."""

POINTS = {
    f"P{k}": tuple(row)
    for k, row in enumerate(
        (
            np.array(
                [
                    *((0, 0, 2700), (0, 6010, 2700), (4270, 6010, 2700), (4270, 0, 2700)),
                    *((900 + 1200 * i, 305 + 1100 * j, 3900) for i in range(3) for j in range(5)),
                ]
            )
            + FAR
        ).tolist()
    )
}


def moved(move):
    """All points after a move of (n, e, z)."""
    return {name: tuple(map(float, move(*place))) for name, place in POINTS.items()}


def compared(move, within=5.0):
    return compare_points(POINTS, moved(move), within)


def test_points_as_set_out_have_no_deviation_and_nothing_to_tell():
    survey = compared(lambda n, e, z: (n, e, z))
    assert not survey.slips
    assert not survey.says
    assert all(p.north == p.east == p.up == 0 and not p.is_outlier and not p.is_beyond for p in survey.points)


def test_each_point_s_deviation_is_measured_less_set_out():
    measured = moved(lambda n, e, z: (n, e, z)) | {
        "P7": tuple(np.array(POINTS["P7"]) + np.array([4.0, -3.0, 1.5]))
    }
    survey = compare_points(POINTS, measured, 4.5)
    found = {p.name: p for p in survey.points}["P7"]
    assert (found.north, found.east, found.up) == pytest.approx((4.0, -3.0, 1.5), abs=1e-5)
    assert found.is_beyond
    assert sum(p.is_beyond for p in survey.points) == 1


@pytest.mark.parametrize(
    ("move", "words"),
    [
        (lambda n, e, z: (e, n, z), "northing and easting changed places"),
        (lambda n, e, z: (-n, e, z), "northings have the wrong sign"),
        (lambda n, e, z: (n, -e, z), "eastings have the wrong sign"),
        (
            lambda n, e, z: (n * 1000, e * 1000, z * 1000),
            "1000 times what they should be",
        ),
        (lambda n, e, z: (n / 1000, e / 1000, z / 1000), "in m and were read as mm"),
        (lambda n, e, z: (n / 304.8, e / 304.8, z / 304.8), "in ft and were read as mm"),
        (lambda n, e, z: (n * 0.3048, e * 0.3048, z * 0.3048), "if they are in m and were read as ft"),
        (lambda n, e, z: (n / 25.4, e / 25.4, z / 25.4), "in in and were read as mm"),
        (
            lambda n, e, z: (n * 0.999998, e * 0.999998, z * 0.999998),
            "US survey feet and were read as international feet",
        ),
    ],
)
def test_a_slip_of_unit_or_axes_is_named_and_then_nothing_else_is_wrong(move, words):
    survey = compared(move)
    assert words in " ".join(survey.slips)
    assert len(survey.slips) == 1
    assert not survey.is_moved
    assert all(math.hypot(p.north, p.east) < 0.1 and not p.is_outlier for p in survey.points)


def test_metres_with_axes_that_changed_places_are_two_slips():
    survey = compared(lambda n, e, z: (e / 1000, n / 1000, z / 1000))
    assert len(survey.slips) == 2
    assert all(math.hypot(p.north, p.east) < 0.1 for p in survey.points)


def test_a_mirror_image_beside_its_place_is_told_as_such():
    survey = compared(lambda n, e, z: (e + 5000.0, n - 2000.0, z))
    assert "northing and easting changed places" in survey.slips[0]


def turned(angle_deg, north, east):
    """A station turned counter-clockwise about the middle of the points, and shifted."""
    centre = np.mean([p[:2] for p in POINTS.values()], axis=0)
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))

    def move(n, e, z):
        dn, de = n - centre[0], e - centre[1]
        # East is x, north is y: counter-clockwise takes east to north.
        return (centre[0] + c * dn + s * de + north, centre[1] + c * de - s * dn + east, z)

    return move


def test_a_turned_and_shifted_station_is_told_with_its_turn_and_shift():
    survey = compared(turned(0.25, 31.0, -12.0))
    assert survey.is_moved
    assert survey.turn_deg == pytest.approx(0.25, abs=1e-6)
    assert survey.shift[:2] == pytest.approx((31.0, -12.0), abs=1e-3)
    assert survey.rest_rms == pytest.approx(0.0, abs=1e-3)
    assert "shifted by +31.0 mm north and -12.0 mm east and turned by 0.2500 degrees counter-clockwise" in (
        " ".join(survey.says)
    )


def test_the_sign_of_the_turn_is_that_of_a_plan_with_north_up():
    # One point east of the middle that is measured farther north: counter-clockwise.
    survey = compared(turned(0.1, 0.0, 0.0))
    east_most = max(survey.points, key=lambda p: POINTS[p.name][1])
    assert east_most.north > 0
    assert survey.turn_deg > 0


def test_three_outliers_do_not_move_the_station():
    measured = moved(turned(0.05, 8.0, 3.0))
    for name, step in (("P5", (400, 0, 0)), ("P9", (0, -90, 0)), ("P12", (-60, 60, 0))):
        measured[name] = tuple(np.array(measured[name]) + step)
    survey = compare_points(POINTS, measured, 5.0)
    assert {p.name for p in survey.points if p.is_outlier} == {"P5", "P9", "P12"}
    assert survey.shift[:2] == pytest.approx((8.0, 3.0), abs=0.3)  # about the middle of the others
    assert survey.turn_deg == pytest.approx(0.05, abs=1e-3)


def test_elevations_that_are_all_off_point_to_the_benchmark():
    survey = compared(lambda n, e, z: (n, e, z - 12.0))
    assert "all elevations are off by -12.0 mm" in " ".join(survey.says)


def test_missing_and_unknown_points_are_named():
    measured = moved(lambda n, e, z: (n, e, z))
    del measured["P3"]
    survey = compare_points(POINTS, measured | {"X1": (0.0, 0.0, 0.0)}, 5.0)
    assert survey.missing == ("P3",)
    assert survey.unknown == ("X1",)


def test_points_without_elevation_are_compared_in_plan():
    survey = compared(lambda n, e, z: (n + 1, e, z * math.nan))
    assert not any(p.is_beyond for p in survey.points)


@pytest.mark.parametrize("names", [[], ["P1"], ["P1", "P2"]])
def test_too_few_points_are_compared_and_told_to_be_too_few(names):
    survey = compare_points(POINTS, {name: POINTS[name] for name in names}, 5.0)
    assert len(survey.points) == len(names)
    assert any("fewer than three" in text or "no measured point" in text for text in survey.says)


def test_points_on_one_line_tell_no_mirrored_axes_and_say_so():
    row = {name: POINTS[name] for name in ("P4", "P5", "P6", "P7", "P8")}
    survey = compare_points(row, row, 5.0)
    assert "on one line" in " ".join(survey.says)


def test_the_best_transform_of_noisy_points_is_that_of_a_search():
    noise = np.random.default_rng(5).normal(0, 2, (len(POINTS), 2))
    move = turned(0.04, 20.0, 5.0)
    measured = {
        name: (n + d[0], e + d[1], z) for (name, (n, e, z)), d in zip(moved(move).items(), noise, strict=True)
    }
    survey = compare_points(POINTS, measured, 50.0)
    wanted = np.array(list(POINTS.values()))[:, :2]
    found = np.array(list(measured.values()))[:, :2]
    centre = wanted.mean(axis=0)

    def off(turn, north, east):
        c, s = math.cos(turn), math.sin(turn)
        dn, de = (wanted - centre).T
        there = np.stack([c * dn + s * de + north, c * de - s * dn + east], axis=1) + centre
        return ((found - there) ** 2).sum()

    best = (math.radians(survey.turn_deg), *survey.shift[:2])
    for k, step in ((0, 1e-6), (1, 0.05), (2, 0.05)):
        for sign in (1, -1):
            other = list(best)
            other[k] += sign * step
            assert off(*other) > off(*best)
