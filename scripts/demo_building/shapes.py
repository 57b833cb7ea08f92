"""Solids in the several ways authors model them: profiles, B-reps, face sets, clipped bodies."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from demo_building.geometry import Arc, Outline, Point, rect, vertices
from demo_building.writer import Model

__all__ = [
    "brep",
    "clipped",
    "cylinder",
    "extrusion",
    "face_set",
    "lying",
    "pipe_shell",
    "profile",
    "triangles",
]


def _closed_curve(model: Model, outline: Outline) -> Any:
    if not any(isinstance(p, Arc) for p in outline):
        points = [model.point(*p) for p in vertices(outline)]
        return model.make("IfcPolyline", [*points, points[0]])
    flat = [p.through if isinstance(p, Arc) else p for p in outline]
    count, segments, i = len(flat), [], 0
    while i < count:
        step = 2 if isinstance(outline[(i + 1) % count], Arc) else 1
        indices = tuple((i + k) % count + 1 for k in range(step + 1))
        segments.append(model.make("IfcArcIndex" if step == 2 else "IfcLineIndex", indices))
        i += step
    coordinates = [tuple(model.length(v) for v in p) for p in flat]
    return model.make(
        "IfcIndexedPolyCurve", model.make("IfcCartesianPointList2D", coordinates), segments, False
    )


def profile(model: Model, outline: Outline, holes: Sequence[Outline] = ()) -> Any:
    """An area profile: a rectangle profile where it is one, else an arbitrary one, with voids."""
    corners = vertices(outline)
    if len(corners) == 4 == len(outline) and not holes and outline == rect(*corners[0], *corners[2]):
        (x0, y0), (x1, y1) = corners[0], corners[2]
        centre = model.make(
            "IfcAxis2Placement2D", model.point((x0 + x1) / 2, (y0 + y1) / 2), model.direction(1, 0)
        )
        return model.make(
            "IfcRectangleProfileDef", "AREA", None, centre, model.length(x1 - x0), model.length(y1 - y0)
        )
    curve = _closed_curve(model, outline)
    if not holes:
        return model.make("IfcArbitraryClosedProfileDef", "AREA", None, curve)
    inner = [_closed_curve(model, h) for h in holes]
    return model.make("IfcArbitraryProfileDefWithVoids", "AREA", None, curve, inner)


def _prism(
    corners: Sequence[Point], bottom: Callable[[Point], float], top: Callable[[Point], float]
) -> tuple[list[tuple[float, float, float]], list[list[int]]]:
    n = len(corners)
    points = [(*p, bottom(p)) for p in corners] + [(*p, top(p)) for p in corners]
    faces = [list(reversed(range(n))), list(range(n, 2 * n))]
    faces += [[i, (i + 1) % n, n + (i + 1) % n, n + i] for i in range(n)]
    return points, faces


def brep(
    model: Model, corners: Sequence[Point], bottom: Callable[[Point], float], top: Callable[[Point], float]
) -> Any:
    """A faceted B-rep between two surfaces over a polygon (planar only if the surfaces are)."""
    points, faces = _prism(corners, bottom, top)
    entities = [model.point(*p) for p in points]
    made = [
        model.make(
            "IfcFace",
            [model.make("IfcFaceOuterBound", model.make("IfcPolyLoop", [entities[i] for i in f]), True)],
        )
        for f in faces
    ]
    return model.make("IfcFacetedBrep", model.make("IfcClosedShell", made))


def _coordinates(model: Model, points: Sequence[tuple[float, float, float]]) -> Any:
    return model.make("IfcCartesianPointList3D", [tuple(model.length(v) for v in p) for p in points])


def face_set(model: Model, corners: Sequence[Point], bottom: float, top: float) -> Any:
    """A closed polygonal face set."""
    points, faces = _prism(corners, lambda _: bottom, lambda _: top)
    made = [model.make("IfcIndexedPolygonalFace", [i + 1 for i in f]) for f in faces]
    return model.make("IfcPolygonalFaceSet", _coordinates(model, points), True, made)


def triangles(model: Model, corners: Sequence[Point], bottom: float, top: float) -> Any:
    """A closed triangulated face set of a convex polygon."""
    points, faces = _prism(corners, lambda _: bottom, lambda _: top)
    fans = [(f[0] + 1, f[i] + 1, f[i + 1] + 1) for f in faces for i in range(1, len(f) - 1)]
    return model.make(
        "IfcTriangulatedFaceSet", Coordinates=_coordinates(model, points), Closed=True, CoordIndex=fans
    )


def clipped(model: Model, solid: Any, point: Sequence[float], normal: Sequence[float]) -> Any:
    """The part of a solid below a plane whose normal points up and away from what is kept."""
    plane = model.make("IfcPlane", model.axes(point, normal, (normal[2], 0.0, -normal[0])))
    half = model.make("IfcHalfSpaceSolid", plane, False)
    return model.make("IfcBooleanClippingResult", "DIFFERENCE", solid, half)


def extrusion(
    model: Model, outline: Outline, bottom: float, top: float, holes: Sequence[Outline] = ()
) -> Any:
    """A vertical extrusion of an outline in the local plan, between two local heights."""
    return model.make(
        "IfcExtrudedAreaSolid",
        profile(model, outline, holes),
        model.axes((0, 0, bottom)),
        model.direction(0, 0, 1),
        model.length(top - bottom),
    )


def cylinder(model: Model, radius: float, bottom: float, top: float, at: Point = (0.0, 0.0)) -> Any:
    """An upright cylinder."""
    position = model.make("IfcAxis2Placement2D", model.point(*at), model.direction(1, 0))
    circle = model.make("IfcCircleProfileDef", "AREA", None, position, model.length(radius))
    return model.make(
        "IfcExtrudedAreaSolid",
        circle,
        model.axes((0, 0, bottom)),
        model.direction(0, 0, 1),
        model.length(top - bottom),
    )


def lying(model: Model, section: tuple[float, float] | float, length: float) -> Any:
    """A straight run along local X from the origin: width and height, or a diameter; axis at the centre."""
    if isinstance(section, tuple):
        width, height = section
        area = profile(model, rect(-width / 2, -height / 2, width / 2, height / 2))
    else:
        position = model.make("IfcAxis2Placement2D", model.point(0, 0), model.direction(1, 0))
        area = model.make("IfcCircleProfileDef", "AREA", None, position, model.length(section / 2))
    # Local Z of the sweep is the run, local X its width (Y of the run), local Y its height.
    position = model.axes((0, 0, 0), (1, 0, 0), (0, 1, 0))
    return model.make("IfcExtrudedAreaSolid", area, position, model.direction(0, 0, 1), model.length(length))


def pipe_shell(model: Model, diameter: float, thickness: float, length: float) -> Any:
    """A hollow round run along local X from the origin, such as the insulation of a pipe."""
    position = model.make("IfcAxis2Placement2D", model.point(0, 0), model.direction(1, 0))
    area = model.make(
        "IfcCircleHollowProfileDef",
        "AREA",
        None,
        position,
        model.length(diameter / 2),
        model.length(thickness),
    )
    axes = model.axes((0, 0, 0), (1, 0, 0), (0, 1, 0))
    return model.make("IfcExtrudedAreaSolid", area, axes, model.direction(0, 0, 1), model.length(length))
