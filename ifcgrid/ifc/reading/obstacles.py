"""Everything in a model that a ceiling can run into or hang from, as shapes in model coordinates.

What each element is to a ceiling is decided in `ifcgrid.ifc.reading.kind`. Wholes that are made of
parts (stairs, curtain walls, trusses, roofs) are read as their parts. What ifcgrid wrote
in an earlier run is never an obstacle.
"""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

import ifcopenshell.util.element
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.obstacle import DEVICES, SERVICES, Kind, Obstacle
from ifcgrid.ifc.geometry import Kernel, silhouette
from ifcgrid.ifc.identity import find_ours
from ifcgrid.ifc.project import ModelFile
from ifcgrid.ifc.reading.barriers import find_barrier
from ifcgrid.ifc.reading.doors import find_sweep
from ifcgrid.ifc.reading.kind import find_kind, needs_access
from ifcgrid.ifc.reading.weights import find_mass_scale, find_weight

__all__ = ["read_obstacles"]


def _parts_of(element: Any) -> list[Any]:
    """Everything that an element is made of, at any depth."""
    found = []
    for part in ifcopenshell.util.element.get_parts(element):
        found += [part, *_parts_of(part)]
    return found


def _outline(mesh: NDArray[np.float64]) -> Polygon | MultiPolygon:
    """The plan silhouette; a sheet that stands upright has a thin one, not none."""
    outline = silhouette(mesh)
    if outline.is_empty:
        line = shapely.MultiPoint(mesh[:, :, :2].reshape(-1, 2)).convex_hull
        return line.buffer(tolerance.LENGTH, cap_style="square")
    return outline


def _obstacle(
    element: Any, kind: Kind, mesh: NDArray[np.float64], source: str, mass_scale: float, kernel: Kernel
) -> Obstacle:
    kind_of = ifcopenshell.util.element.get_type(element)
    return Obstacle(
        key=element.GlobalId,
        kind=kind,
        name=element.Name or "",
        outline=_outline(mesh),
        bottom=float(mesh[:, :, 2].min()),
        top=float(mesh[:, :, 2].max()),
        mesh=mesh,
        source=source,
        type_name=(kind_of.Name if kind_of is not None else element.ObjectType) or "",
        weight_kg=find_weight(element, mass_scale) if kind in DEVICES else None,
        barrier=find_barrier(element) if kind is Kind.WALL else "",
        needs_access=kind in SERVICES and needs_access(element),
        sweep=find_sweep(element, kernel) if kind is Kind.DOOR else None,
    )


def read_obstacles(model: ModelFile, kernel: Kernel | None = None) -> tuple[Obstacle, ...]:
    """All physical elements that can be in a ceiling's way or carry it, sorted by key.

    Elements without a usable body are left out. Coordinates are those of the model in mm
    whatever its unit and schema, so that models with one origin federate as they are.

    Args:
        model: an open model; may be of another discipline than the one with the rooms.
        kernel: its geometry kernel, made when not given.
    """
    kernel = kernel or Kernel(model.file)
    kinds: dict[str, Kind] = {}
    elements, ours = [], find_ours(model.file)
    for element in model.file.by_type("IfcElement"):
        if element.id() in ours or element.Representation is None or element.GlobalId in kinds:
            continue
        kind = find_kind(element)
        if kind is not None:
            kinds[element.GlobalId] = kind
            elements.append(element)
    services = [e for e in elements if kinds[e.GlobalId] in SERVICES]
    others = [e for e in elements if kinds[e.GlobalId] not in SERVICES]
    meshes = kernel.meshes(others) | kernel.meshes(services, is_fine=True)
    source = PurePath(model.path).name
    mass_scale = find_mass_scale(model.file)
    return tuple(
        _obstacle(element, kinds[element.GlobalId], meshes[element.GlobalId], source, mass_scale, kernel)
        for element in sorted(elements, key=lambda e: str(e.GlobalId))
        if element.GlobalId in meshes and not any(p.GlobalId in meshes for p in _parts_of(element))
    )
