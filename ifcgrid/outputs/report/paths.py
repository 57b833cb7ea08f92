"""Shapes in model coordinates as paths of an SVG whose unit is the millimetre, y down."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

__all__ = ["Window"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The part of the model's plan that is drawn: its upper left corner, width and height in mm."""

    left: float
    top: float
    width: float
    height: float

    def points(self, points: Any) -> NDArray[np.int64]:
        """Model points (..., 2) in whole millimetres of the drawing."""
        flat = np.asarray(points, dtype=float)[..., :2]
        placed: NDArray[np.int64] = np.round((flat - [self.left, self.top]) * [1.0, -1.0]).astype(np.int64)
        return placed

    def area(self, shape: BaseGeometry) -> str:
        """The path of polygons with their holes, for the even-odd rule; other shapes have none."""
        rings = [
            ring
            for part in getattr(shape, "geoms", [shape])
            if isinstance(part, Polygon) and not part.is_empty
            for ring in (part.exterior, *part.interiors)
        ]
        return "".join(_run(self.points(ring.coords)[:-1]) + "z" for ring in rings)

    def lines(self, ends: Any) -> str:
        """The path of segments (n, 2, 2)."""
        return "".join(_run(part) for part in self.points(ends))

    def crosses(self, points: Any, reach: float) -> str:
        """The path of an upright cross at each of (n, 2) points."""
        r = round(reach)
        return "".join(f"M{x - r} {y}h{2 * r}M{x} {y - r}v{2 * r}" for x, y in self.points(points).tolist())


def _run(points: Iterable[Any]) -> str:
    """Points as a polyline: the first absolute, the others relative, which is shorter."""
    words: list[str] = []
    last_x = last_y = 0
    for x, y in np.asarray(points).tolist():
        words.append(f"{'l' if words else 'M'}{x - last_x if words else x} {y - last_y if words else y}")
        last_x, last_y = x, y
    return "".join(words)
