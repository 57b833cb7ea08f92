"""Spaces with bodies of every form that exporters write, for the tests of reading rooms.

Everything is given in mm, like in `handmade_models`, and written in the unit of the model.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from handmade_models import HandmadeModel

RING = [(0.0, 0.0), (6000.0, 0.0), (6000.0, 2500.0), (3500.0, 2500.0), (3500.0, 4000.0), (0.0, 4000.0)]
"""An L-shaped room, 6.0 x 4.0 m less 2.5 x 1.5 m: 20.25 m²."""

RING_AREA = 20_250_000.0


class SpaceModel(HandmadeModel):
    """Adds bodies, placements and spaces to the model of boxes."""

    def point(self, *xyz):
        return self.file.createIfcCartesianPoint(tuple(float(c) / self.scale for c in xyz))

    def place(self, x=0.0, y=0.0, z=0.0, angle_deg=0.0, axis=(0.0, 0.0, 1.0), inside=None):
        """A local placement, turned about its z axis, within another one."""
        f, turn = self.file, math.radians(angle_deg)
        axes = f.createIfcAxis2Placement3D(
            self.point(x, y, z),
            f.createIfcDirection(axis),
            f.createIfcDirection((math.cos(turn), math.sin(turn), 0.0)),
        )
        return f.createIfcLocalPlacement(inside, axes)

    def origin(self, z=0.0):
        return self.file.createIfcAxis2Placement3D(self.point(0.0, 0.0, z), None, None)

    def polyline(self, ring):
        points = [self.point(*p) for p in ring]
        return self.file.createIfcPolyline([*points, points[0]])

    def profile(self, ring, holes=()):
        f = self.file
        if holes:
            inner = [self.polyline(h) for h in holes]
            return f.createIfcArbitraryProfileDefWithVoids("AREA", None, self.polyline(ring), inner)
        return f.createIfcArbitraryClosedProfileDef("AREA", None, self.polyline(ring))

    def prism(self, profile, bottom=0.0, height=2700.0):
        up = self.file.createIfcDirection((0.0, 0.0, 1.0))
        return self.file.createIfcExtrudedAreaSolid(profile, self.origin(bottom), up, height / self.scale)

    def half_circle_profile(self, radius):
        """A half disc above the x axis, by an arc and a chord: valid in every schema."""
        f = self.file
        centre = f.createIfcAxis2Placement2D(self.point(0.0, 0.0), None)
        arc = f.createIfcTrimmedCurve(
            f.createIfcCircle(centre, radius / self.scale),
            [self.point(radius, 0.0)],
            [self.point(-radius, 0.0)],
            True,
            "CARTESIAN",
        )
        chord = f.createIfcPolyline([self.point(-radius, 0.0), self.point(radius, 0.0)])
        segments = [f.createIfcCompositeCurveSegment("CONTINUOUS", True, c) for c in (arc, chord)]
        return f.createIfcArbitraryClosedProfileDef("AREA", None, f.createIfcCompositeCurve(segments, False))

    def clipped(self, solid, point, normal):
        """What is left of a solid on the far side of a plane from its normal."""
        f = self.file
        axes = f.createIfcAxis2Placement3D(self.point(*point), f.createIfcDirection(normal), None)
        half = f.createIfcHalfSpaceSolid(f.createIfcPlane(axes), False)
        return f.createIfcBooleanClippingResult("DIFFERENCE", solid, half)

    def brep(self, polygons):
        return self.file.createIfcFacetedBrep(self.file.createIfcClosedShell(self._made_faces(polygons)))

    def open_shells(self, polygons):
        shell = self.file.createIfcOpenShell(self._made_faces(polygons))
        return self.file.createIfcShellBasedSurfaceModel([shell])

    def _made_faces(self, polygons):
        f = self.file
        loops = [f.createIfcPolyLoop([self.point(*p) for p in polygon]) for polygon in polygons]
        return [f.createIfcFace([f.createIfcFaceOuterBound(loop, True)]) for loop in loops]

    def tessellated(self, polygons):
        """A triangulated face set of convex polygons."""
        corners = [p for polygon in polygons for p in polygon]
        triangles, first = [], 1
        for polygon in polygons:
            triangles += [(first, first + i, first + i + 1) for i in range(1, len(polygon) - 1)]
            first += len(polygon)
        scaled = [tuple(float(c) / self.scale for c in p) for p in corners]
        points = self.file.createIfcCartesianPointList3D(scaled)
        return self.file.createIfcTriangulatedFaceSet(points, None, True, triangles, None)

    def mirrored(self, representation, x=0.0):
        """A mapped item that mirrors a representation on the plane x = 0 and then moves it along x."""
        f = self.file
        source = f.createIfcRepresentationMap(self.origin(), representation)
        target = f.createIfcCartesianTransformationOperator3D(
            f.createIfcDirection((-1.0, 0.0, 0.0)),
            f.createIfcDirection((0.0, 1.0, 0.0)),
            self.point(x, 0.0, 0.0),
            1.0,
            f.createIfcDirection((0.0, 0.0, 1.0)),
        )
        return f.createIfcMappedItem(source, target)

    def representation(self, items, kind="SweptSolid", identifier="Body"):
        return self.file.createIfcShapeRepresentation(self._context, identifier, kind, items)

    def room(self, *representations, storey=None, name="1", long_name=None, placement=None, **attributes):
        """A space of given representations, aggregated by a storey if one is given."""
        shape = None
        if representations:
            shape = self.file.createIfcProductDefinitionShape(None, None, list(representations))
        attributes.setdefault("CompositionType", "ELEMENT")
        space = self.root(
            "IfcSpace",
            Name=name,
            LongName=long_name,
            ObjectPlacement=placement or self.place(),
            Representation=shape,
            **attributes,
        )
        if storey is not None:
            self.aggregate(storey, space)
        return space

    def solid_room(self, ring, bottom=0.0, height=2700.0, **arguments):
        """A space that is one straight extrusion."""
        solid = self.prism(self.profile(ring), bottom, height)
        return self.room(self.representation([solid]), **arguments)

    def areas(self, element, set_name, **values):
        """A set of area quantities; a value is a number or (number, unit)."""
        made = []
        for name, value in values.items():
            number, unit = value if isinstance(value, tuple) else (value, None)
            made.append(self.file.create_entity("IfcQuantityArea", Name=name, Unit=unit, AreaValue=number))
        self._define(element, self.root("IfcElementQuantity", Name=set_name, Quantities=made))

    def virtual_boundary(self, space, line, height, element=None):
        """A virtual boundary over a line of two points in the space's axes."""
        f = self.file
        profile = f.createIfcArbitraryOpenProfileDef(
            "CURVE", None, f.createIfcPolyline([self.point(*p) for p in line])
        )
        up = f.createIfcDirection((0.0, 0.0, 1.0))
        surface = f.createIfcSurfaceOfLinearExtrusion(profile, self.origin(), up, height / self.scale)
        return self.root(
            "IfcRelSpaceBoundary",
            RelatingSpace=space,
            RelatedBuildingElement=element,
            ConnectionGeometry=f.createIfcConnectionSurfaceGeometry(surface, None),
            PhysicalOrVirtualBoundary="VIRTUAL",
            InternalOrExternalBoundary="INTERNAL",
        )


def prism_faces(ring, bottom, top):
    """The faces of an upright prism: floor, ceiling, then one face a wall, seen from outside."""
    walls = [[(*a, bottom), (*b, bottom), (*b, top), (*a, top)] for a, b in pairwise([*ring, ring[0]])]
    return [[(*p, bottom) for p in reversed(ring)], [(*p, top) for p in ring], *walls]


def triangles(polygons):
    """Triangles (n, 3, 3) of convex polygons."""
    fans = [
        (polygon[0], polygon[i], polygon[i + 1]) for polygon in polygons for i in range(1, len(polygon) - 1)
    ]
    return np.array(fans, dtype=float)
