"""Geometry as rows: placements, profiles, extrusions, maps of equal pieces, and styles.

A T or L section is centred on its bounding box, with the T's flange at +Y and the L's legs
at -X and -Y (IfcTShapeProfileDef, IfcLShapeProfileDef). The placement of the extruded solid
turns it so that the piece runs along +X from the origin and its face lies at z = 0; a wall
angle has its wall side at y = 0 and points to +Y, where the room is.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.polygon import orient

from ifcgrid.domain.frame import Frame
from ifcgrid.domain.system import GridSystem, Section
from ifcgrid.ifc.writing.context import TARGET_VIEWS, Container, WriteContext
from ifcgrid.ifc.writing.mapping import Part, find_names
from ifcgrid.ifc.writing.rows import DERIVED, Enum, Ref, Rows

__all__ = ["Shapes", "frame_matrix", "same_length", "same_lengths", "section_name", "section_of"]

_GREY = {"grid": 0.25, "panels": 0.9}
"""Surface grey: dark grid on light panels, so that both read in black and white."""

_DIRECTION_DECIMALS = 12
_UNTURNED = np.eye(3)


def frame_matrix(frame: Frame, level: float) -> NDArray[np.float64]:
    """The place (4, 4) of a ceiling's frame in the model, moves in mm."""
    (c, s), *_ = Frame(x=0.0, y=0.0, angle_deg=frame.angle_deg).to_world([[1.0, 0.0]])
    return np.array(
        [[c, -s, 0.0, frame.x], [s, c, 0.0, frame.y], [0.0, 0.0, 1.0, level], [0.0, 0.0, 0.0, 1.0]]
    )


def same_length(length: float) -> float:
    """The length in mm that all pieces of equal length share: to a thousandth of a mm."""
    return round(length * 1000.0) / 1000.0 + 0.0


def same_lengths(lengths: NDArray[np.float64]) -> NDArray[np.float64]:
    """The same for lengths (n,)."""
    shared: NDArray[np.float64] = np.rint(lengths * 1000.0) / 1000.0
    return shared + 0.0


def section_of(part: Part, system: GridSystem) -> Section:
    """The section of a member."""
    if part is Part.MAIN_RUNNER:
        return system.main
    return system.angle if part is Part.WALL_ANGLE else system.tee


def section_name(part: Part, section: Section) -> str:
    """A section in words: `T 38 x 24 x 0.3`."""
    letter = "L" if part is Part.WALL_ANGLE else "T"
    return f"{letter} {section.height:g} x {section.face:g} x {section.thickness:g}"


