"""Where a model's doors are in plan. Placements and widths only: no door needs its body made."""

from __future__ import annotations

import math
from typing import Any

import ifcopenshell

from ifcgrid.domain.building import Door
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.project import length_scale

__all__ = ["read_doors"]


def read_doors(file: ifcopenshell.file, kernel: Kernel | None = None) -> tuple[Door, ...]:
    """The doors of a model, sorted by GlobalId.

    A door's placement stands at the foot of one side of its leaf with X along it (IFC, from
    memory; so it is in the models at hand), and the leaf's middle half its overall width
    further on; a door without a width counts at its placement.
    """
    kernel = kernel or Kernel(file)
    scale = length_scale(file)
    doors = [_door(door, kernel, scale) for door in file.by_type("IfcDoor") if door.ObjectPlacement]
    return tuple(sorted(doors, key=lambda door: door.key))


def _door(door: Any, kernel: Kernel, scale: float) -> Door:
    matrix = kernel.placement(door)
    width = (getattr(door, "OverallWidth", None) or 0.0) * scale
    angle = math.degrees(math.atan2(matrix[1, 0], matrix[0, 0])) % 180.0
    x, y, z = (matrix[:3, 3] + matrix[:3, 0] * (width / 2)).tolist()
    return Door(key=door.GlobalId, name=door.Name or "", point=(x, y), angle_deg=angle, bottom=z)
