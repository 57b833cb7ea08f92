"""Shapes of elements: triangles in model coordinates and millimetres, and what they are in plan."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.solid import is_convex
from ifcgrid.ifc.outline import filled, merged
from ifcgrid.ifc.placement import placement_matrix
from ifcgrid.ifc.project import length_scale

__all__ = ["Kernel", "Mesh", "cut_segments", "section", "silhouette"]

Mesh = NDArray[np.float64]
"""Triangles (n, 3, 3): triangle, corner, coordinate; model coordinates in mm."""

LIBRARIES = ("hybrid-cgal-simple-opencascade", "opencascade", "cgal")
"""Geometry kernels in the order in which they are asked. The first is exact and quick, 2,500
spaces a second. A still quicker one exists but crashes the whole process on an opening in a
shape that is not closed (seen with ifcopenshell 0.9.0), which no caller could catch."""

_FINE_SEGMENTS = 64
"""Straight pieces that a service's circle becomes; corners lie on it, so a side comes short of it by at
most 1 - cos(180 degrees / pieces) of the radius: of a 400 mm duct by 0.24 mm. Rooms and structure keep
the kernel's own number, which follows the size."""

_KERNEL_UNIT = 1000.0  # the kernel speaks metres whatever the project's unit
_BODY_TYPES = frozenset(
    {
        "AdvancedBrep",
        "AdvancedSweptSolid",
        "Brep",
        "Clipping",
        "CSG",
        "MappedRepresentation",
        "SectionedSpine",
        "SolidModel",
        "Surface3D",
        "SurfaceModel",
        "SweptSolid",
        "Tessellation",
    }
)
_BODY_ORDER = ("Body", "Facetation", "Body-FallBack")
_NO_BODIES = frozenset(
    {"Annotation", "Axis", "Box", "Clearance", "CoG", "FootPrint", "Lighting", "Profile", "SurveyPoints"}
)


class Kernel:
    """Turns the elements of one model into triangles.

    Args:
        file: the model.
        into: matrix (4, 4) in mm that takes its coordinates to those that are wanted, where
            it is a further model with an origin of its own.

    Raises:
        ModelError: the model has no usable length unit.
    """

    def __init__(self, file: ifcopenshell.file, into: NDArray[np.float64] | None = None) -> None:
        self.file = file
        self.scale = length_scale(file)
        self._into = None if into is None or np.array_equal(into, np.eye(4)) else into
        self._settings = ifcopenshell.geom.settings()
        self._fine = ifcopenshell.geom.settings()
        self._fine.set("circle-segments", _FINE_SEGMENTS)

    def placement(self, entity: ifcopenshell.entity_instance) -> NDArray[np.float64]:
        """The 4 x 4 matrix from an entity's own axes to model coordinates, translation in mm."""
        matrix = placement_matrix(getattr(entity, "ObjectPlacement", None))
        matrix[:3, 3] *= self.scale
        return matrix if self._into is None else self._into @ matrix

    def mesh(self, element: ifcopenshell.entity_instance) -> Mesh | None:
        """The element's body less its openings; None when it has no usable body.

        A body made by subtraction may come as touching pieces whose inner faces lie on each
        other in pairs; cut and shadow are right all the same.
        """
        parts = self._parts_of(element, self._settings)
        return np.concatenate(parts) if parts else None

    def meshes(
        self, elements: Iterable[ifcopenshell.entity_instance], *, is_fine: bool = False
    ) -> dict[str, Mesh]:
        """Bodies by GlobalId, in the order of the elements; those without a usable body are left out.

        Where it is asked for, round bodies come as fine as their clearances are judged.
        """
        wanted = list(elements)
        found = self.parts(wanted, is_fine=is_fine)
        return {e.GlobalId: np.concatenate(found[e.id()]) for e in wanted if e.id() in found}

    def parts(
        self, elements: Iterable[ifcopenshell.entity_instance], *, is_fine: bool = False
    ) -> dict[int, tuple[Mesh, ...]]:
        """Bodies by entity id, one mesh for each item of the representation.

        Items may overlap, so what is inside must be asked of each and the answers united.
        """
        wanted = [e for e in elements if body_representations(e)]
        # With several bodies the iterator would give them all; those elements go one by one.
        simple = [e for e in wanted if len(body_representations(e)) == 1]
        settings = self._fine if is_fine else self._settings
        found = self._batch(simple, settings)
        for element in wanted:
            if element.id() not in found:
                parts = self._parts_of(element, settings)
                if parts:
                    found[element.id()] = parts
        return found

    def _batch(
        self, elements: list[ifcopenshell.entity_instance], settings: Any
    ) -> dict[int, tuple[Mesh, ...]]:
        found: dict[int, tuple[Mesh, ...]] = {}
        try:
            for shape in self._shapes(elements, settings):
                if shape.id not in found and (parts := self._triangles(shape)):
                    found[shape.id] = parts
        except Exception:  # C++ errors of many types; what is missing is then asked for one by one
            return found
        return found

    def _shapes(self, elements: list[ifcopenshell.entity_instance], settings: Any) -> Iterator[Any]:
        if not elements:
            return
        iterator = ifcopenshell.geom.iterator(
            settings, self.file, 1, include=elements, geometry_library=LIBRARIES[0]
        )
        if not iterator.initialize():
            return
        yield iterator.get()
        while iterator.next():
            yield iterator.get()

    def _parts_of(self, element: ifcopenshell.entity_instance, settings: Any) -> tuple[Mesh, ...]:
        for representation in body_representations(element):
            for library in LIBRARIES:
                try:
                    shape = ifcopenshell.geom.create_shape(
                        settings, element, representation, geometry_library=library
                    )
                    parts = self._triangles(shape)
                except Exception:  # one bad element must not stop the others
                    continue
                if parts:
                    return parts
        return ()

    def _triangles(self, shape: Any) -> tuple[Mesh, ...]:
        geometry = shape.geometry
        faces = np.asarray(geometry.faces, dtype=np.int64).reshape(-1, 3)
        if len(faces) == 0:
            return ()
        matrix = np.asarray(shape.transformation.matrix, dtype=float).reshape(4, 4).T
        local = np.asarray(geometry.verts, dtype=float).reshape(-1, 3)
        world = (local @ matrix[:3, :3].T + matrix[:3, 3]) * _KERNEL_UNIT
        if self._into is not None:
            world = world @ self._into[:3, :3].T + self._into[:3, 3]
        triangles: Mesh = world[faces]
        items = np.asarray(geometry.item_ids, dtype=np.int64)
        if len(items) != len(faces):
            return (triangles,)
        return tuple(triangles[items == item] for item in np.unique(items))


