"""Symbols of a plan, from primitives in a unit square around the origin; our own, simple shapes.

Luminaire rectangle, supply square with an X, sprinkler circle with a dot, detector circle
with an S: common practice, from memory. Told apart without colour.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.obstacle import Kind
from ifcgrid.outputs.plan.drawing import Mark, Part

__all__ = ["KIND_WORDS", "SYMBOLS", "SYMBOL_SQUARE", "Symbol", "corners_of", "device_mark", "placed"]

Ring = tuple[tuple[float, float], ...]

KIND_WORDS = {
    Kind.LIGHT: "light",
    Kind.AIR_TERMINAL: "air terminal",
    Kind.SPRINKLER: "sprinkler",
    Kind.DETECTOR: "detector",
    Kind.DEVICE: "other device",
}
"""What the legend calls each kind of device."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbol:
    """What is drawn, in a square of side 1 around (0, 0).

    `fills` are closed rings that are filled `grey`, `white` or `black` and come first;
    `rings` are closed, `strokes` open; `circles` hold x, y, radius, and whether they are
    filled; `letter` stands in the middle, `letter_size` high.
    """

    fills: tuple[tuple[Ring, str], ...] = ()
    rings: tuple[Ring, ...] = ()
    strokes: tuple[Ring, ...] = ()
    circles: tuple[tuple[float, float, float, str], ...] = ()
    letter: str = ""
    letter_size: float = 0.0


SYMBOL_SQUARE: Ring = ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))
_RISING: Ring = ((-0.5, -0.5), (0.5, 0.5))
_FALLING: Ring = ((-0.5, 0.5), (0.5, -0.5))
_TUBE: tuple[Ring, ...] = (
    ((-0.35, 0.0), (0.35, 0.0)),
    ((-0.35, -0.15), (-0.35, 0.15)),
    ((0.35, -0.15), (0.35, 0.15)),
)
_R = 0.5 / np.sqrt(2.0)
_IN_CIRCLE: tuple[Ring, ...] = (((-_R, -_R), (_R, _R)), ((-_R, _R), (_R, -_R)))
_POINTER: Ring = ((0.0, 0.0), (-0.5, 1.0), (0.5, 1.0))

SYMBOLS = {
    "light": Symbol(fills=((SYMBOL_SQUARE, "grey"),), rings=(SYMBOL_SQUARE,), strokes=_TUBE),
    "light-round": Symbol(circles=((0.0, 0.0, 0.5, "grey"),), strokes=_IN_CIRCLE),
    "air-terminal": Symbol(
        fills=((SYMBOL_SQUARE, "white"),), rings=(SYMBOL_SQUARE,), strokes=(_RISING, _FALLING)
    ),
    "air-terminal-round": Symbol(circles=((0.0, 0.0, 0.5, "white"), (0.0, 0.0, 0.25, ""))),
    "sprinkler": Symbol(circles=((0.0, 0.0, 0.5, "white"), (0.0, 0.0, 0.18, "black"))),
    "detector": Symbol(circles=((0.0, 0.0, 0.5, "white"),), letter="S", letter_size=0.7),
    "device": Symbol(fills=((SYMBOL_SQUARE, "white"),), rings=(SYMBOL_SQUARE,), strokes=(_RISING,)),
    "device-round": Symbol(circles=((0.0, 0.0, 0.5, "white"),), strokes=_IN_CIRCLE[:1]),
    "hanger": Symbol(strokes=(((-0.5, 0.0), (0.5, 0.0)), ((0.0, -0.5), (0.0, 0.5)))),
    "brace": Symbol(strokes=(*_IN_CIRCLE, ((-0.5, 0.0), (0.5, 0.0))), circles=((0.0, 0.0, 0.22, "white"),)),
    "device-wire": Symbol(strokes=(_RISING, _FALLING)),
    "axis": Symbol(circles=((0.0, 0.0, 0.5, "white"),)),
    "finding": Symbol(fills=((_POINTER, "black"),), rings=(_POINTER,)),
    "finding-accepted": Symbol(fills=((_POINTER, "white"),), rings=(_POINTER,)),
}
"""By name. A pointer's tip is at the origin."""

_SIGN = {"sprinkler": (2.2, 4.0), "detector": (3.0, 5.0)}
"""Least and greatest width on paper in mm of what is small in the building."""

_LEAST = 1.2
"""What is narrower on paper than this is drawn this wide."""

_ANGLE_DECIMALS = 6
_ROUND = 0.85
"""Share of a circle's area for its outline's length from which on an outline is round."""


def device_mark(
    kind: Kind, outline: Polygon | MultiPolygon, scale: float, *, key: str, zone: str, facts: dict[str, str]
) -> Mark:
    """The mark of a device: as large and as turned as its outline, or a sign where that is tiny."""
    part = max(getattr(outline, "geoms", [outline]), key=lambda p: p.area)
    box = shapely.minimum_rotated_rectangle(part)
    length, width, angle = _measure(box)
    middle = box.centroid
    name = kind.value.replace(" ", "-")
    is_sign = True
    if kind.value in _SIGN:
        low, high = _SIGN[kind.value]
        size = min(max(min(length, width) / scale, low), high)
        along = across = size
        angle = 0.0
    elif min(length, width) / scale < _LEAST:
        along, across = max(length / scale, _LEAST), max(width / scale, _LEAST)
    else:
        along, across, is_sign = length, width, False
    if f"{name}-round" in SYMBOLS and _is_round(part):
        name, across, angle = f"{name}-round", along, 0.0
    return Mark(
        part=Part(kind.value),
        symbol=name,
        point=(float(middle.x), float(middle.y)),
        size=(along, across),
        angle_deg=angle,
        is_sign=is_sign,
        key=key,
        zone=zone,
        facts=tuple(facts.items()),
    )


def _is_round(shape: Polygon) -> bool:
    # 4 pi A / P^2 is 1 for a circle, pi/4 for a square, 0.95 for an octagon.
    return bool(4 * np.pi * shape.area > _ROUND * shape.length**2)


def _measure(box: Polygon) -> tuple[float, float, float]:
    """The longer and the shorter side of a turned rectangle, and the longer's direction in [0, 180)."""
    corners = np.asarray(box.exterior.coords)[:3]
    sides = np.diff(corners, axis=0)
    lengths = np.hypot(*sides.T)
    is_square = tolerance.is_equal(lengths[0], lengths[1])
    longer = int(not is_square and lengths[1] > lengths[0])
    angle = float(np.degrees(np.arctan2(sides[longer, 1], sides[longer, 0])))
    # Rounded, so that the same device in two runs of a geometry library is one symbol.
    angle = round(angle, _ANGLE_DECIMALS) % (90.0 if is_square else 180.0)
    return float(lengths[longer]), float(lengths[1 - longer]), angle


def placed(mark: Mark, points: Ring, scale: float) -> NDArray[np.float64]:
    """Points (n, 2) of a symbol in model coordinates, as the mark is placed."""
    factor = scale if mark.is_sign else 1.0
    local = np.asarray(points, dtype=float) * np.array(mark.size) * factor
    c, s = np.cos(np.radians(mark.angle_deg)), np.sin(np.radians(mark.angle_deg))
    world: NDArray[np.float64] = local @ np.array([[c, s], [-s, c]]) + np.array(mark.point)
    return world


def corners_of(mark: Mark, scale: float) -> NDArray[np.float64]:
    """The corners (4, 2) of the square around a mark, in model coordinates."""
    return placed(mark, SYMBOL_SQUARE, scale)
