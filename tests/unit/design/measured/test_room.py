"""A room's outline as it was measured: what follows from few lengths, from many, and from wrong ones."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from measured_rooms import L_ROOM, ROUND_END, WITH_COLUMN, corners_of, lengths_of, measures, zone_of
from shapely import Polygon, affinity, box

from ifcgrid.design.measured import adjust_zone, restore_zone
from ifcgrid.domain.errors import RoomError
from ifcgrid.ifc.measured_text import from_text, to_text

ROOM = box(0, 0, 6010, 4270)  # A is the wall at x = 6010, then B at the top, C, D at the bottom


def bounds_size(zone):
    x0, y0, x1, y1 = zone.outline.bounds
    return x1 - x0, y1 - y0


def test_one_wall_19_mm_shorter_leaves_the_room_square_and_in_its_middle():
    zone = adjust_zone(zone_of(ROOM), measures({"B": 5991}))
    assert zone.outline.bounds == pytest.approx((9.5, 0, 6000.5, 4270), abs=1e-6)
    assert zone.measured.is_square
    assert [w.after for w in zone.measured.walls] == pytest.approx([4270, 5991, 4270, 5991], abs=1e-6)
    assert zone.rooms[0].outline.equals(zone.outline)
    assert zone.rooms[0].section.equals(zone.outline)


def test_opposite_walls_that_differ_tilt_the_walls_between_them_and_lengthen_none():
    zone = adjust_zone(zone_of(ROOM), measures({"B": 5991, "D": 6000}))
    assert corners_of(zone.outline) == pytest.approx(
        np.array([(6005, 0), (6000.5, 4270), (9.5, 4270), (5, 0)]), abs=1e-3
    )
    assert not zone.measured.is_square


def test_lengths_within_their_deviation_of_square_are_laid_out_square():
    true = lengths_of(corners_of(box(0, 0, 5991, 4271)))
    given = {
        name: value + off for (name, value), off in zip(true.items(), (1, -1, 1, -1, 1, -1), strict=True)
    }
    zone = adjust_zone(zone_of(ROOM), measures(given))
    assert zone.measured.is_square
    first, *_ = (np.diff(corners_of(zone.outline), axis=0) for _ in "x")
    assert np.abs(first).min(axis=1) == pytest.approx(0, abs=1e-6)


def test_a_room_out_of_square_by_its_diagonals_keeps_its_longest_wall_in_direction():
    sheared = np.array([(6010, 0), (6040, 4270), (30, 4270), (0, 0)])
    zone = adjust_zone(zone_of(ROOM), measures(lengths_of(sheared)))
    turned = corners_of(zone.outline)
    assert turned[2, 1] == pytest.approx(turned[1, 1], abs=1e-6)
    assert turned - turned.mean(axis=0) == pytest.approx(sheared - sheared.mean(axis=0), abs=1e-6)
    assert zone.measured.redundancy == 1


def test_a_wall_that_is_held_stays_on_its_line():
    zone = adjust_zone(zone_of(ROOM), measures({"A": 4260, "B": 5991}, hold="C"))
    assert corners_of(zone.outline)[2:, 0] == pytest.approx([0, 0], abs=1e-6)
    assert bounds_size(zone) == pytest.approx((5991, 4260), abs=1e-6)


def test_in_an_l_room_the_longer_wall_takes_more_of_what_is_missing():
    zone = adjust_zone(zone_of(L_ROOM), measures({"A": 6331}))
    walls = {wall.letter: wall.after - wall.before for wall in zone.measured.walls}
    assert walls["A"] == pytest.approx(-19, abs=1e-6)
    assert walls["C"] + walls["E"] == pytest.approx(-19, abs=1e-6)
    assert walls["E"] / walls["C"] == pytest.approx(3700 / 2650, rel=1e-3)
    assert [walls[k] for k in "BDF"] == pytest.approx([0, 0, 0], abs=1e-6)


def test_a_rounded_end_stays_half_a_circle():
    zone = adjust_zone(zone_of(ROUND_END), measures({"D": 3980}))
    end = corners_of(zone.outline)[1:-1]
    assert np.hypot(*(end - [6000, 2000]).T) == pytest.approx(1990, abs=1e-6)


def test_a_curved_wall_is_measured_along_itself():
    before = {
        w.letter: w.before for w in adjust_zone(zone_of(ROUND_END), measures({"A": 6000})).measured.walls
    }
    zone = adjust_zone(zone_of(ROUND_END), measures({"B": before["B"] * 0.99}))
    assert bounds_size(zone)[1] == pytest.approx(0.99 * 4000, abs=1e-6)


def test_a_round_room_is_measured_by_its_girth():
    turns = np.radians(np.arange(0, 360, 15))
    circle = Polygon(np.stack([3000 * np.cos(turns), 3000 * np.sin(turns)], axis=1))
    zone = adjust_zone(zone_of(circle), measures({"A": circle.length - 60}))
    assert zone.outline.length == pytest.approx(circle.length - 60, abs=1e-6)
    assert np.hypot(*corners_of(zone.outline).T) == pytest.approx(zone.outline.length / circle.length * 3000)


def test_walls_that_disagree_by_little_stretch_no_other_wall_by_much():
    # The right wall leans by 1 mm in 2.5 m: some 20 m more of it would explain 9 mm.
    leaning = Polygon([(0, 0), (2501, 0), (2500, 2500), (0, 2500)])
    zone = adjust_zone(zone_of(leaning), measures({"A": 2505, "C": 2496}))
    assert not zone.measured.is_square
    assert [w.after for w in zone.measured.walls] == pytest.approx([2505, 2500, 2496, 2500], abs=0.1)


def test_lengths_that_need_an_absurd_wall_are_refused_by_that_wall():
    # 9000 along and 9100 across the corners make the short wall sqrt(9100^2 - 9000^2) = 1345 mm.
    given = {"B": 9000, "D": 9000, "AB-CD": 9100, "BC-DA": 9100}
    with pytest.raises(RoomError, match=r"fit only if wall A is 1345\.\d mm long, the model has 600\.0 mm"):
        adjust_zone(zone_of(box(0, 0, 9000, 600)), measures(given))


def test_a_column_keeps_its_size_and_moves_along_with_the_room():
    zone = adjust_zone(zone_of(WITH_COLUMN), measures({"A": 5940}))
    hole = Polygon(zone.outline.interiors[0])
    assert hole.bounds == pytest.approx((1018, 1000, 1418, 1400), abs=1e-5)


def test_a_column_is_placed_by_distances_to_the_room_s_corners():
    walls = {"A": 6000, "B": 4000, "C": 6000, "D": 4000}
    distances = {"DA-HE": np.hypot(1020, 1000), "AB-HE": np.hypot(4980, 1000)}
    zone = adjust_zone(zone_of(WITH_COLUMN), measures({**walls, **distances}))
    hole = Polygon(zone.outline.interiors[0])
    assert hole.bounds == pytest.approx((1020, 1000, 1420, 1400), abs=0.01)


def test_points_on_a_straight_wall_stay_on_it():
    polygon = Polygon([(0, 0), (2000, 0), (6010, 0), (6010, 4270), (0, 4270)])
    zone = adjust_zone(zone_of(polygon), measures({"A": 5991, "C": 6000}))
    a, b, c = corners_of(zone.outline)[:3]
    (u, v), (x, y) = b - a, c - a
    assert u * y - v * x == pytest.approx(0, abs=1e-3)
    assert len(zone.measured.walls) == 4


def test_what_was_adjusted_once_is_not_changed_again():
    given = measures({"A": 6331, "B": 3190, "FA-CD": 4920, "AB-DE": 5690})
    once = adjust_zone(zone_of(L_ROOM), given)
    twice = adjust_zone(replace(once, measured=None), given)
    assert shapely.get_coordinates(twice.outline) == pytest.approx(
        shapely.get_coordinates(once.outline), abs=1e-3
    )


def test_one_wrong_length_among_many_is_found_set_aside_and_told():
    true = lengths_of(corners_of(affinity.scale(L_ROOM, 0.997, 1.0, origin=(0, 0))))
    zone = adjust_zone(zone_of(L_ROOM), measures({**true, "C": true["C"] + 40}))
    assert [one.name for one in zone.measured.set_aside] == ["C"]
    assert zone.measured.set_aside[0].after == pytest.approx(true["C"], abs=1e-3)
    size = bounds_size(zone)
    assert size == pytest.approx((6350 * 0.997, 5080), abs=1e-3)


def test_where_it_cannot_be_told_which_length_is_wrong_the_room_is_refused_with_all_of_them():
    true = lengths_of(corners_of(ROOM))
    with pytest.raises(RoomError, match="do not tell which is wrong") as error:
        adjust_zone(zone_of(ROOM), measures({**true, "AB-CD": true["AB-CD"] + 60}))
    # What the others ask for in its place is the true length.
    assert f"distance AB-CD {true['AB-CD'] + 60:.1f} (the others ask for {true['AB-CD']:.1f})" in str(
        error.value
    )


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"B": 8010}, "wall B: 8010.0 mm were given, the model has 6010.0 mm, 2000.0 mm less"),
        ({"A": 420.0}, "centimetres were meant"),
        ({"A": 4270 / 25.4}, "inches were meant"),
        ({"A": 4.27}, "metres were meant"),
        ({"Z": 1000}, "wall Z: there is no such wall; the room has A to D"),
        ({"AC-BD": 1000}, "no walls meet in a corner AC; the room's corners are AB, BC, CD, DA"),
        ({"AB-BA": 1000}, "both ends are the same corner"),
        ({"B": 0.5}, "at most 150 mm are taken for a difference on site"),
    ],
)
def test_what_cannot_be_is_refused_by_name_with_what_would_be_right(given, words):
    with pytest.raises(RoomError) as error:
        adjust_zone(zone_of(ROOM), measures(given))
    assert words in str(error.value)


def test_a_distance_longer_than_the_walls_round_it_names_them_both():
    flat = Polygon([(0, 0), (3000, 0), (6000, 100), (6000, 4000), (0, 4000)])
    given = {"A": 3000, "B": 3000, "EA-BC": 6030}
    with pytest.raises(RoomError, match=r"walls A and B together reach only 6000\.0 mm"):
        adjust_zone(zone_of(flat), measures(given))


def test_far_from_the_origin_the_answer_is_the_same():
    near = adjust_zone(zone_of(ROOM), measures({"A": 4260, "B": 5991, "C": 4271}))
    far = adjust_zone(
        zone_of(affinity.translate(ROOM, 7e8, 9e9)), measures({"A": 4260, "B": 5991, "C": 4271})
    )
    assert corners_of(far.outline) - [7e8, 9e9] == pytest.approx(corners_of(near.outline), abs=1e-4)


def test_what_was_measured_survives_being_written_and_read():
    zone = adjust_zone(zone_of(WITH_COLUMN), measures({"A": 5940, "B": 4010, "C": 5941, "AB-CD": 7170}))
    measured, outline = from_text(to_text(zone.measured, zone.outline))
    assert measured == zone.measured
    assert outline.equals_exact(zone.outline, 0)
    again = restore_zone(zone_of(WITH_COLUMN), measured, outline)
    assert again.outline.equals_exact(zone.outline, 0)
    assert again.rooms[0].outline.equals_exact(zone.outline, 0)


def test_a_record_that_somebody_changed_is_refused():
    with pytest.raises(ValueError, match="cannot be read"):
        from_text('{"outline": 3}')
