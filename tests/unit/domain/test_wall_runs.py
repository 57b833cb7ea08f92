"""Edges of an outline taken together to walls."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from handmade_ceilings import ROUND_ENDED

from ifcgrid.domain.wall_runs import wall_runs

POINTS = np.array(ROUND_ENDED.exterior.coords)[:-1]


def runs(points):
    return [(len(edges), is_curve) for edges, is_curve in wall_runs(np.asarray(points, dtype=float))]


def test_a_round_end_is_one_wall():
    assert runs(POINTS) == [(1, False), (16, True), (1, False), (1, False)]


@pytest.mark.parametrize("share", [0.02, 0.2, 0.5, 0.98])
@pytest.mark.parametrize("edge", [0, 1, 5, 8, 16, 18])
def test_a_point_on_a_wall_or_on_a_chord_parts_nothing(edge, share):
    a, b = POINTS[edge], POINTS[(edge + 1) % len(POINTS)]
    more = np.insert(POINTS, edge + 1, a + share * (b - a), axis=0)
    expected = [(1, False), (16, True), (1, False), (1, False)]
    at = 0 if edge == 0 else 1 if edge <= 16 else 2 if edge == 17 else 3
    expected[at] = (expected[at][0] + 1, expected[at][1])
    assert runs(more) == expected


def test_every_edge_is_in_one_wall_and_in_order():
    for turn in range(len(POINTS)):
        found = [edge for edges, _ in wall_runs(np.roll(POINTS, turn, axis=0)) for edge in edges]
        assert sorted(found) == list(range(len(POINTS)))
        assert all((b - a) % len(POINTS) == 1 for a, b in pairwise(found))


def test_a_circle_is_one_wall_and_a_square_four():
    circle = [(math.cos(k * math.pi / 20) * 3000, math.sin(k * math.pi / 20) * 3000) for k in range(40)]
    assert runs(circle) == [(40, True)]
    assert runs([(0, 0), (2000, 0), (4000, 0), (4000, 3000), (0, 3000)]) == [
        (2, False),
        (1, False),
        (1, False),
        (1, False),
    ]
