"""The straight axes of a building's grids, in model coordinates."""

from __future__ import annotations

from typing import Any

import ifcopenshell
import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.building import BuildingAxis
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.identity import is_ours
from ifcgrid.ifc.project import length_scale

__all__ = ["read_axes"]


def read_axes(file: ifcopenshell.file, kernel: Kernel | None = None) -> tuple[BuildingAxis, ...]:
    """The axes of all grids that are not set-out grids of ours, by grid and tag; curved ones are left out.

    Axes of one tag that several grids repeat at the same place, storey by storey, are one.
    """
    kernel = kernel or Kernel(file)
    scale = length_scale(file)
    found: dict[tuple[str, tuple[float, ...]], BuildingAxis] = {}
    for grid in sorted(file.by_type("IfcGrid"), key=lambda g: str(g.GlobalId)):
        if is_ours(grid):
            continue
        matrix = kernel.placement(grid)
        for axis in (*(grid.UAxes or ()), *(grid.VAxes or ()), *(grid.WAxes or ())):
            ends = _ends(axis.AxisCurve)
            if ends is None or not axis.AxisTag:
                continue
            local = np.column_stack([ends * scale, np.zeros(2), np.ones(2)])
            start, end = (local @ matrix.T)[:, :2].tolist()
            made = BuildingAxis(
                tag=str(axis.AxisTag),
                grid=grid.Name or grid.GlobalId,
                start=(start[0], start[1]),
                end=(end[0], end[1]),
            )
            found.setdefault((made.tag, tuple(round(x) for x in (*start, *end))), made)
    return tuple(found[key] for key in sorted(found))


def _ends(curve: Any) -> NDArray[np.float64] | None:
    """Two points (2, 2) of a straight axis in the grid's own coordinates; None for a curved one."""
    if curve.is_a("IfcTrimmedCurve"):
        return _ends(curve.BasisCurve)
    if curve.is_a("IfcLine"):
        start = np.array(curve.Pnt.Coordinates[:2], dtype=float)
        step = np.array(curve.Dir.Orientation.DirectionRatios[:2], dtype=float)
        return np.array([start, start + step / np.hypot(*step) * max(float(curve.Dir.Magnitude), 1.0)])
    if curve.is_a("IfcPolyline"):
        return _straight(np.array([p.Coordinates[:2] for p in curve.Points], dtype=float))
    if curve.is_a("IfcIndexedPolyCurve"):
        if any(part.is_a("IfcArcIndex") for part in curve.Segments or ()):
            return None
        return _straight(np.array(curve.Points.CoordList, dtype=float)[:, :2])
    return None


def _straight(points: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """The ends of a polyline whose points lie on one line, else None."""
    run = points[-1] - points[0]
    length = float(np.hypot(*run))
    if length == 0.0:
        return None
    across = np.array([-run[1], run[0]]) / length
    bend = float(np.abs((points - points[0]) @ across).max()) / length
    return points[[0, -1]] if bend <= np.radians(tolerance.ANGLE_DEG) else None
