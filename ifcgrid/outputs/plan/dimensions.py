"""Dimensions of the borders on a storey's plan: wall face to first grid line, at every straight wall.

What lies on the module needs no dimension (common practice, no source): with the borders a
grid is tied to its walls in both directions.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.layout import Border
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.dimension import format_length, round_length
from ifcgrid.outputs.paper.sheet import LEAST_TEXT, View
from ifcgrid.outputs.paper.text import Label, centre_label, measure_text
from ifcgrid.outputs.plan.drawing import DimensionLine
from ifcgrid.outputs.plan.paint import words_of
from ifcgrid.outputs.plan.ties import Place, Wanted, find_ties, straight_edges

__all__ = ["place_dimensions"]

_SHORTEST_WALL = 300.0
"""Walls shorter than this, in mm, are not dimensioned: their border follows from their neighbours'."""

_MOST_PLACES = 14
_CLEAR = 0.45
_REACH = 20.0
_Floats = NDArray[np.float64]


def place_dimensions(
    canvas: Canvas, view: View, ceiling: Ceiling, units: str, marks: Sequence[Box]
) -> tuple[list[DimensionLine], list[str]]:
    """The dimensions of a ceiling's borders, and as text those for which there was no room.

    Texts keep clear of what is on the canvas, and of `marks` where they can; each is kept
    clear from then on.
    """
    found: list[DimensionLine] = []
    left: list[str] = []
    rings = view.rings(ceiling.zone.outline)
    room = Polygon(rings[0], rings[1:])
    shapely.prepare(room)
    around = Box(*room.bounds).grow(_REACH)
    marks = [mark for mark in marks if mark.meets(around)]
    axes: set[str] = set()
    for axis, wanted in _wanted(ceiling):
        axes.add(axis)
        tries = [(marks, room), ((), room), (marks, None), ((), None)]
        lines = (_first_free(canvas, view, wanted, units, *how) for how in tries)
        line = next((line for line in lines if line is not None), None)
        if line is None:
            left.append(format_length(wanted.places[0].length, units))
        else:
            found.append(line)
    if len(axes) < 2:  # else the grid would be free to slide along the walls that are dimensioned
        found += _tie(canvas, view, ceiling, units, marks)
    if not found and not left:
        left.append("see the set-out sheet")
    return [replace(line, zone=ceiling.key) for line in found], left


def _tie(
    canvas: Canvas, view: View, ceiling: Ceiling, units: str, marks: Sequence[Box]
) -> list[DimensionLine]:
    """Two dimensions to one crossing of the grid, at the first for which both have room."""
    for pair in find_ties(ceiling):
        lines = [_first_free(canvas, view, wanted, units, marks, None, is_alone=False) for wanted in pair]
        if lines[0] is not None and lines[1] is not None:
            return [lines[0], lines[1]]
    return []


def _wanted(ceiling: Ceiling) -> Iterator[tuple[str, Wanted]]:
    """The axis of each border and its dimension.

    One a wall, two where it tapers or its rows are shifted; walls in one line have one.
    """
    local = ceiling.layout.frame.shape_to_local(ceiling.zone.outline)
    shapely.prepare(local)
    straight = straight_edges(ceiling.zone.outline)
    seen: set[tuple[str, int, int]] = set()
    borders = [b for b in ceiling.layout.borders if b.ring == 0 and b.edge in straight]
    for border in sorted(borders, key=lambda b: (-b.length, b.edge)):
        if border.axis == "oblique" or border.length < _SHORTEST_WALL:
            continue
        places = [p for p in _places(ceiling, border, local) if p is not None]
        for group in _groups(places, border, ceiling):
            ends = ceiling.layout.frame.to_local([group[0].start, group[0].end])
            across = int(border.axis == "v")
            name = (border.axis, round(float(ends[0, across])), round(float(ends[1, across])))
            if name not in seen:
                seen.add(name)
                yield border.axis, Wanted(edge=(border.ring, border.edge), places=tuple(group))


def _groups(places: list[Place], border: Border, ceiling: Ceiling) -> list[list[Place]]:
    """Places of one printed length each: all of a plain wall, both ends of one that tapers."""
    if not places:
        return []
    if border.greatest - border.least <= tolerance.SHORTEST_EDGE:
        return [places]
    if ceiling.layout.row_shift and border.axis == "u":
        by_length: dict[float, list[Place]] = {}
        for place in places:
            by_length.setdefault(round_length(place.length, "mm"), []).append(place)
        return [by_length[length] for length in sorted(by_length)][:2]
    start = np.array(border.start)
    along = sorted(places, key=lambda p: float(np.hypot(*(np.array(p.start) - start))))
    half = len(along) // 2
    return [along[: max(half, 1)], along[::-1][:half]] if half else [along]


