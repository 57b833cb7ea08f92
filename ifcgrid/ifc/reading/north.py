"""Which way is north in a model's plan."""

from __future__ import annotations

import math
from typing import Any

__all__ = ["find_north"]


def find_north(file: Any) -> float | None:
    """Direction of true north in degrees counter-clockwise from the model's X axis; None if not stated.

    Read from IfcGeometricRepresentationContext.TrueNorth of the 3D model context; a third
    component, which some programs write, is ignored.
    """
    for context in file.by_type("IfcGeometricRepresentationContext", include_subtypes=False):
        north = context.TrueNorth
        if context.ContextType in (None, "Model") and north is not None:
            x, y = north.DirectionRatios[:2]
            if math.hypot(x, y) > 0:
                return math.degrees(math.atan2(y, x)) % 360.0
    return None
