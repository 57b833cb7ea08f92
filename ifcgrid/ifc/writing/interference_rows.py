"""Clashes as relations between elements of one model, with where they meet.

IfcRelInterferesElements exists since IFC4. Its InterferenceGeometry is an
IfcConnectionGeometry in the coordinates of the relating element: here the volume in which
the two are, cut to the part of ours, or the spot alone where there is no such volume. The
order of the two says nothing, so ImpliedOrder is false.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, box

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.finding import Box, Finding, Verdict
from ifcgrid.ifc.identity import interference_key
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.mapping import CEILING_CLASHES, ELEMENT_CLASHES
from ifcgrid.ifc.writing.rows import Ref
from ifcgrid.ifc.writing.shapes import frame_matrix

__all__ = ["add_interferences"]

_Matrix = NDArray[np.float64]
_Named = tuple[str, Ref]


def add_interferences(book: Book, ceilings: Sequence[Ceiling], findings: Sequence[Finding]) -> None:
    """One relation a pair of entities that clash; the first finding on a pair names it."""
    places = _Places(book, ceilings)
    seen: set[frozenset[Ref]] = set()
    for finding in findings:
        for (name, one), (other_name, other) in _pairs(book, finding):
            if one == other or frozenset((one, other)) in seen:
                continue
            seen.add(frozenset((one, other)))
            geometry = _geometry(book, places, finding, name, other_name)
            book.root(
                "IfcRelInterferesElements",
                book.context.project,
                interference_key(name, other_name),
                *(finding.rule, finding.message, one, other, geometry, "Clash", False),
            )
            book.counts["interference"] += 1


def _pairs(book: Book, finding: Finding) -> list[tuple[_Named, _Named]]:
    """Which of our parts a failing finding says to clash with which elements of this model.

    A part that this detail leaves out is its room's ceiling; so is a finding that names no
    part but says that something stands in the ceiling. Ends that are not ours go by their
    GlobalId, so that a later run knows the relation again. Elements of other models have no
    entity here and give no pair.
    """
    if finding.verdict is not Verdict.FAIL:
        return []
    elements = book.context.elements
    theirs = [(s, elements[s]) for s in finding.subjects if s in elements]
    if finding.rule in ELEMENT_CLASHES:
        return list(combinations(theirs, 2))
    named = [s for s in finding.subjects if "/" in s]
    ours = [(s, book.parts[s]) for s in named if s in book.parts]
    ceiling = book.coverings.get(finding.room)
    if ceiling is not None and not ours and (named or finding.rule in CEILING_CLASHES):
        ours = [ceiling]
    return list(product(ours, theirs))


class _Places:
    """Where the elements stand that relations begin at: matrices (4, 4) to the model, moves in mm."""

    def __init__(self, book: Book, ceilings: Sequence[Ceiling]) -> None:
        self._book = book
        self._frames = {c.key: frame_matrix(c.layout.frame, c.zone.level) for c in ceilings}
        self._rooms = {room.key: c.key for c in ceilings for room in c.zone.rooms}
        self._ceilings = {c.key: c for c in ceilings}
        self._shapes: dict[str, dict[str, tuple[Polygon, float, float]]] = {}

    def matrix(self, name: str) -> _Matrix | None:
        """The place of a part of ours, of a room's covering, or of an element of the model."""
        zone, slash, part = name.partition("/")
        if not slash:
            return self._book.context.places.get(name)
        if part == "covering":
            return self._frames.get(self._rooms.get(zone, zone))
        local = self._book.place_of(name)
        if local is None or zone not in self._frames:
            return None
        matrix: _Matrix = self._frames[zone] @ local
        return matrix

    def in_band(self, extent: Box, room: str) -> Box:
        """What of a box is between the underside of a room's ceiling and the tops of its mains."""
        ceiling = self._ceilings.get(self._rooms.get(room, room))
        if ceiling is None:
            return extent
        low = ceiling.zone.level
        x0, y0, z0, x1, y1, z1 = extent
        return x0, y0, max(z0, low), x1, y1, min(z1, low + ceiling.system.main.height)

    def shape(self, name: str) -> tuple[Polygon, float, float] | None:
        """What a part of ours fills in its own axes: plan, lowest and highest z; None where not told."""
        zone, _, part = name.partition("/")
        if zone not in self._shapes:
            ceiling = self._ceilings.get(zone)
            self._shapes[zone] = {} if ceiling is None else _part_shapes(ceiling)
        return self._shapes[zone].get(part)


