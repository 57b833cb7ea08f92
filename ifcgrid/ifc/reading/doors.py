"""Where a model's doors are in plan. Placements and widths only: no door needs its body made."""

from __future__ import annotations

import math
from typing import Any

import ifcopenshell
import ifcopenshell.util.element
import numpy as np
from shapely import Polygon

from ifcgrid.domain.building import Door
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.project import length_scale

__all__ = ["find_sweep", "read_doors"]


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


def find_sweep(door: Any, kernel: Kernel) -> Polygon | None:
    """Where a door's leaf swings in plan, in model coordinates in mm; None where the model does not say.

    A swing door opens towards the Y axis of its placement (IFC, from memory); its one leaf, or
    each of two, sweeps a square at most as deep as it is wide.
    """
    operation = _operation_of(door)
    width = (getattr(door, "OverallWidth", None) or 0.0) * kernel.scale
    if not width or "SWING" not in operation or not door.ObjectPlacement:
        return None
    deep = width / 2 if operation.startswith("DOUBLE_DOOR") else width
    back = -deep if operation.startswith("DOUBLE_SWING") or operation.endswith("DOUBLE_SWING") else 0.0
    matrix = kernel.placement(door)
    corners = np.array([(0.0, back), (width, back), (width, deep), (0.0, deep)])
    return Polygon(corners @ matrix[:2, :2].T + matrix[:2, 3])


def _operation_of(door: Any) -> str:
    """How a door opens, of itself or its type, in the words of IfcDoorTypeOperationEnum."""
    kind_of = ifcopenshell.util.element.get_type(door)
    for one in (door, kind_of):
        word = getattr(one, "OperationType", None)
        if word and word not in ("NOTDEFINED", "USERDEFINED"):
            return str(word)
    return ""
