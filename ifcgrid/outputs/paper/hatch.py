"""Hatching: parallel lines clipped to an area, so that every kind of file shows the same."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

__all__ = ["hatch_lines"]


def hatch_lines(rings: Sequence[Any], angle_deg: float, spacing: float) -> list[NDArray[np.float64]]:
    """Lines (2, 2) in the area of closed rings (n, 2), by the even-odd rule.

    The lines of one angle and spacing lie on one lattice of the page, so that the hatches
    of neighbouring areas run on.

    Args:
        rings: corners in mm, not closed.
        angle_deg: direction of the lines, counter-clockwise on paper from the right.
        spacing: distance between lines in mm, greater than zero.
    """
    area: BaseGeometry = shapely.Polygon()
    for ring in rings:
        if len(ring) >= 3:
            area = area.symmetric_difference(shapely.Polygon(ring).buffer(0.0))
    if area.is_empty:
        return []
    level = affinity.rotate(area, angle_deg, origin=(0.0, 0.0))
    x0, y0, x1, y1 = level.bounds
    rows = [k * spacing for k in range(math.ceil(y0 / spacing), math.floor(y1 / spacing) + 1)]
    cut = [level.intersection(shapely.LineString([(x0 - 1.0, y), (x1 + 1.0, y)])) for y in rows]
    turned = affinity.rotate(shapely.GeometryCollection(cut), -angle_deg, origin=(0.0, 0.0))
    parts = shapely.get_parts(shapely.get_parts(turned))
    return [np.asarray(part.coords) for part in parts if part.geom_type == "LineString" and part.length > 0]
