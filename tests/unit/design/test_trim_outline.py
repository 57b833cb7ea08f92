"""A ceiling's outline is read off its wall angles, or not at all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import Polygon, box
from take_offs import a_ceiling

from ifcgrid.design.trim_outline import outline_of_angles
from ifcgrid.domain.ceiling import Ceiling, Members, Role

OUTLINES = {
    "rectangle": box(0, 0, 6100, 4270),
    "L": Polygon([(0, 0), (6100, 0), (6100, 3100), (3700, 3100), (3700, 4900), (0, 4900)]),
    "column": box(0, 0, 6100, 4270) - box(2000, 1500, 2457, 1957),
}


def pick(members: Members, kept: np.ndarray) -> Members:
    return Members(**{name: getattr(members, name)[kept] for name in Members.__dataclass_fields__})


@pytest.mark.parametrize("name", OUTLINES)
def test_the_outline_is_that_of_the_room(name):
    ceiling = a_ceiling(outline=OUTLINES[name])
    found = outline_of_angles(ceiling.members)
    assert found is not None
    wanted = ceiling.layout.frame.shape_to_local(OUTLINES[name])
    assert found.symmetric_difference(wanted).area < 1.0


@pytest.fixture
def ceiling() -> Ceiling:
    return a_ceiling()


def test_an_angle_that_is_gone_leaves_no_outline(ceiling):
    walls = np.flatnonzero(ceiling.members.role == Role.WALL_ANGLE)
    kept = np.ones(len(ceiling.members), dtype=bool)
    kept[walls[1]] = False
    assert outline_of_angles(pick(ceiling.members, kept)) is None


def test_an_angle_that_was_moved_leaves_no_outline(ceiling):
    start = ceiling.members.start.copy()
    start[np.flatnonzero(ceiling.members.role == Role.WALL_ANGLE)[0]] += 5.0
    assert outline_of_angles(replace(ceiling.members, start=start)) is None


def test_no_angles_no_outline(ceiling):
    assert outline_of_angles(pick(ceiling.members, ceiling.members.role != Role.WALL_ANGLE)) is None
