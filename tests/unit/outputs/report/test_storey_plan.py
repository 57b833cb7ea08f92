"""The plan in the report: what stands on the storey, in its place, once."""

from __future__ import annotations

import re

import pytest
from ceilings import make_ceiling, make_room
from shapely import Polygon, box

from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.outputs.report.content import FloorReport, gather_storeys
from ifcgrid.outputs.report.floor_plans import draw_plans

WALL = box(-200, -200, 0, 3200)


def _wall(key: str, outline: Polygon, bottom: float, top: float) -> Obstacle:
    return Obstacle(key=key, kind=Kind.WALL, name=key, outline=outline, bottom=bottom, top=top)


def _draw(obstacles=(), findings=()) -> str:
    room = make_room("1", box(0, 0, 6000, 3000))
    report = FloorReport(
        title="t",
        stamp={},
        origin="o",
        ceilings=[make_ceiling([room])],
        obstacles=obstacles,
        findings=[
            Finding(
                rule="r",
                source="s",
                clause="",
                verdict=Verdict.FAIL,
                room=room.key,
                subjects=(),
                message="m",
                point=point,
            )
            for point in findings
        ],
    )
    return draw_plans(gather_storeys(report), report)


def _area(path: str) -> float:
    """The area that a path of relative lines encloses, by the even-odd rule for rings apart."""
    total = 0.0
    for ring in path.split("M")[1:]:
        numbers = [int(n) for n in re.findall(r"-?\d+", ring)]
        points = [(numbers[0], numbers[1])]
        for dx, dy in zip(numbers[2::2], numbers[3::2], strict=True):
            points.append((points[-1][0] + dx, points[-1][1] + dy))
        total += Polygon(points).area
    return total


def _solids(page: str) -> str:
    return re.search(r'<g class="solids"><path d="([^"]*)">', page)[1]


@pytest.mark.parametrize("count", [1, 2, 3])
def test_walls_that_stand_on_each_other_are_drawn_once(count):
    walls = [_wall(str(k), WALL, 0.0, 3000.0) for k in range(count)]
    assert _area(_solids(_draw(walls))) == pytest.approx(WALL.area)


def test_walls_of_the_storeys_above_and_below_are_not_drawn():
    walls = [_wall("above", WALL, 3000.0, 6000.0), _wall("below", WALL, -3000.0, 0.0)]
    assert _solids(_draw(walls)) == ""


def test_a_flag_stands_where_its_finding_is():
    page = _draw(findings=[(1000.0, 500.0, 2700.0)])
    x, y = re.search(r'transform="translate\((\d+) (\d+)\)"', page).groups()
    # The plan begins 900 mm outside the rooms, y runs down.
    assert (int(x), int(y)) == (1900, 900 + 2500)


def test_a_storey_of_which_nothing_can_be_drawn_says_so():
    report = FloorReport(title="t", stamp={}, origin="o", ceilings=[])
    assert "<svg" not in draw_plans(gather_storeys(report), report)
