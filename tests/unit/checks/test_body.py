"""True shapes of bodies, against sections and rays worked out another way."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from handmade_obstacles import meshed, prism, rod, thing
from shapely import Point, box

from ifcgrid.checks.body import band_outline, heights_at, heights_over
from ifcgrid.domain.obstacle import Kind


def test_the_band_of_an_upright_body_is_its_outline():
    body = thing(Kind.DUCT, box(0, 0, 400, 300), 0, 1000, meshed=True)
    for low, high in ((200, 300), (-50, 20), (990, 2000), (-50, 2000)):
        assert band_outline(body, low, high).symmetric_difference(body.outline).area < 100


def test_a_band_that_a_body_does_not_reach_is_empty():
    body = thing(Kind.DUCT, box(0, 0, 400, 300), 0, 1000, meshed=True)
    assert band_outline(body, 1001, 1100).is_empty
    assert band_outline(body, -100, -1).is_empty


def test_the_lowest_band_of_a_lying_rod_is_a_strip_of_the_circles_chord():
    body = meshed(Kind.PIPE, rod((0, 0, 1000), (5000, 0, 1000), 100, sides=360))
    strip = band_outline(body, 900, 920)
    half_chord = np.sqrt(100**2 - 80**2)
    assert strip.bounds == pytest.approx((0, -half_chord, 5000, half_chord), abs=1.0)


def test_the_band_of_an_elbow_holds_the_leg_alone():
    leg, run = rod((0, 0, 0), (0, 0, 1000), 100), rod((0, 0, 1000), (3000, 0, 1000), 100)
    body = meshed(Kind.DUCT, np.concatenate([leg, run]))
    band = band_outline(body, 200, 300)
    assert band.symmetric_difference(Point(0, 0).buffer(100)).area < 0.02 * np.pi * 100**2


def test_a_ring_wall_keeps_its_courtyard():
    parts = (box(0, 0, 5000, 200), box(0, 4800, 5000, 5000), box(0, 0, 200, 5000), box(4800, 0, 5000, 5000))
    outline = shapely.union_all(parts)
    body = thing(Kind.WALL, outline, 0, 3000, mesh=np.concatenate([prism(p, 0, 3000) for p in parts]))
    assert band_outline(body, 2700, 2738).symmetric_difference(outline).area < 1000


def test_the_heights_over_an_area_are_those_of_the_surface_there():
    slope = prism(box(0, 0, 4000, 1000), 3000, 3200)
    slope[:, :, 2] += slope[:, :, 0] / 10
    roof = meshed(Kind.ROOF, slope)
    assert heights_over(roof, box(1000, 0, 2000, 1000)) == pytest.approx((3100.0, 3400.0))
    assert heights_over(roof, box(-100, -100, 4100, 1100)) == pytest.approx((3000.0, 3600.0))


def test_a_ray_through_a_lying_rod_runs_along_its_chord():
    body = meshed(Kind.PIPE, rod((0, 0, 1000), (5000, 0, 1000), 100, sides=720))
    for y in (-90.0, -33.3, 0.0, 71.7):
        ((low, high),) = heights_at(body, np.array([1234.5, y]))
        chord = np.sqrt(100**2 - y**2)
        assert (low, high) == pytest.approx((1000 - chord, 1000 + chord), abs=0.5)


def test_a_ray_through_two_flanges_has_two_stretches():
    flanges = np.concatenate([prism(box(0, 0, 1000, 200), z, z + 20) for z in (3000, 3280)])
    body = meshed(Kind.BEAM, flanges)
    stretches = np.array(heights_at(body, np.array([301.0, 77.0])))
    assert stretches == pytest.approx(np.array([(3000, 3020), (3280, 3300)]))


@pytest.mark.parametrize("seed", range(5))
def test_rays_agree_with_sections_of_random_convex_bodies(seed):
    rng = np.random.default_rng(seed)
    points = rng.uniform(0, 1000, (16, 3))
    hull = _hull(points)
    body = meshed(Kind.OTHER, points[hull])
    for spot in rng.uniform(200, 800, (20, 2)):
        stretches = heights_at(body, spot)
        if not body.outline.contains(Point(spot)):
            continue
        ((low, high),) = stretches
        assert (low, high) == pytest.approx(_stretch_by_planes(points, hull, spot), abs=0.1)


def _hull(points: np.ndarray) -> np.ndarray:
    """The triangles of a convex hull, found by trying all triples: no point may lie in front."""
    found = []
    n = len(points)
    for i in range(n):
        for j in range(i + 1, n):
            for k in range(j + 1, n):
                normal = np.cross(points[j] - points[i], points[k] - points[i])
                side = (points - points[i]) @ normal
                if (side <= 1e-6).all():
                    found.append((i, j, k))
                elif (side >= -1e-6).all():
                    found.append((i, k, j))
    return np.array(found)


def _stretch_by_planes(points: np.ndarray, hull: np.ndarray, spot: np.ndarray) -> tuple[float, float]:
    """Where a vertical line lies behind all planes of a convex body."""
    low, high = -np.inf, np.inf
    for i, j, k in hull:
        normal = np.cross(points[j] - points[i], points[k] - points[i])
        rest = normal[:2] @ (points[i, :2] - spot) + normal[2] * points[i, 2]
        if normal[2] > 0:
            high = min(high, rest / normal[2])
        elif normal[2] < 0:
            low = max(low, rest / normal[2])
    return low, high
