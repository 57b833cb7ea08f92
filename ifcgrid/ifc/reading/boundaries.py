"""Which spaces the model calls open to each other: virtual boundaries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import ifcopenshell
import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.placement import axes_matrix

__all__ = ["read_open_sides"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Side:
    """An upright virtual boundary: its space's key, its line in plan, its lowest and highest z in mm."""

    space: str
    line: NDArray[np.float64]
    bottom: float
    top: float


def read_open_sides(file: ifcopenshell.file, kernel: Kernel) -> dict[str, tuple[str, ...]]:
    """For each space's GlobalId those of the spaces that no wall parts from it, sorted.

    Two spaces are open to each other when boundaries of both name the same
    IfcVirtualElement, when one of their virtual boundaries names the other as
    corresponding, or when virtual boundaries of both without an element lie on each other.
    """
    pairs: set[tuple[str, str]] = set()
    spaces_at: dict[int, set[str]] = defaultdict(set)
    sides: list[_Side] = []
    for relation in file.by_type("IfcRelSpaceBoundary"):
        space, element = relation.RelatingSpace, relation.RelatedBuildingElement
        if space is None or not space.is_a("IfcSpace") or not _is_virtual(relation):
            continue
        other = getattr(relation, "CorrespondingBoundary", None)
        if other is not None and other.RelatingSpace is not None and other.RelatingSpace.is_a("IfcSpace"):
            pairs.add((space.GlobalId, other.RelatingSpace.GlobalId))
        if element is not None:
            spaces_at[element.id()].add(space.GlobalId)
        elif (side := _side(relation, kernel)) is not None:
            sides.append(side)
    for keys in spaces_at.values():
        pairs.update(combinations(sorted(keys), 2))
    pairs.update(_lying_together(sides))
    return _both_ways(pairs)


def _both_ways(pairs: set[tuple[str, str]]) -> dict[str, tuple[str, ...]]:
    others: dict[str, set[str]] = defaultdict(set)
    for one, two in pairs:
        if one != two:
            others[one].add(two)
            others[two].add(one)
    return {key: tuple(sorted(found)) for key, found in others.items()}


def _is_virtual(relation: ifcopenshell.entity_instance) -> bool:
    element = relation.RelatedBuildingElement
    if element is None:
        return bool(relation.PhysicalOrVirtualBoundary == "VIRTUAL")
    return bool(element.is_a("IfcVirtualElement"))


def _side(relation: ifcopenshell.entity_instance, kernel: Kernel) -> _Side | None:
    """The boundary's surface if it stands upright on a straight line, in model coordinates."""
    geometry = relation.ConnectionGeometry
    surface = getattr(geometry, "SurfaceOnRelatingElement", None)
    if surface is None:
        return None
    try:
        local = _corners(surface, kernel.scale)
        if local is None or not np.isfinite(local).all():
            return None
        matrix = kernel.placement(relation.RelatingSpace)
    except Exception:  # a surface in a form that cannot be read only says nothing
        return None
    points = local @ matrix[:3, :3].T + matrix[:3, 3]
    plan, z = points[:, :2], points[:, 2]
    far = plan[int(np.argmax(np.hypot(*(plan - plan[0]).T)))]
    near = plan[int(np.argmax(np.hypot(*(plan - far).T)))]
    along = far - near
    length = float(np.hypot(*along))
    if length < tolerance.GAP or float(np.ptp(z)) < tolerance.GAP:
        return None
    off = np.abs((plan - near) @ np.array([-along[1], along[0]])) / length
    if off.max() > tolerance.SHORTEST_EDGE:
        return None
    return _Side(
        space=relation.RelatingSpace.GlobalId,
        line=np.array([near, far]),
        bottom=float(z.min()),
        top=float(z.max()),
    )


def _corners(surface: ifcopenshell.entity_instance, scale: float) -> NDArray[np.float64] | None:
    """Points (n, 3) on the outline of a connection surface in its space's axes, in mm."""
    if surface.is_a("IfcSurfaceOfLinearExtrusion"):
        flat = _points(getattr(surface.SweptCurve, "Curve", None))
        if flat is None:
            return None
        direction = np.array(surface.ExtrudedDirection.DirectionRatios, dtype=float)
        rise = direction / np.linalg.norm(direction) * surface.Depth
        corners = np.concatenate([flat, flat + rise])
        return _placed(corners, surface.Position) * scale
    if surface.is_a("IfcCurveBoundedPlane"):
        flat = _points(surface.OuterBoundary)
        return None if flat is None else _placed(flat, surface.BasisSurface.Position) * scale
    return None


def _points(curve: ifcopenshell.entity_instance | None) -> NDArray[np.float64] | None:
    if curve is None or not curve.is_a("IfcPolyline"):
        return None
    return np.array([(*p.Coordinates, 0.0)[:3] for p in curve.Points], dtype=float)


def _placed(
    points: NDArray[np.float64], position: ifcopenshell.entity_instance | None
) -> NDArray[np.float64]:
    if position is None:
        return points
    matrix = axes_matrix(position)
    placed: NDArray[np.float64] = points @ matrix[:3, :3].T + matrix[:3, 3]
    return placed


def _lying_together(sides: list[_Side]) -> Iterator[tuple[str, str]]:
    """Pairs of spaces whose sides run along each other for more than a gap, in plan and height."""
    if not sides:
        return
    lines = np.atleast_1d(np.asarray(shapely.linestrings([s.line for s in sides]), dtype=object))
    first, second = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=tolerance.GAP)
    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        one, two = sides[i], sides[j]
        if i < j and one.space != two.space and _run_together(one, two):
            yield one.space, two.space


def _run_together(one: _Side, two: _Side) -> bool:
    if min(one.top, two.top) - max(one.bottom, two.bottom) < tolerance.GAP:
        return False
    start, along = one.line[0], one.line[1] - one.line[0]
    length = float(np.hypot(*along))
    unit = along / length
    across = (two.line - start) @ np.array([-unit[1], unit[0]])
    if np.abs(across).max() > tolerance.GAP:
        return False
    at = (two.line - start) @ unit
    return bool(min(length, at.max()) - max(0.0, at.min()) > tolerance.GAP)