class Shapes:
    """Adds geometry to rows; shares directions, profiles and maps by value. Lengths in mm."""

    def __init__(self, rows: Rows, context: WriteContext) -> None:
        self.rows = rows
        self.context = context
        self._directions: dict[tuple[float, ...], Ref] = {}
        self._maps: dict[tuple[Any, ...], Ref] = {}
        self._profiles: dict[tuple[Any, ...], Ref] = {}
        self._styles: dict[str, Ref] = {}
        self._views = dict(context.views)
        self._origin: Ref | None = None

    @property
    def up(self) -> Ref:
        """The direction of Z."""
        return self.direction((0.0, 0.0, 1.0))

    def view(self, identifier: str) -> Ref:
        """The sub-context of that identifier, made if the model has none."""
        if identifier not in self._views:
            self._views[identifier] = self.rows.add(
                "IfcGeometricRepresentationSubContext",
                *(identifier, "Model", DERIVED, DERIVED, DERIVED, DERIVED),
                *(self.context.model, None, Enum(TARGET_VIEWS[identifier])),
            )
        return self._views[identifier]

    def direction(self, vector: Any) -> Ref:
        """A direction, shared by all that point the same way."""
        key = tuple([round(float(x), _DIRECTION_DECIMALS) + 0.0 for x in vector])
        if key not in self._directions:
            self._directions[key] = self.rows.add("IfcDirection", key)
        return self._directions[key]

    def piece_matrix(self, point: Any, z: Ref | None, x: Ref | None) -> NDArray[np.float64]:
        """The matrix (4, 4) of a piece at a point (3,) whose Z and X go along directions that we made."""
        known = {ref: vector for vector, ref in self._directions.items()}
        matrix = np.eye(4)
        if z is not None and x is not None:
            up, along = np.array(known[z]), np.array(known[x])
            matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = along, np.cross(up, along), up
        matrix[:3, 3] = point
        return matrix

    def axes(self, matrix: NDArray[np.float64]) -> Ref:
        """An axis placement from a matrix (4, 4); turns are left off when there are none."""
        point = self.rows.add("IfcCartesianPoint", self.context.points([matrix[:3, 3]])[0])
        if np.abs(matrix[:3, :3] - _UNTURNED).max() <= 10.0**-_DIRECTION_DECIMALS:
            return self._axes_at(point)
        return self._axes_at(point, *map(self.direction, (matrix[:3, 2], matrix[:3, 0])))

    def _axes_at(self, point: Ref, *directions: Ref) -> Ref:
        return self.rows.add("IfcAxis2Placement3D", point, *directions)

    def placement(self, container: Container, matrix: NDArray[np.float64]) -> Ref:
        """A placement in a space of what stands at `matrix` in the model."""
        relative = matrix if container.placement is None else _inverse(container.matrix) @ matrix
        return self.rows.add("IfcLocalPlacement", container.placement, self.axes(relative))

    def offset_placement(self, parent: Ref, x: float, y: float) -> Ref:
        """A placement that is moved from another one in its plane."""
        matrix = np.eye(4)
        matrix[:2, 3] = x, y
        return self.rows.add("IfcLocalPlacement", parent, self.axes(matrix))

    def polyline(self, points: Any) -> Ref:
        """An open polyline through points (n, 2)."""
        return self.rows.add("IfcPolyline", tuple(self._points(points)))

    def ring(self, points: Any) -> Ref:
        """A closed polyline; the last point is the first one, as the same entity."""
        corners = self._points(points)
        return self.rows.add("IfcPolyline", (*corners, corners[0]))

    def _points(self, points: Any) -> list[Ref]:
        return [self.rows.add("IfcCartesianPoint", p) for p in self.context.points(points)]

    def rings(self, polygon: Polygon) -> list[Ref]:
        """The closed polylines of a polygon, the outer one first."""
        turned = orient(polygon)
        return [self.ring(np.asarray(r.coords)[:-1, :2]) for r in (turned.exterior, *turned.interiors)]

    def profile(self, polygon: Polygon) -> Ref:
        """A profile with its holes."""
        return self.ring_profile(self.rings(polygon))

    def ring_profile(self, rings: Sequence[Ref]) -> Ref:
        """A profile from its closed polylines, the outer one first."""
        outer, *inner = rings
        if inner:
            return self.rows.add("IfcArbitraryProfileDefWithVoids", Enum("AREA"), None, outer, tuple(inner))
        return self.rows.add("IfcArbitraryClosedProfileDef", Enum("AREA"), None, outer)

    def extrusion(self, profile: Ref, bottom: float, height: float) -> Ref:
        """A solid from z = bottom upwards."""
        return self._solid(profile, self._lifted(bottom), height)

    def _lifted(self, z: float) -> Ref:
        matrix = np.eye(4)
        matrix[2, 3] = z
        return self.axes(matrix)

    def _solid(self, profile: Ref, position: Ref, depth: float) -> Ref:
        return self.rows.add("IfcExtrudedAreaSolid", profile, position, self.up, self.context.length(depth))

    def marking(self, curves: Sequence[Ref]) -> Ref:
        """An Annotation of plane curves."""
        curve_set = self.rows.add("IfcGeometricCurveSet", tuple(curves))
        return self.representation("Annotation", "GeometricCurveSet", [curve_set])

    def foot_print(self, curves: Sequence[Ref]) -> Ref:
        """A FootPrint of plane curves."""
        curve_set = self.rows.add("IfcGeometricCurveSet", tuple(curves))
        return self.representation("FootPrint", "GeometricCurveSet", [curve_set])

    def representation(self, identifier: str, kind: str, items: Sequence[Ref]) -> Ref:
        """A shape representation in the sub-context of the same identifier."""
        return self.rows.add("IfcShapeRepresentation", self.view(identifier), identifier, kind, tuple(items))

    def body(self, solids: Sequence[Ref], style: str | None = None) -> Ref:
        """A Body of extruded solids."""
        for solid in solids if style else ():
            self.paint(solid, style or "")
        return self.representation("Body", "SweptSolid", solids)

    def product_shape(self, *representations: Ref) -> Ref:
        """The shape of one product."""
        return self.rows.add("IfcProductDefinitionShape", None, None, representations)

    def paint(self, item: Ref, style: str) -> None:
        """Gives an item the grey of `grid` or `panels`."""
        if style not in self._styles:
            self._styles[style] = self._style(style)
        self.rows.add("IfcStyledItem", item, (self._styles[style],), None)

    def _style(self, style: str) -> Ref:
        colour = self.rows.add("IfcColourRgb", None, *[_GREY[style]] * 3)
        shading = self.rows.add("IfcSurfaceStyleShading", colour)
        surface = self.rows.add("IfcSurfaceStyle", f"Ceiling {style}", Enum("BOTH"), (shading,))
        if find_names(self.context.schema).is_style_assigned:
            return self.rows.add("IfcPresentationStyleAssignment", (surface,))
        return surface

    def member_item(self, part: Part, section: Section, length: float) -> Ref:
        """The mapped item of a member of that section and length, along +X."""
        key = (part is Part.WALL_ANGLE, section, same_length(length))
        if key not in self._maps:
            profile, position = self._section(part, section)
            self._maps[key] = self._map(self._solid(profile, position, key[2]), "grid")
        return self._maps[key]

    def _section(self, part: Part, section: Section) -> tuple[Ref, Ref]:
        is_angle = part is Part.WALL_ANGLE
        key = (is_angle, section)
        length = self.context.length
        if key not in self._profiles:
            sizes = [length(section.height), length(section.face), length(section.thickness)]
            middle = self._middle()
            entity, more = ("IfcLShapeProfileDef", []) if is_angle else ("IfcTShapeProfileDef", sizes[2:])
            name = section_name(part, section)
            self._profiles[key] = self.rows.add(entity, Enum("AREA"), name, middle, *sizes, *more)
        across = 1.0 if is_angle else -1.0
        turn = np.eye(4)
        turn[:3, :3] = (0.0, 0.0, 1.0), (across, 0.0, 0.0), (0.0, across, 0.0)
        turn[:3, 3] = 0.0, section.face / 2 if is_angle else 0.0, section.height / 2
        return self._profiles[key], self.axes(turn)

    def rod_item(self, diameter: float, length: float) -> Ref:
        """The mapped item of a rod from the origin upwards."""
        key = ("rod", diameter, same_length(length))
        if key not in self._maps:
            middle = self._middle()
            radius = self.context.length(diameter / 2)
            profile = self.rows.add("IfcCircleProfileDef", Enum("AREA"), None, middle, radius)
            self._maps[key] = self._map(self.extrusion(profile, 0.0, key[2]), "grid")
        return self._maps[key]

    def bar_item(self, side: float, length: float) -> Ref:
        """The mapped item of a bar of square section along +X, its underside at z = 0."""
        key = ("bar", side, same_length(length))
        if key not in self._maps:
            turn = np.eye(4)
            turn[:3, 0], turn[:3, 1], turn[:3, 2] = (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)
            turn[2, 3] = side / 2
            edge = self.context.length(side)
            profile = self.rows.add(
                "IfcRectangleProfileDef",
                *(Enum("AREA"), f"Bar {side:g} x {side:g}", self._middle(), edge, edge),
            )
            self._maps[key] = self._map(self._solid(profile, self.axes(turn), key[2]), "grid")
        return self._maps[key]

    def _middle(self) -> Ref:
        return self.rows.add("IfcAxis2Placement2D", self.rows.add("IfcCartesianPoint", (0.0, 0.0)), None)

    def member_items(self, part: Part, section: Section, lengths: Sequence[float]) -> list[Ref]:
        """The mapped items of members of one section, by lengths to a thousandth of a mm."""
        known: dict[float, Ref] = {}
        for length in lengths:
            if length not in known:
                known[length] = self.member_item(part, section, length)
        return [known[length] for length in lengths]

    def panel_item(self, width: float, depth: float, thickness: float) -> Ref:
        """The mapped item of a rectangular panel with its lower corner at the origin."""
        key = ("panel", same_length(width), same_length(depth), thickness)
        if key not in self._maps:
            box = Polygon([(0, 0), (key[1], 0), (key[1], key[2]), (0, key[2])])
            self._maps[key] = self._map(self.extrusion(self.profile(box), 0.0, thickness), "panels")
        return self._maps[key]

    def _map(self, solid: Ref, style: str) -> Ref:
        if self._origin is None:
            self._origin = self.rows.add("IfcCartesianPoint", (0.0, 0.0, 0.0))
        origin = self._axes_at(self._origin)
        source = self.rows.add("IfcRepresentationMap", origin, self.body([solid], style))
        target = self.rows.add("IfcCartesianTransformationOperator3D", None, None, self._origin, None, None)
        return self.rows.add("IfcMappedItem", source, target)


def _inverse(matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """The inverse of a turn and move: the turn's transpose, which is exact."""
    inverse = np.eye(4)
    inverse[:3, :3] = matrix[:3, :3].T
    inverse[:3, 3] = -matrix[:3, :3].T @ matrix[:3, 3]
    return inverse
