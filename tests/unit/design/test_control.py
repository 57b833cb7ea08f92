"""Which wall a grid squares to."""

import numpy as np
import pytest
from shapely import Point, Polygon, affinity, box

from ifcgrid.design.control import doors_of, find_control
from ifcgrid.domain.building import Door
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.setting_out import read_control

CROOKED = Polygon([(0, 0), (6000, 90), (5950, 4000), (40, 4200)])
"""Four walls, four directions; wall B on the east side, wall D on the west."""


def door(x: float, y: float, angle_deg: float, key: str = "D1", bottom: float = 0.0) -> Door:
    return Door(key=key, name=key, point=(x, y), angle_deg=angle_deg, bottom=bottom)


def direction(a: tuple[float, float], b: tuple[float, float]) -> float:
    return float(np.degrees(np.arctan2(b[1] - a[1], b[0] - a[0]))) % 180.0


@pytest.mark.parametrize(
    ("text", "edge"),
    [
        ("longest", 0),
        ("wall 3", 2),
        ("wall C", 2),
        ("north", 2),
        ("east", 1),
        ("south", 0),
        ("west", 3),
    ],
)
@pytest.mark.parametrize("is_reversed", [False, True])
def test_a_wall_is_found_by_length_number_letter_and_side(text, edge, is_reversed):
    points = list(CROOKED.exterior.coords)[:-1]
    ends = points[edge], points[(edge + 1) % 4]
    outline = CROOKED
    if is_reversed and not text.startswith("wall"):
        outline = Polygon(points[::-1])
    found = find_control(outline, read_control(text))
    assert found.angle_deg == pytest.approx(direction(*ends), abs=1e-8)


def test_the_wall_that_faces_the_door_is_the_first_across_the_room():
    found = find_control(CROOKED, read_control("entrance"), [door(3000, -100, 0.0)])
    assert found.edges == (2,)
    assert "facing the entrance, door D1" in found.words
    niche = box(0, 0, 6000, 4000).difference(box(2000, 2500, 4000, 4000))
    found = find_control(niche, read_control("entrance"), [door(3000, -100, 0.0)])
    start = np.array(niche.exterior.coords)[found.edges[0]]
    end = np.array(niche.exterior.coords)[found.edges[0] + 1]
    assert start[1] == end[1] == 2500


def test_of_several_doors_the_one_in_the_longest_wall_leads():
    doors = [door(6060, 2000, 90.0, "A"), door(3000, -50, 0.0, "B")]
    assert find_control(CROOKED, read_control("entrance"), doors).edges == (2,)


def test_without_a_door_the_longest_wall_controls_and_says_so():
    found = find_control(CROOKED, read_control("entrance"))
    assert found.edges == (0,)
    assert "the model has no door here" in found.words


@pytest.mark.parametrize(
    ("entry", "is_found"),
    [
        (door(3000, -100, 0.0), True),
        (door(3000, -100, 178.0), True),
        (door(3000, -100, 90.0), False),  # a door in a wall that only ends here
        (door(3000, -499, 0.0), True),
        (door(3000, -501, 0.0), False),
        (door(3000, -100, 0.0, bottom=499.0), True),
        (door(3000, -100, 0.0, bottom=501.0), False),
        (door(-2000, 0, 0.0), False),
    ],
)
def test_a_door_belongs_to_a_room_when_its_leaf_runs_along_a_near_wall(entry, is_found):
    assert bool(doors_of(box(0, 0, 6000, 4000), 0.0, [entry])) is is_found


def test_a_wall_that_is_not_there_is_refused_by_name():
    with pytest.raises(NoLayoutError, match="room R1 has no wall Z to square to; its walls are A, B, C, D"):
        find_control(CROOKED, read_control("wall Z"), key="R1")
    round_end = box(0, 0, 6000, 4000).union(Point(6000, 2000).buffer(2000))
    curve = max(range(len(round_end.exterior.coords) - 1), key=lambda k: round_end.exterior.coords[k][0])
    with pytest.raises(NoLayoutError, match="is a curve; name a straight wall"):
        find_control(round_end, read_control(f"wall {curve + 1}"))


def test_the_choice_turns_with_the_room():
    turned = affinity.rotate(CROOKED, 33.0, origin=(0, 0))
    entry = affinity.rotate(Point(3000, -100), 33.0, origin=(0, 0))
    found = find_control(turned, read_control("entrance"), [door(entry.x, entry.y, 33.0)])
    assert found.edges == (2,)