def _places(ceiling: Ceiling, border: Border, room: Polygon) -> Iterator[Place | None]:
    """Places along a wall, in the middle of its panels, from the wall's middle outwards."""
    layout = ceiling.layout
    start, end = layout.frame.to_local([border.start, border.end])
    axis = 0 if border.axis == "u" else 1
    low, high = sorted((float(start[1 - axis]), float(end[1 - axis])))
    step = layout.across if axis == 0 else layout.along
    middle = (low + high) / 2
    numbers = np.arange(np.floor(low / step), np.ceil(high / step) + 1)
    spots = [float(k) for k in (numbers + 0.5) * step if low + 50.0 <= k <= high - 50.0]
    spots = sorted(spots, key=lambda t: (abs(t - middle), t))
    if border.greatest - border.least <= tolerance.SHORTEST_EDGE:
        spots = spots[:_MOST_PLACES]
    for spot in spots or [middle]:
        yield _place(ceiling, (start, end), axis, spot, border, room)


def _place(
    ceiling: Ceiling, wall: tuple[_Floats, _Floats], axis: int, spot: float, border: Border, room: Polygon
) -> Place | None:
    layout = ceiling.layout
    start, end = wall
    run = float(end[1 - axis] - start[1 - axis])
    if abs(run) <= tolerance.SHORTEST_EDGE:
        return None
    face = float(start[axis] + (end[axis] - start[axis]) * (spot - start[1 - axis]) / run)
    inwards = _inwards(room, face, spot, axis)
    if inwards == 0:
        return None
    module = layout.along if axis == 0 else layout.across
    shift = layout.row_offset(tolerance.floor_div(spot, layout.across)) if axis == 0 else 0.0
    number = (
        tolerance.floor_div(face - shift, module) + 1
        if inwards > 0
        else tolerance.ceil_div(face - shift, module) - 1
    )
    line = number * module + shift
    width = abs(line - face)
    if not border.least - tolerance.CUT <= width <= border.greatest + tolerance.CUT:
        return None
    ends = [(face, spot), (line, spot)] if axis == 0 else [(spot, face), (spot, line)]
    if not room.buffer(tolerance.SHORTEST_EDGE).covers(shapely.LineString(ends)):
        return None
    (x0, y0), (x1, y1) = layout.frame.to_world(ends).tolist()
    return Place(start=(x0, y0), end=(x1, y1))


def _inwards(room: Polygon, face: float, spot: float, axis: int) -> int:
    """1 or -1: the way along the axis that leads from the wall into the room; 0 when neither does."""
    for way in (1, -1):
        beside = face + way * tolerance.SHORTEST_EDGE
        point = (beside, spot) if axis == 0 else (spot, beside)
        if room.contains(shapely.Point(point)):
            return way
    return 0


def _first_free(
    canvas: Canvas,
    view: View,
    wanted: Wanted,
    units: str,
    marks: Sequence[Box],
    room: Polygon | None,
    *,
    is_alone: bool = True,
) -> DimensionLine | None:
    """The first place of a dimension that is clear of marks and other texts, its text in `room` (paper).

    A dimension that is not alone may meet another one's stroke.
    """
    for place in wanted.places:
        text = format_length(place.length, units)
        ends = view.paper([place.start, place.end])
        stroke = Box(*ends.min(axis=0).tolist(), *ends.max(axis=0).tolist()).grow(0.3)
        if (is_alone and not canvas.is_free(stroke)) or any(stroke.meets(mark) for mark in marks):
            continue
        for label in _labels(ends, text):
            box = label.box
            if room is not None and not room.contains(shapely.box(*_corners(box))):
                continue
            if canvas.is_free(box) and not any(box.meets(mark) for mark in marks):
                canvas.reserve(box)
                canvas.reserve(stroke)
                return DimensionLine(
                    start=place.start,
                    end=place.end,
                    words=words_of(label, view),
                    edge=wanted.edge,
                )
    return None


def _corners(box: Box) -> tuple[float, float, float, float]:
    return box.left, box.top, box.right, box.bottom


def _labels(ends: _Floats, text: str) -> Iterator[Label]:
    """Level texts beside a dimension line on paper, the wall's face first, from the best on."""
    size = LEAST_TEXT
    (x0, y0), (x1, y1) = ends.tolist()
    half, high = measure_text(text, size) / 2, size * 0.55
    way_x, way_y = (1.0 if x1 >= x0 else -1.0), (1.0 if y1 >= y0 else -1.0)
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    if abs(x1 - x0) >= abs(y1 - y0):
        # A text wider than its dimension begins at the wall and reaches into the room.
        inner = x if abs(x1 - x0) >= 2 * half + 2 * _CLEAR else x0 + way_x * (half + _CLEAR)
        yield centre_label(inner, y - high - _CLEAR, text, size)
        yield centre_label(inner, y + high + _CLEAR, text, size)
        yield centre_label(x1 + way_x * (half + 1.2), y1, text, size)
    else:
        inner = y if abs(y1 - y0) >= 2 * high else y0 + way_y * (high + _CLEAR)
        yield centre_label(x + half + 2 * _CLEAR, inner, text, size)
        yield centre_label(x - half - 2 * _CLEAR, inner, text, size)
        yield centre_label(x1, y1 + way_y * (high + 1.2), text, size)
