"""A small picture of a spot of ceiling: grid, walls and what clashes, as PNG without a library."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from ifcgrid.domain.ceiling import Ceiling, Role

__all__ = ["draw_snapshot", "encode_png"]

WIDTH, HEIGHT = 900, 600
"""Pixels; the standard allows 1,500 at the most."""

_WHITE, _PAPER, _TEE, _MAIN, _WALL = 255, 246, 150, 60, 0
_HATCH = 8
"""Pixels between the stripes over what clashes: told by pattern, not by colour alone."""


_RING = 26
"""Radius in pixels of the ring about the spot."""


def encode_png(grey: NDArray[np.uint8]) -> bytes:
    """An 8-bit greyscale PNG of rows of pixels (ISO/IEC 15948)."""
    height, width = grey.shape
    rows = np.concatenate([np.zeros((height, 1), dtype=np.uint8), grey], axis=1).tobytes()

    def chunk(kind: bytes, data: bytes) -> bytes:
        check = zlib.crc32(kind + data)
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", check)

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(rows, 9))
        + chunk(b"IEND", b"")
    )


def draw_snapshot(
    view: Polygon,
    ceiling: Ceiling,
    intruders: Sequence[BaseGeometry],
    spot: tuple[float, float] | None = None,
    around: Sequence[BaseGeometry] = (),
) -> bytes:
    """The piece of a ceiling in a view, seen like the floor plan, as PNG.

    Args:
        view: a rectangle in model coordinates, 3 : 2.
        ceiling: the ceiling whose grid and outline are drawn.
        intruders: plan outlines in model coordinates, hatched.
        spot: the plan point that is meant, ringed.
        around: plan outlines of other devices in the ceiling, as lines.
    """
    x0, _, x1, y1 = view.bounds
    pixel = (x1 - x0) / WIDTH
    xs = x0 + (np.arange(WIDTH) + 0.5) * pixel
    ys = y1 - (np.arange(HEIGHT) + 0.5) * pixel
    x, y = np.meshgrid(xs, ys)
    grey = np.full((HEIGHT, WIDTH), _WHITE, dtype=np.uint8)
    outline = ceiling.zone.outline
    grey[_inside(outline, view, x, y)] = _PAPER
    members, frame = ceiling.members, ceiling.layout.frame
    for role, pen, shade in (
        (Role.CROSS_TEE, 1.2, _TEE),
        (Role.SECOND_TEE, 1.2, _TEE),
        (Role.MAIN_RUNNER, 2.4, _MAIN),
    ):
        chosen = members.role == role
        ends = [frame.to_world(points[chosen]) for points in (members.start, members.end)]
        lines = shapely.linestrings(np.stack(ends, axis=1))
        grey[_inside(shapely.union_all(lines).buffer(pen * pixel), view, x, y)] = shade
    grey[_inside(outline.boundary.buffer(3.0 * pixel), view, x, y)] = _WALL
    for shape in around:
        grey[_inside(shape.boundary.buffer(1.2 * pixel), view, x, y)] = _MAIN
    stripes = (np.add.outer(np.arange(HEIGHT), np.arange(WIDTH)) % _HATCH) < _HATCH // 2
    for shape in intruders:
        grey[_inside(shape, view, x, y) & stripes] = _WALL
        grey[_inside(shape.boundary.buffer(2.0 * pixel), view, x, y)] = _WALL
    if spot is not None:
        away = np.hypot(x - spot[0], y - spot[1]) / pixel
        grey[(away > _RING - 5) & (away < _RING + 5)] = _WHITE
        grey[(away > _RING - 2) & (away < _RING + 2)] = _WALL
    return encode_png(grey)


def _inside(
    shape: BaseGeometry, view: Polygon, x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.bool_]:
    seen = shape.intersection(view)
    if seen.is_empty:
        return np.zeros(x.shape, dtype=bool)
    shapely.prepare(seen)
    inside: NDArray[np.bool_] = shapely.contains_xy(seen, x, y)
    return inside