def _part_shapes(ceiling: Ceiling) -> dict[str, tuple[Polygon, float, float]]:
    """Plan and height of members, along X from their start, and of hangers, along Z from their foot."""
    members, hangers, system = ceiling.members, ceiling.hangers, ceiling.system
    found = {}
    for key, role, length in zip(members.keys(), members.role.tolist(), members.length.tolist(), strict=True):
        is_angle = role == Role.WALL_ANGLE
        section = system.main if role == Role.MAIN_RUNNER else system.angle if is_angle else system.tee
        low = 0.0 if is_angle else -section.face / 2
        found[key] = (box(0.0, low, length, low + section.face), 0.0, section.height)
    radius = system.hanger_diameter / 2
    for key, length in zip(hangers.keys(), hangers.lengths.tolist(), strict=True):
        if np.isfinite(length):
            found[key] = (box(-radius, -radius, radius, radius), 0.0, length)
    return found


def _geometry(book: Book, places: _Places, finding: Finding, name: str, other: str) -> Ref | None:
    """The volume in which two are, else the finding's spot, in the axes of the relating element."""
    matrix = places.matrix(name)
    if matrix is None:
        return None
    extent = dict(finding.extents).get(other)
    if extent is not None and name not in book.parts and finding.rule in CEILING_CLASHES:
        extent = places.in_band(extent, finding.room)
    volume = None if extent is None else _volume(matrix, extent, places.shape(name))
    if volume is not None:
        plan, low, high = volume
        solid = book.shapes.extrusion(book.shapes.profile(plan), low, high - low)
        return book.rows.add("IfcConnectionVolumeGeometry", solid, None)
    if finding.point is None:
        return None
    x, y, z, _ = (_inverse(matrix) @ (*finding.point, 1.0)).tolist()
    point = book.rows.add("IfcCartesianPoint", book.context.points([(x, y, z)])[0])
    return book.rows.add("IfcConnectionPointGeometry", point, None)


def _volume(
    matrix: _Matrix, extent: Box, shape: tuple[Polygon, float, float] | None
) -> tuple[Polygon, float, float] | None:
    """What of a box in the model is in a part, as plan, lowest and highest z in the part's own axes."""
    x0, y0, z0, x1, y1, z1 = extent
    if z1 <= z0:
        return None
    corners = np.array([(x, y, z, 1.0) for x in (x0, x1) for y in (y0, y1) for z in (z0, z1)])
    local = (corners @ _inverse(matrix).T)[:, :3]
    # Exact for what stands upright or lies level; for what leans, the box in its own axes.
    plan = shapely.convex_hull(shapely.multipoints(local[:, :2]))
    low, high = float(local[:, 2].min()), float(local[:, 2].max())
    if shape is not None:
        plan = shapely.intersection(plan, shape[0])
        low, high = max(low, shape[1]), min(high, shape[2])
    if not isinstance(plan, Polygon) or plan.area < tolerance.AREA or high - low < tolerance.LENGTH:
        return None
    return shapely.set_precision(plan, tolerance.PRECISION), low, high


def _inverse(matrix: _Matrix) -> _Matrix:
    """The inverse of a turn and move: the turn's transpose, which is exact."""
    inverse = np.eye(4)
    inverse[:3, :3] = matrix[:3, :3].T
    inverse[:3, 3] = -matrix[:3, :3].T @ matrix[:3, 3]
    return inverse
