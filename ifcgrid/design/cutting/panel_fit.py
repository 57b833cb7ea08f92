"""Which two cut panels one panel gives.

A piece keeps factory edges on the sides that lie on grid lines, so it lies in its panel
where it will lie in its cell. What it leaves free are rectangles at the panel's sides: the
strip beside a border piece, the notch of an L. A second piece fits into one of them when
its own factory sides are the panel's, turned only as the pattern allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import shapely
from shapely import Polygon, box

from ifcgrid.domain import tolerance
from ifcgrid.domain.cutting import Direction, PanelDemand, Side

__all__ = ["TURNS", "Rect", "free_rects", "turned_size", "turns_that_fit"]

TURNS = {Direction.FREE: (0, 1, 2, 3), Direction.HALF_TURN: (0, 2), Direction.FIXED: (0,)}
"""Quarter turns to the left that a pattern allows."""

_ROUND = (Side.LOW_U, Side.LOW_V, Side.HIGH_U, Side.HIGH_V)
_AXES = ((Side.LOW_U, Side.HIGH_U), (Side.LOW_V, Side.HIGH_V))


@dataclass(frozen=True, slots=True, kw_only=True)
class Rect:
    """A free rectangle: its size along u and v in mm, and the panel's sides that bound it."""

    width: float
    depth: float
    sides: frozenset[Side]


def turned_size(
    size: tuple[float, float], factory: frozenset[Side], turn: int
) -> tuple[tuple[float, float], frozenset[Side]]:
    """Size and factory sides after quarter turns to the left."""
    # Turned to the left, what was the low u side looks towards low v.
    turned = frozenset(_ROUND[(_ROUND.index(side) + turn) % 4] for side in factory)
    return (size[::-1] if turn % 2 else size), turned


def free_rects(demand: PanelDemand, along: float, across: float, kerf: float) -> tuple[Rect, ...]:
    """The largest rectangles that a piece leaves free in its panel.

    Where no factory side holds it on an axis, the piece is pushed to the low side.
    """
    shape = Polygon(demand.rings[0], demand.rings[1:])
    low_u, low_v, _, _ = shape.bounds
    push = [
        0.0 if demand.factory & set(sides) else -low for sides, low in zip(_AXES, (low_u, low_v), strict=True)
    ]
    shape = shapely.affinity.translate(shape, *push)
    taken = shape.buffer(kerf, join_style="mitre") if kerf else shape
    shapely.prepare(taken)
    us = _stops(0.0, along, shapely.get_coordinates(taken)[:, 0].tolist())
    vs = _stops(0.0, across, shapely.get_coordinates(taken)[:, 1].tolist())
    found = [
        (a, c, b, d)
        for a, b in product(us, us)
        if tolerance.is_less(a, b)
        for c, d in product(vs, vs)
        if tolerance.is_less(c, d) and taken.intersection(box(a, c, b, d)).area <= tolerance.AREA
    ]
    largest = [r for r in found if not any(r != other and _holds(other, r) for other in found)]
    return tuple(_rect(r, along, across) for r in largest)


def _stops(low: float, high: float, values: Sequence[float]) -> list[float]:
    """The ends and every value between them, values that differ by a hair taken once."""
    stops = [low]
    for value in sorted(values):
        if tolerance.is_greater(value, stops[-1]) and tolerance.is_less(value, high):
            stops.append(value)
    return [*stops, high]


_Box = tuple[float, float, float, float]


def _holds(outer: _Box, inner: _Box) -> bool:
    return outer[0] <= inner[0] and outer[1] <= inner[1] and outer[2] >= inner[2] and outer[3] >= inner[3]


def _rect(spot: _Box, along: float, across: float) -> Rect:
    reach = (0.0, 0.0, along, across)
    sides = frozenset(side for side, a, b in zip(_ROUND, spot, reach, strict=True) if a == b)
    return Rect(width=spot[2] - spot[0], depth=spot[3] - spot[1], sides=sides)


def turns_that_fit(
    free: Sequence[Rect], size: tuple[float, float], factory: frozenset[Side], direction: Direction
) -> tuple[int, ...]:
    """The quarter turns at which a piece of that size and with those factory sides fits."""
    fitting = []
    for turn in TURNS[direction]:
        (width, depth), sides = turned_size(size, factory, turn)
        for rect in free:
            if (
                sides <= rect.sides
                and not tolerance.is_greater(width, rect.width)
                and not tolerance.is_greater(depth, rect.depth)
                and _spans(sides, width, rect.width, *_AXES[0])
                and _spans(sides, depth, rect.depth, *_AXES[1])
            ):
                fitting.append(turn)
                break
    return tuple(fitting)


def _spans(sides: frozenset[Side], size: float, room: float, low: Side, high: Side) -> bool:
    """A piece that needs both sides of an axis must be as long as the panel there."""
    return not {low, high} <= sides or tolerance.is_equal(size, room)
