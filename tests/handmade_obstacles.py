"""Obstacles made by hand: boxes, round rods and tilted ducts, as triangles in model coordinates."""

from __future__ import annotations

import numpy as np
import shapely
from handmade_ceilings import build_ceiling, rectangle
from shapely import Polygon, affinity, box

from ifcgrid.checks.clash import find_clashes
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import Kind, Obstacle

LEVEL = 2700.0
GRID_TOP = 2738.0
SOFFIT = 3338.0


def room(**options) -> Ceiling:
    """10 x 8 cells of 600 mm, the corner at 0, 0; mains at y = 1200, 2400, 3600."""
    return build_ceiling(rectangle(6000, 4800), (600.0, 600.0), **options)


def prism(outline: Polygon, bottom: float, top: float) -> np.ndarray:
    """The triangles of a convex outline between two heights, all facing outwards."""
    ring = shapely.get_coordinates(shapely.geometry.polygon.orient(outline))[:-1]
    count = len(ring)
    low = np.column_stack([ring, np.full(count, bottom)])
    high = np.column_stack([ring, np.full(count, top)])
    faces = [(low[0], low[k + 1], low[k]) for k in range(1, count - 1)]
    faces += [(high[0], high[k], high[k + 1]) for k in range(1, count - 1)]
    for k in range(count):
        n = (k + 1) % count
        faces += [(low[k], low[n], high[n]), (low[k], high[n], high[k])]
    return np.array(faces)


def rod(start, end, radius: float, sides: int = 48) -> np.ndarray:
    """The triangles of a round rod between two points."""
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    axis = (b - a) / np.linalg.norm(b - a)
    side = np.cross(axis, [0.0, 0.0, 1.0] if abs(axis[2]) < 0.9 else [1.0, 0.0, 0.0])
    side /= np.linalg.norm(side)
    up = np.cross(axis, side)
    angles = np.arange(sides) * 2 * np.pi / sides
    ring = radius * (np.cos(angles)[:, None] * up + np.sin(angles)[:, None] * side)
    faces = []
    for k in range(sides):
        n = (k + 1) % sides
        faces += [(a + ring[k], a + ring[n], b + ring[n]), (a + ring[k], b + ring[n], b + ring[k])]
        faces += [(a, a + ring[n], a + ring[k]), (b, b + ring[k], b + ring[n])]
    return np.array(faces)


def thing(kind: Kind, outline: Polygon, bottom: float, top: float, key: str = "thing", **more) -> Obstacle:
    """An upright obstacle; `meshed` gives it its triangles too."""
    if more.pop("meshed", False):
        more["mesh"] = prism(outline, bottom, top)
    return Obstacle(key=key, kind=kind, name=key, outline=outline, bottom=bottom, top=top, **more)


def meshed(kind: Kind, mesh: np.ndarray, key: str = "thing") -> Obstacle:
    """An obstacle from triangles."""
    outline = shapely.union_all([p for p in shapely.polygons(mesh[:, :, :2]) if p.area > 1e-6]).buffer(0)
    z = mesh[:, :, 2]
    return Obstacle(
        key=key, kind=kind, name=key, outline=outline, bottom=float(z.min()), top=float(z.max()), mesh=mesh
    )


def light(x: float, y: float, size=(595.0, 595.0), key: str = "light", turn: float = 0.0, **more) -> Obstacle:
    """A lay-in light with its middle at x, y."""
    outline = affinity.rotate(box(x - size[0] / 2, y - size[1] / 2, x + size[0] / 2, y + size[1] / 2), turn)
    return thing(Kind.LIGHT, outline, LEVEL, LEVEL + 80, key, **more)


def head(x: float, y: float, radius: float = 35.0, key: str = "head") -> Obstacle:
    """A pendent sprinkler."""
    return thing(Kind.SPRINKLER, shapely.Point(x, y).buffer(radius, 16), LEVEL - 45, LEVEL + 150, key)


def rules(ceiling: Ceiling, *obstacles: Obstacle) -> list[str]:
    """The rules that find something."""
    return [finding.rule for finding in find_clashes(ceiling, obstacles)]


def only(ceiling: Ceiling, *obstacles: Obstacle) -> Finding:
    """The one finding that there is."""
    (finding,) = find_clashes(ceiling, obstacles)
    return finding
