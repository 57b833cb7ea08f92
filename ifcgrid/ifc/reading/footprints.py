"""Where spaces lie that get no ceiling, for plans that show them all the same."""

from __future__ import annotations

from collections.abc import Collection

import ifcopenshell
from shapely import MultiPolygon, Polygon

from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.reading.space import read_body

__all__ = ["read_footprints"]


def read_footprints(
    file: ifcopenshell.file, keys: Collection[str], kernel: Kernel | None = None
) -> dict[str, Polygon | MultiPolygon]:
    """Plans of spaces in model coordinates by their GlobalId; spaces without a usable body are left out."""
    wanted = set(keys)
    spaces = sorted((e for e in file.by_type("IfcSpace") if e.GlobalId in wanted), key=lambda e: e.id())
    if not spaces:
        return {}
    parts = (kernel or Kernel(file)).parts(spaces)
    found: dict[str, Polygon | MultiPolygon] = {}
    for space in spaces:
        try:
            plan = read_body(parts.get(space.id(), ()), space.GlobalId).plan
        except Exception:  # why it cannot be used stands in its own reason already
            continue
        found.setdefault(space.GlobalId, plan)
    return found
