"""Lines against triangles, compared with a dense sampling of both."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon, box

from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.segments import gaps_between, meets_at, triangles_of


def _brute_gap(start: np.ndarray, end: np.ndarray, triangle: np.ndarray, steps: int = 120) -> float:
    share = np.linspace(0, 1, steps)[:, None]
    line = start + share * (end - start)
    a, b = (g.ravel() for g in np.meshgrid(share, share))
    inside = a + b <= 1
    a, b = a[inside, None], b[inside, None]
    face = triangle[0] + a * (triangle[1] - triangle[0]) + b * (triangle[2] - triangle[0])
    return float(np.linalg.norm(line[:, None] - face[None], axis=2).min())


def test_gaps_are_those_of_a_dense_sampling():
    random = np.random.default_rng(5)
    start, end = random.uniform(-1000, 1000, (2, 40, 3))
    triangles = random.uniform(-1000, 1000, (40, 3, 3))
    found = gaps_between(start, end, triangles)
    brute = np.array([_brute_gap(*row) for row in zip(start, end, triangles, strict=True)])
    # The sampling can only miss the nearest pair, by less than its step.
    assert (found <= brute + 1e-6).all()
    assert (brute - found).max() < 40.0
    assert (found == 0).any()
    assert (found > 100).any()


@pytest.mark.parametrize(
    ("start", "end", "gap"),
    [
        ((0, 0, 100), (900, 0, 100), 100.0),  # over it, level
        ((300, 300, 50), (300, 300, 900), 50.0),  # ends above it
        ((300, 300, -50), (300, 300, 50), 0.0),  # pierces it
        ((-400, 300, 300), (-400, 300, -300), 400.0),  # passes beside it
        ((-30, -40, -9), (-30, -40, 9), 50.0),  # passes its corner
        ((0, 0, 0), (1000, 0, 0), 0.0),  # along its side
    ],
)
def test_gaps_of_plain_cases(start, end, gap):
    triangle = np.array([[(0.0, 0.0, 0.0), (1000.0, 0.0, 0.0), (0.0, 1000.0, 0.0)]])
    found = gaps_between(np.array([start], float), np.array([end], float), triangle)
    assert found[0] == pytest.approx(gap, abs=1e-6)


def test_a_ray_meets_faces_in_front_of_it_and_not_the_one_it_starts_on_or_runs_along():
    floor, high = (
        np.array([(-500.0, -500.0, z), (1500.0, -500.0, z), (-500.0, 1500.0, z)]) for z in (0, 700)
    )
    step = np.array([(0.0, 0.0, 1.0), (0.0, 0.6, 0.8), (0.0, 0.0, -1.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)])
    faces = np.stack([high, high, high, floor, floor])
    t = meets_at(np.zeros((5, 3)), step, faces)
    assert t[:2] == pytest.approx([700, 875])
    assert np.isinf(t[2:]).all()


def test_an_upright_prism_has_the_surface_of_its_outline():
    outline = Polygon([(0, 0), (900, 0), (900, 400), (400, 400), (400, 900), (0, 900)]) - box(
        100, 100, 200, 300
    )
    thing = Obstacle(key="t", kind=Kind.DUCT, name="", outline=outline, bottom=100, top=350)
    triangles = triangles_of(thing)
    area = np.linalg.norm(
        np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]), axis=1
    )
    assert area.sum() / 2 == pytest.approx(2 * outline.area + outline.length * 250)
    z = triangles[:, :, 2]
    assert (z.min(), z.max()) == (100, 350)
