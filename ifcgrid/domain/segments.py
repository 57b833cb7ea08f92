"""Straight lines in space against triangles: how near they pass, and what they meet first.

Arrays of pairs: row k of the segments is measured against row k of the triangles.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.obstacle import Obstacle

__all__ = ["gaps_between", "meets_at", "triangles_of"]

Points = NDArray[np.float64]


def triangles_of(obstacle: Obstacle) -> Points:
    """The triangles (n, 3, 3) of an obstacle; without a mesh those of its upright prism."""
    if obstacle.mesh is not None:
        return obstacle.mesh
    parts = [_prism(p, obstacle.bottom, obstacle.top) for p in shapely.get_parts(obstacle.outline)]
    return np.concatenate([np.empty((0, 3, 3)), *parts])


def _prism(outline: Polygon, bottom: float, top: float) -> Points:
    flat = _triangulate(outline)
    faces = [np.concatenate([flat, np.full((len(flat), 3, 1), z)], axis=2) for z in (bottom, top)]
    for ring in (outline.exterior, *outline.interiors):
        corners = np.asarray(ring.coords)[:, :2]
        low = np.column_stack([corners, np.full(len(corners), bottom)])
        high = np.column_stack([corners, np.full(len(corners), top)])
        faces.append(np.stack([low[:-1], low[1:], high[1:]], axis=1))
        faces.append(np.stack([low[:-1], high[1:], high[:-1]], axis=1))
    return np.concatenate(faces)


def _triangulate(outline: Polygon) -> Points:
    """Triangles (n, 3, 2) of a polygon: between two neighbouring corners in x all of it is convex."""
    cuts = np.unique(shapely.get_coordinates(outline)[:, 0])
    _, low, _, high = outline.bounds
    strips = [shapely.box(left, low, right, high) for left, right in pairwise(cuts.tolist())]
    convex = [
        np.asarray(part.exterior.coords)[:-1, :2]
        for part in shapely.get_parts(shapely.intersection(strips, outline))
        if isinstance(part, Polygon)
    ]
    fans = [np.stack([np.repeat(c[:1], len(c) - 2, axis=0), c[1:-1], c[2:]], axis=1) for c in convex]
    return np.concatenate([np.empty((0, 3, 2)), *fans])


def _dot(a: Points, b: Points) -> Points:
    total: Points = np.einsum("...i,...i->...", a, b)
    return total


def _pierce(start: Points, step: Points, triangles: Points) -> tuple[Points, NDArray[np.bool_]]:
    """Where (k,) along start + t step each line passes its triangle's plane, and whether inside of it."""
    first, second = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    normal = np.cross(first, second)
    slope = _dot(normal, step)
    size = np.linalg.norm(normal, axis=1) * np.linalg.norm(step, axis=1)
    is_across = np.abs(slope) > tolerance.PARALLEL * size
    t = _dot(normal, triangles[:, 0] - start) / np.where(is_across, slope, 1.0)
    return t, is_across & _is_over(start + t[:, None] * step, triangles, normal)


def _is_over(points: Points, triangles: Points, normal: Points) -> NDArray[np.bool_]:
    """Whether each point, dropped square onto its triangle's plane, is inside the triangle."""
    sides = np.roll(triangles, -1, axis=1) - triangles
    turns = _dot(np.cross(sides, points[:, None] - triangles), normal[:, None])
    length = np.linalg.norm(sides, axis=2) * np.linalg.norm(normal, axis=1)[:, None]
    slack = tolerance.LENGTH * np.maximum(length, tolerance.LENGTH)
    is_real = np.linalg.norm(normal, axis=1) > 0
    inside: NDArray[np.bool_] = np.logical_and((turns >= -slack).all(axis=1), is_real)
    return inside


def _between_segments(start: Points, end: Points, a: Points, b: Points) -> Points:
    """Distance (k,) of segments start-end from segments a-b."""
    first, second, apart = end - start, b - a, start - a
    ff, ss, fs = _dot(first, first), _dot(second, second), _dot(first, second)
    fa, sa = _dot(first, apart), _dot(second, apart)
    determinant = ff * ss - fs * fs
    is_skew = determinant > tolerance.PARALLEL * ff * ss
    t = np.where(is_skew, (fs * sa - fa * ss) / np.where(is_skew, determinant, 1.0), 0.0).clip(0.0, 1.0)
    s = ((fs * t + sa) / np.maximum(ss, tolerance.PARALLEL)).clip(0.0, 1.0)
    t = ((fs * s - fa) / np.maximum(ff, tolerance.PARALLEL)).clip(0.0, 1.0)
    gap: Points = np.linalg.norm(apart + t[:, None] * first - s[:, None] * second, axis=1)
    return gap


def gaps_between(start: Points, end: Points, triangles: Points) -> Points:
    """Distance (k,) in mm of segments from triangles (k, 3, 3); 0 where one pierces the other."""
    if len(start) == 0:
        return np.empty(0)
    t, is_inside = _pierce(start, end - start, triangles)
    sides = [_between_segments(start, end, triangles[:, i], triangles[:, (i + 1) % 3]) for i in range(3)]
    gap = np.min(sides, axis=0)
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    size = np.linalg.norm(normal, axis=1)
    for point in (start, end):
        height = np.abs(_dot(normal, point - triangles[:, 0])) / np.maximum(size, tolerance.PARALLEL)
        gap = np.where(_is_over(point, triangles, normal), np.minimum(gap, height), gap)
    pierced = is_inside & (t >= 0.0) & (t <= 1.0)
    return np.where(pierced, 0.0, gap)


def meets_at(start: Points, step: Points, triangles: Points) -> Points:
    """How far (k,) in mm along `start` + t `step` each ray meets its triangle, infinite where it does not.

    `start`, `step` (k, 3), steps of unit length. What a ray starts on does not count.
    """
    t, is_inside = _pierce(start, step, triangles)
    lengths: Points = np.where(is_inside & (t > tolerance.LENGTH), t, np.inf)
    return lengths
