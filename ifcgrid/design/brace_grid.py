"""Which crossings of mains and cross tees get a brace set: the fewest that hold the whole part.

"At most s each way and at most e from every wall" is a covering problem. Let the part grow
by s/2 - e beyond its walls; then every place of it has to lie within s/2, along the mains
and across them, of a set. In a rectangle this gives ceil((L + s - 2 e) / s) sets a
direction, in any other shape the same rule. The places at which the answer changes are
those half a spacing from a crossing, so finitely many cells stand for all places.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from ifcgrid.design.set_cover import fewest_candidates
from ifcgrid.domain import tolerance

__all__ = ["choose_crossings", "equal_lines"]

Points = NDArray[np.float64]

ROUNDS = 20
"""Rounds in which sets move to neighbouring crossings so that they hold areas more equal (our choice)."""


def equal_lines(places: Sequence[float], low: float, high: float, spacing: float, end: float) -> list[float]:
    """The fewest of sorted places that keep spacing and end distances, with the most equal shares.

    `low`, `high` are the walls, `end` the greatest distance from each; all in mm. Shares are
    equal when the gaps at the walls are half of those between. Empty when no choice keeps
    the distances.
    """
    slack = tolerance.LENGTH
    costs: list[tuple[int, float, int]] = []
    for k, place in enumerate(places):
        options = [(1, 2 * (place - low) ** 2, -1)] if place - low <= end + slack else []
        options += [
            (costs[j][0] + 1, costs[j][1] + (place - places[j]) ** 2, j)
            for j in range(k)
            if place - places[j] <= spacing + slack and costs[j][0] > 0
        ]
        costs.append(min(options, default=(0, 0.0, -1)))
    ends = [
        (count, cost + 2 * (high - places[k]) ** 2, k)
        for k, (count, cost, _) in enumerate(costs)
        if count > 0 and high - places[k] <= end + slack
    ]
    if not ends:
        return []
    chosen, k = [], min(ends)[2]
    while k >= 0:
        chosen.append(places[k])
        k = costs[k][2]
    return chosen[::-1]


def choose_crossings(
    points: Points, is_good: NDArray[np.bool_], part: Polygon, spacing: float, end: float
) -> NDArray[np.int64]:
    """Indices of the crossings (n, 2) that get a set, sorted.

    Only good ones are taken where they suffice; what none of them reaches is held by the
    others. What no crossing reaches (a part without one) stays without a set.
    """
    region = _grown(part, spacing / 2 - end)
    reach = spacing / 2 + tolerance.LENGTH
    cells, spots = _cells(points, region, reach)
    if len(points) == 0 or len(cells) == 0:
        return np.empty(0, dtype=np.int64)
    covers: NDArray[np.bool_] = np.all(np.abs(cells[None] - points[:, None]) <= reach, axis=2)
    covers &= _sees(points, spots, covers, part)
    reached = _reached(covers[is_good])
    usable = covers & (is_good[:, None] | ~reached[None])
    product = _product(points, is_good, part, spacing, end)
    is_whole = bool((_reached(usable[product]) >= _reached(usable)).all())
    known = product if len(product) and is_whole else None
    demands = _masks(usable)
    chosen = np.array(fewest_candidates(demands, None if known is None else known.tolist()), dtype=np.int64)
    if known is not None and len(known) == len(chosen):
        return np.sort(known)
    return _even_out(chosen, points, spots, usable)


def _reached(covers: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which cells (m,) any of the sets (n, m) holds."""
    return np.asarray(covers.any(axis=0), dtype=bool)


def _grown(part: Polygon, by: float) -> BaseGeometry:
    grown: BaseGeometry = part.buffer(by, join_style="mitre") if abs(by) > tolerance.LENGTH else part
    return part.centroid.buffer(1.0) if grown.is_empty else grown


