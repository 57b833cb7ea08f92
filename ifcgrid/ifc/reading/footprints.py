"""Plan outlines of spaces that get no ceiling, so that a plan can show where they are."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import numpy as np
from shapely import MultiPolygon, Polygon

from ifcgrid.ifc.geometry import Kernel, silhouette

__all__ = ["read_footprints"]


def read_footprints(
    file: Any, keys: Collection[str], kernel: Kernel | None = None
) -> dict[str, Polygon | MultiPolygon]:
    """The plan silhouettes by GlobalId of the spaces with these keys, in model coordinates in mm.

    Spaces without a usable body are left out: nobody is to be stopped by what gets no ceiling.
    """
    spaces = [space for space in file.by_type("IfcSpace") if space.GlobalId in keys]
    if not spaces:
        return {}
    kernel = kernel or Kernel(file)
    parts = kernel.parts(spaces)
    found: dict[str, Polygon | MultiPolygon] = {}
    for space in spaces:
        if space.id() not in parts:
            continue
        mesh = np.concatenate(parts[space.id()])
        shape = silhouette(mesh) if np.isfinite(mesh).all() else Polygon()
        if shape.area > 0:
            found.setdefault(space.GlobalId, shape)
    return found
