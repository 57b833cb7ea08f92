"""Where a model lies on the map: its map conversion, as one matrix in mm.

IFC4 and later: IfcMapConversion (and its scaled kind) or IfcRigidOperation; IFC2X3: the
property set ePSet_MapConversion of the buildingSMART Australasia geo-referencing guide.
Reading their parameters is ifcopenshell's; that Scale turns project units into map units is
the text of IfcMapConversion (IFC 4.3, buildingSMART).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import ifcopenshell
import ifcopenshell.util.element
import ifcopenshell.util.geolocation
import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import ModelError
from ifcgrid.ifc.project import length_scale, unit_scale

__all__ = ["MapConversion", "read_map_conversion"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MapConversion:
    """From model coordinates to the map.

    `matrix` (4, 4) takes model coordinates in mm to (easting, northing, height) in mm; it
    turns, moves and scales by `scale`, map mm in one model mm. `crs` names the coordinate
    reference system, "" where the model does not; `unit` is mm in one unit of the map.
    `note` says what of the model's words was not taken.
    """

    matrix: NDArray[np.float64]
    scale: float
    crs: str
    unit: float
    note: str = ""

    @property
    def turned_deg(self) -> float:
        """Angle of the model's X axis from the map's easting, counter-clockwise."""
        return math.degrees(math.atan2(self.matrix[1, 0], self.matrix[0, 0]))


def read_map_conversion(file: ifcopenshell.file) -> MapConversion | None:
    """The map conversion of a model; None where it has none.

    A scale that does not fit the units (1 from millimetres to metres, as many programs
    write it) cannot be meant; then lengths are taken as they are, eastings that would lie off
    the Earth are taken in the project's unit, and `note` says so.

    Raises:
        ModelError: a number of it is no finite number.
    """
    try:
        told = ifcopenshell.util.geolocation.get_helmert_transformation_parameters(file)
    except (AttributeError, TypeError, AssertionError) as error:
        raise ModelError(f"the model's map conversion cannot be read: {error}") from error
    if told is None:
        return None
    numbers = [told.e, told.n, told.h, told.xaa, told.xao, told.scale]
    factors = [told.factor_x, told.factor_y, told.factor_z]
    if not all(isinstance(x, int | float) and math.isfinite(x) for x in (*numbers, *factors)):
        raise ModelError(f"the model's map conversion has the numbers {numbers}; finite ones were wanted")
    crs, unit = _reference_system(file)
    mm = length_scale(file)
    unit = unit or mm
    scale, note = told.scale * unit / mm, ""
    if abs(scale - 1.0) > tolerance.MAP_SCALE:
        note = f"its scale {told.scale:g} does not fit its units; lengths are taken as they are"
        scale = 1.0
        if max(abs(told.e), abs(told.n)) * unit > tolerance.MAP_REACH:
            note = f"{note}, and its eastings and northings in the project's unit"
            unit = mm
    x, y = np.array([told.xaa, told.xao]) / math.hypot(told.xaa, told.xao)
    matrix = np.eye(4)
    matrix[:3, :3] = np.array([[x, -y, 0.0], [y, x, 0.0], [0.0, 0.0, 1.0]]) * scale @ np.diag(factors)
    matrix[:3, 3] = np.array([told.e, told.n, told.h]) * unit
    return MapConversion(matrix=matrix, scale=scale, crs=crs, unit=unit, note=note)


def _reference_system(file: ifcopenshell.file) -> tuple[str, float]:
    """Name of the coordinate reference system, and mm in one of its units, 0 where it names none."""
    if file.schema == "IFC2X3":
        project = file.by_type("IfcProject")[0]
        told: Any = ifcopenshell.util.element.get_pset(project, "ePSet_ProjectedCRS") or {}
        return str(told.get("Name") or ""), 0.0
    found = file.by_type("IfcCoordinateReferenceSystem")
    if not found:
        return "", 0.0
    unit = getattr(found[0], "MapUnit", None)
    return str(found[0].Name or ""), unit_scale(unit) if unit is not None else 0.0