def _cells(points: Points, region: BaseGeometry, reach: float) -> tuple[Points, Points]:
    """Middles (m, 2) of the cells between places half a spacing from a crossing, and a spot of each."""
    edges = [_edges(points[:, k], region.bounds[k], region.bounds[k + 2], reach) for k in (0, 1)]
    (u0, v0), (u1, v1) = (
        np.meshgrid(edges[0][s], edges[1][s], indexing="ij") for s in (np.s_[:-1], np.s_[1:])
    )
    boxes = np.asarray(shapely.box(u0, v0, u1, v1)).ravel()
    shapely.prepare(region)
    near = boxes[np.asarray(shapely.intersects(region, boxes))]
    pieces = np.asarray(shapely.intersection(near, region))
    real = np.asarray(shapely.area(pieces)) > tolerance.PIECE_AREA
    middles = shapely.get_coordinates(shapely.centroid(near[real]))
    spots = shapely.get_coordinates(shapely.point_on_surface(pieces[real]))
    return middles, spots


def _edges(places: Points, low: float, high: float, reach: float) -> Points:
    edges = np.unique(np.concatenate([places - reach, places + reach, [low, high]]))
    edges = edges[(edges >= low) & (edges <= high)]
    merged: Points = edges[np.concatenate([[True], np.diff(edges) > 2 * tolerance.LENGTH])]
    return merged


def _sees(points: Points, spots: Points, covers: NDArray[np.bool_], part: Polygon) -> NDArray[np.bool_]:
    """Whether a set holds a spot without a wall between; spots beyond the walls are seen at the wall."""
    if part.area >= part.convex_hull.area - tolerance.AREA:
        return np.ones_like(covers)
    places = np.asarray(shapely.points(spots))
    inside = shapely.get_coordinates(shapely.shortest_line(part, places))[::2]
    roomy = part.buffer(tolerance.GAP)
    shapely.prepare(roomy)
    point, spot = np.nonzero(covers)
    lines = np.asarray(shapely.linestrings(np.stack([points[point], inside[spot]], axis=1)))
    seen = np.zeros_like(covers)
    seen[point, spot] = shapely.covers(roomy, lines)
    return seen


def _masks(covers: NDArray[np.bool_]) -> list[int]:
    packed = np.packbits(covers.T, axis=1, bitorder="little")
    return [int.from_bytes(row.tobytes(), "little") for row in packed]


def _product(
    points: Points, is_good: NDArray[np.bool_], part: Polygon, spacing: float, end: float
) -> NDArray[np.int64]:
    """Every crossing of evenly chosen lines of both directions, as a rectangle has them."""
    low_u, low_v, high_u, high_v = part.bounds
    good = np.flatnonzero(is_good)
    lines = [
        equal_lines(np.unique(points[good, k]).tolist(), low, high, spacing, end)
        for k, low, high in ((0, low_u, high_u), (1, low_v, high_v))
    ]
    on_lines = np.isin(points[good, 0], lines[0]) & np.isin(points[good, 1], lines[1])
    chosen: NDArray[np.int64] = good[on_lines].astype(np.int64)
    return chosen if len(chosen) == len(lines[0]) * len(lines[1]) else chosen[:0]


def _even_out(
    chosen: NDArray[np.int64], points: Points, spots: Points, covers: NDArray[np.bool_]
) -> NDArray[np.int64]:
    """Moves sets to crossings nearby as long as all stays held and the held areas get more equal."""
    wanted = _reached(covers)
    gaps = np.hypot(*(points[:, None] - spots[None]).transpose(2, 0, 1))
    step = 2.0 * _least_step(points)
    current = chosen.copy()
    for _ in range(ROUNDS):
        moved = False
        for place in range(len(current)):
            best = _unevenness(current, gaps)
            near = np.flatnonzero(np.hypot(*(points - points[current[place]]).T) <= step)
            for option in near.tolist():
                trial = current.copy()
                trial[place] = option
                if (_reached(covers[trial]) < wanted).any():
                    continue
                uneven = _unevenness(trial, gaps)
                if uneven < best - tolerance.SCORE:
                    best, current, moved = uneven, trial, True
        if not moved:
            break
    return np.unique(current)


def _least_step(points: Points) -> float:
    steps = [float(np.diff(np.unique(points[:, k])).max(initial=0.0)) for k in (0, 1)]
    return max(steps)


def _unevenness(chosen: NDArray[np.int64], gaps: Points) -> float:
    """Mean square distance of all places from the nearest set: least when all hold alike."""
    return float((gaps[chosen].min(axis=0) ** 2).mean())