def body_representations(element: ifcopenshell.entity_instance) -> list[ifcopenshell.entity_instance]:
    """Representations that may hold a solid or a surface: Body first, drawings and boxes never."""
    shape = getattr(element, "Representation", None)
    if shape is None:
        return []
    found = [r for r in shape.Representations if _is_body(r)]
    return sorted(found, key=lambda r: (_rank(r.RepresentationIdentifier), r.id()))


def _is_body(representation: ifcopenshell.entity_instance) -> bool:
    if representation.RepresentationIdentifier in _NO_BODIES or not representation.Items:
        return False
    kind = representation.RepresentationType
    return not kind or kind in _BODY_TYPES


def _rank(identifier: str | None) -> int:
    return _BODY_ORDER.index(identifier) if identifier in _BODY_ORDER else len(_BODY_ORDER)


def silhouette(mesh: Mesh) -> Polygon | MultiPolygon:
    """The shadow of triangles (n, 3, 3) in plan; empty when all stand upright."""
    if is_convex(mesh):
        hull = shapely.convex_hull(shapely.multipoints(_snapped(mesh).reshape(-1, 2)))
        return hull if isinstance(hull, Polygon) else Polygon()
    plan = _snapped(mesh)
    ab, ac = plan[:, 1] - plan[:, 0], plan[:, 2] - plan[:, 0]
    area = 0.5 * (ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])
    # A triangle whose height is below the tolerance is a wall seen from above.
    longest = np.sqrt(np.maximum((ab**2).sum(axis=1), (ac**2).sum(axis=1)))
    plan = plan[np.abs(area) > 0.5 * tolerance.LENGTH * longest]
    shadow = merged(list(shapely.polygons(plan)))
    return shadow if shadow.is_empty else merged([shapely.simplify(shadow, tolerance.LENGTH)])


def _snapped(mesh: Mesh) -> NDArray[np.float64]:
    return np.round(mesh[:, :, :2] / tolerance.LENGTH, 2) * tolerance.LENGTH


def section(mesh: Mesh, z: float) -> Polygon | MultiPolygon:
    """The horizontal cut through triangles (n, 3, 3) at height z; empty when they are not there.

    Surfaces need not be closed above and below. Where z touches a face or a corner, the cut
    is made `tolerance.LENGTH` lower, and where there is nothing, as much higher.
    """
    segments = cut_segments(mesh, z)
    return filled(segments) if len(segments) else Polygon()


def cut_segments(mesh: Mesh, z: float) -> NDArray[np.float64]:
    """Plan segments (n, 2, 2) in which triangles (n, 3, 3) meet the plane at height z."""
    heights = mesh[:, :, 2]
    if not np.any(np.abs(heights - z) <= tolerance.LENGTH):
        return _segments(mesh, z)
    below = _segments(mesh, z - 2 * tolerance.LENGTH)
    return below if len(below) else _segments(mesh, z + 2 * tolerance.LENGTH)


def _segments(mesh: Mesh, z: float) -> NDArray[np.float64]:
    # A corner at exactly z counts as above, so every cut triangle has one corner on its own.
    above = mesh[:, :, 2] >= z
    count = above.sum(axis=1)
    cut = (count == 1) | (count == 2)
    corners, above, count = mesh[cut], above[cut], count[cut]
    alone = np.argmax(above == (count == 1)[:, None], axis=1)
    rows = np.arange(len(corners))
    apex = corners[rows, alone]
    ends = []
    for step in (1, 2):
        other = corners[rows, (alone + step) % 3]
        # From below to above in every triangle, so that neighbours compute the same point.
        is_up = (count == 1)[:, None]
        low, high = np.where(is_up, other, apex), np.where(is_up, apex, other)
        t = (z - low[:, 2]) / (high[:, 2] - low[:, 2])
        ends.append(low[:, :2] + t[:, None] * (high - low)[:, :2])
    segments: NDArray[np.float64] = np.stack(ends, axis=1) if ends else np.empty((0, 2, 2))
    return segments
