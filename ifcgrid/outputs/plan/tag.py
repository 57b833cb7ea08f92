"""Room tags of a storey's plan: number, name, level and borders, as large as the room allows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.room import Room
from ifcgrid.outputs.paper.dimension import format_length
from ifcgrid.outputs.paper.sheet import LEAST_TEXT, View
from ifcgrid.outputs.paper.svg import Box, Canvas, Label, centre_label, fit_text

__all__ = ["draw_tags"]

_SIZES = (3.6, 3.0, 2.6, LEAST_TEXT)
_LONGEST_NAME = 46.0
_BORDER = "border "


def _border(low: float, high: float, module: float, units: str) -> str:
    """The strips at both ends of an axis, one number when they are printed alike."""
    first = tolerance.floor_div(low, module) + 1
    last = tolerance.ceil_div(high, module) - 1
    if first > last:
        return format_length(high - low, units)
    ends = [format_length(x, units) for x in (first * module - low, high - last * module)]
    return ends[0] if ends[0] == ends[1] else ("-" if units == "mm" else " to ").join(ends)


def _tag_lines(ceiling: Ceiling, room: Room, units: str) -> list[str]:
    layout = ceiling.layout
    u0, v0, u1, v1 = layout.frame.shape_to_local(room.outline).bounds
    lines = [room.number or room.name]
    if room.number and room.name:
        lines.append(room.name)
    if room.height is not None:
        lines.append(f"+{format_length(room.height.value, units)}")
    along, across = _border(u0, u1, layout.along, units), _border(v0, v1, layout.across, units)
    lines.append(f"{_BORDER}{along} / {across}")
    return lines


def _centres(shape: Polygon | MultiPolygon) -> Iterator[tuple[float, float]]:
    """Points well inside the shape in model coordinates: the middle of its largest circle, then around it."""
    part = max(getattr(shape, "geoms", [shape]), key=lambda p: p.area)
    circle = shapely.maximum_inscribed_circle(part, tolerance=50.0)
    (x, y), edge = circle.coords[0], circle.coords[-1]
    radius = float(np.hypot(edge[0] - x, edge[1] - y))
    yield float(x), float(y)
    for reach in (0.35, 0.7):
        for dx, dy in ((0, 1), (0, -1), (1, 0), (-1, 0), (1, 1), (-1, 1), (1, -1), (-1, -1)):
            yield float(x + dx * reach * radius), float(y + dy * reach * radius)
    x0, y0, x1, y1 = part.bounds
    grid = [(x0 + (x1 - x0) * (k + 1) / 8, y0 + (y1 - y0) * (j + 1) / 8) for j in range(7) for k in range(7)]
    near = sorted(grid, key=lambda p: (np.hypot(p[0] - x, p[1] - y), p))
    inside = shapely.contains_xy(part, np.array(near))
    yield from (point for point, is_inside in zip(near, inside, strict=True) if is_inside)


def _stack(x: float, y: float, lines: Sequence[str], size: float) -> list[Label]:
    """Lines centred on (x, y), the first one bold."""
    step = size * 1.25
    top = y - step * (len(lines) - 1) / 2
    return [centre_label(x, top + k * step, text, size, is_bold=k == 0) for k, text in enumerate(lines)]


def _try(
    canvas: Canvas,
    view: View,
    shape: Any,
    lines: Sequence[str],
    sizes: Sequence[float],
    marks: Sequence[Box] = (),
) -> bool:
    """Set the lines inside the shape and clear of the marks, in the largest size for which there is room."""
    rings = [view.rings(part) for part in getattr(shape, "geoms", [shape])]
    paper = shapely.MultiPolygon([shapely.Polygon(r[0], r[1:]) for r in rings])
    shapely.prepare(paper)
    spots = view.paper(list(_centres(shape)))
    for size in sizes:
        short = [_fitted(line, size) for line in lines]
        half_width, half_height = _half_size(short, size)
        reach = np.array([half_width, half_height])
        blocks = shapely.box(*(spots - reach).T, *(spots + reach).T)
        for x, y in spots[shapely.contains(paper, blocks)].tolist():
            around = Box(x - half_width, y - half_height, x + half_width, y + half_height)
            if canvas.is_free(around) and not any(around.meets(mark) for mark in marks):
                canvas.rectangle(around.grow(-0.2), 0.0, fill="#fff")
                for label in _stack(x, y, short, size):
                    canvas.put(label)
                return True
    return False


def _fitted(line: str, size: float) -> str:
    """Names may be cut; what is to be built may not."""
    return line if line.startswith(_BORDER) else fit_text(line, _LONGEST_NAME, size, is_bold=True)


def _half_size(lines: Sequence[str], size: float) -> tuple[float, float]:
    """Half the width and half the height of lines stacked around a point."""
    boxes = [label.box for label in _stack(0.0, 0.0, lines, size)]
    return max(box.right for box in boxes), max(box.bottom for box in boxes)


def _marks_in(view: View, shape: Any, marks: Sequence[Box]) -> list[Box]:
    """The marks within the shape's bounds on paper."""
    ring = np.vstack(view.rings(shape))
    (x0, y0), (x1, y1) = ring.min(axis=0).tolist(), ring.max(axis=0).tolist()
    around = Box(x0, y0, x1, y1)
    return [mark for mark in marks if mark.meets(around)]


def draw_tags(
    canvas: Canvas,
    view: View,
    ceilings: Sequence[Ceiling],
    omitted: Sequence[tuple[str, str, Polygon | MultiPolygon | None]],
    marks: Sequence[Box] = (),
    units: str = "mm",
) -> list[str]:
    """Tag every room and return, as one line each, the tags that found no place or had to be cut short."""
    left: list[str] = []
    for ceiling in ceilings:
        for room in ceiling.zone.rooms:
            lines = _tag_lines(ceiling, room, units)
            rather = _marks_in(view, room.outline, marks)
            if not _try(canvas, view, room.outline, lines, _SIZES, rather) and not _try(
                canvas, view, room.outline, lines, _SIZES[2:]
            ):
                # The number alone marks the place; the list says the rest.
                _try(canvas, view, room.outline, lines[:1], _SIZES[1:])
                left.append(", ".join(lines))
    for number, name, outline in omitted:
        if outline is not None:
            words = [text for text in (number or name, "no ceiling") if text]
            if not _try(canvas, view, outline, words, _SIZES[1:]):
                _try(canvas, view, outline, words[:1], _SIZES[1:])
    return left
