"""Which way a grid may run in a room: along the walls that are longest in all."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.ragged import firsts, fold, sum_up
from ifcgrid.design.layout.walls import Edges
from ifcgrid.domain import tolerance

__all__ = ["find_all_directions", "find_directions", "split_ways"]

_Floats = NDArray[np.float64]

_CLOSE_SECOND = 0.95
"""Directions whose walls are at least this share of the longest are tried as well."""

_ROUND = 1.02
"""A curved room whose main second moments differ by less than this factor has no long side."""


def find_directions(edges: Edges) -> tuple[float, ...]:
    """Directions in degrees in [0, 90), modulo 90, of one room; see `find_all_directions`."""
    return find_all_directions(edges, np.zeros(len(edges), dtype=np.int64), 1)[0]


def find_all_directions(edges: Edges, owner: NDArray[np.int64], count: int) -> list[tuple[float, ...]]:
    """For each of `count` rooms its directions in degrees in [0, 90), modulo 90, rising.

    `owner` (n,) numbers the room of each edge.

    Straight edges are grouped by direction modulo 90 degrees and weighted by their length;
    a group's direction is its length-weighted mean. The longest group wins, as a frame
    squares to its control wall; others are tried only when they are all but as long. A
    room without straight walls follows its longer axis, or the model's X axis if round.
    """
    found: list[list[float]] = [[] for _ in range(count)]
    straight = np.flatnonzero(~edges.is_curve)
    run, length, room = (edges.end - edges.start)[straight], edges.length[straight], owner[straight]
    angle = np.degrees(np.arctan2(run[:, 1], run[:, 0])) % 90.0
    order = np.lexsort((angle, room))
    angle, length, room = angle[order], length[order], room[order]
    for number, mean in zip(*_groups(angle, length, room, count), strict=True):
        found[number].append(mean)
    for number in [k for k, angles in enumerate(found) if not angles]:
        found[number].append(_main_axis(edges, owner == number))
    return [tuple(sorted(angles)) for angles in found]


def _groups(
    angle: _Floats, length: _Floats, room: NDArray[np.int64], count: int
) -> tuple[list[int], list[float]]:
    """Rooms and mean directions of the groups that are long enough; edges by room and angle."""
    if len(angle) == 0:
        return [], []
    begins = np.ones(len(angle), dtype=bool)
    begins[1:] = (np.diff(angle) > tolerance.ANGLE_DEG) | (room[1:] != room[:-1])
    group = np.cumsum(begins) - 1
    sizes = np.bincount(room, minlength=count)
    first = firsts(sizes)[sizes > 0]
    last = first + sizes[sizes > 0] - 1
    # Directions a hair below 90 degrees are those a hair above 0.
    wraps = (angle[first] + 90.0 - angle[last] <= tolerance.ANGLE_DEG) & (group[first] != group[last])
    alias = np.arange(group[-1] + 1)
    alias[group[last[wraps]]] = group[first[wraps]]
    group = alias[group]
    order = np.argsort(group, kind="stable")
    angle, length, room, group = angle[order], length[order], room[order], group[order]
    owner = np.zeros(len(alias), dtype=np.int64)
    owner[group] = room
    total = sum_up(group, length, len(alias))
    greatest = np.zeros(count)
    np.maximum.at(greatest, owner, total)
    chosen = (total > 0.0) & (total >= _CLOSE_SECOND * greatest[owner])
    # Length-weighted mean of the directions, counted from that of the longest edge.
    counts = np.bincount(group, minlength=len(alias))
    longest = fold(np.maximum, length, counts, 0.0)
    candidates = np.where(length == longest[group], np.arange(len(angle)), len(angle))
    anchor = angle[fold(np.minimum, candidates, counts, 0)]
    away = (angle - anchor[group] + 45.0) % 90.0 - 45.0
    mean = anchor + sum_up(group, away * length, len(alias)) / np.where(total > 0, total, 1.0)
    # Nine decimals keep a hall of a kilometre within a tenth of the length tolerance.
    return owner[chosen].tolist(), [round(m, 9) % 90.0 for m in mean[chosen].tolist()]


def _main_axis(edges: Edges, own: NDArray[np.bool_]) -> float:
    """Direction modulo 90 of the longer main axis of the own edges' outer ring; 0.0 when it is round."""
    outer = (edges.ring == 0) & own
    middle = edges.start[outer].mean(axis=0)
    (x0, y0), (x1, y1) = (edges.start[outer] - middle).T, (edges.end[outer] - middle).T
    cross = x0 * y1 - x1 * y0
    area = cross.sum() / 2
    cx, cy = ((x0 + x1) @ cross / (6 * area), (y0 + y1) @ cross / (6 * area))
    xx = (x0**2 + x0 * x1 + x1**2) @ cross / 12 - area * cx**2
    yy = (y0**2 + y0 * y1 + y1**2) @ cross / 12 - area * cy**2
    xy = (x0 * y1 + 2 * x0 * y0 + 2 * x1 * y1 + x1 * y0) @ cross / 24 - area * cx * cy
    values, vectors = np.linalg.eigh(np.array([[xx, xy], [xy, yy]]))
    if values[1] < _ROUND * values[0]:
        return 0.0
    return round(float(np.degrees(np.arctan2(vectors[1, 1], vectors[0, 1]))), 9) % 90.0


def split_ways(angles: Sequence[float]) -> list[tuple[float, tuple[int, ...]]]:
    """Directions of u as directions modulo 90 degrees, each with the ways of the mains it allows."""
    ways: dict[float, set[int]] = {}
    for angle in angles:
        turned = round(angle % 180.0, 9) % 180.0
        ways.setdefault(turned % 90.0, set()).add(int(turned >= 90.0))
    if not ways:
        raise ValueError("angles is empty; give at least one direction in degrees, or None")
    return [(angle, tuple(sorted(ways[angle]))) for angle in sorted(ways)]
