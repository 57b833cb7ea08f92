"""Room tags of a storey's plan: number, name, height and kind of ceiling, as large as the room allows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.sheet import LEAST_TEXT, View
from ifcgrid.outputs.paper.text import Label, centre_label, fit_text, wrap_text
from ifcgrid.outputs.plan.drawing import Tag
from ifcgrid.outputs.plan.paint import words_of

__all__ = ["Wish", "place_tag"]

_SIZES = (3.6, 3.0, 2.6, LEAST_TEXT)
_LONGEST_NAME = 46.0
_BROKEN_NAME = 22.0
"""Width in mm to which a name is broken where it does not fit on one line."""

_NAME_LINES = 3
_GRID = 13
_LINE, _BETWEEN = 1.25, 0.1
_REACH = 70.0
"""How far from its room a tag with a leader may stand, in mm on paper."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What a tag shall say: lines by tag, the room's number first; `facts` are not shown."""

    room: str
    outline: Polygon | MultiPolygon
    lines: tuple[tuple[str, str], ...]
    facts: tuple[tuple[str, str], ...] = ()
    zone: str = ""


def place_tag(
    canvas: Canvas, view: View, wish: Wish, marks: Sequence[Box], outside: Any
) -> tuple[Tag | None, bool]:
    """The tag in its place, and whether it says everything.

    In the room and clear of marks, its name on one line or on several; then without the
    name; then the number alone; then that beside the room with a leader, rather on what
    `outside` holds (paper). Its box is kept clear from then on. None when no place is left.
    """
    near = _marks_in(view, wish.outline, marks)
    whole = wish.lines
    nameless = tuple(line for line in whole if line[0] != "NAME")
    tries = (
        (whole, _LONGEST_NAME, _SIZES[:-1]),
        (whole, _BROKEN_NAME, _SIZES),
        (nameless, _LONGEST_NAME, _SIZES[1:]),
        (whole[:1], _LONGEST_NAME, _SIZES[1:]),
    )
    place = _Room(view, wish.outline)
    for lines, width, sizes in tries:
        if (tag := _inside(canvas, view, wish, place, (lines, width, sizes), near)) is not None:
            is_cut = any(words.text.endswith("…") for _, words in tag.lines)
            return tag, lines == whole and not is_cut
    return _beside(canvas, view, wish, outside), False


class _Room:
    """A room on paper, and places for a tag in it from the best on."""

    def __init__(self, view: View, outline: Polygon | MultiPolygon) -> None:
        rings = [view.rings(part) for part in getattr(outline, "geoms", [outline])]
        self.paper = shapely.MultiPolygon([shapely.Polygon(r[0], r[1:]) for r in rings])
        shapely.prepare(self.paper)
        self.spots = view.paper(list(_centres(outline)))


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
    steps = [(k + 1) / (_GRID + 1) for k in range(_GRID)]
    grid = [(x0 + (x1 - x0) * a, y0 + (y1 - y0) * b) for b in steps for a in steps]
    near = sorted(grid, key=lambda p: (np.hypot(p[0] - x, p[1] - y), p))
    inside = shapely.contains_xy(part, np.array(near))
    yield from (point for point, is_inside in zip(near, inside, strict=True) if is_inside)


def _stack(x: float, y: float, lines: Sequence[tuple[str, str]], size: float) -> list[tuple[str, Label]]:
    """Lines centred on (x, y), the first one bold, farther apart where letters reach high or low."""
    labels = [centre_label(x, y, text, size, is_bold=k == 0) for k, (_, text) in enumerate(lines)]
    reach = max(size * _LINE, max(label.box.height for label in labels) + _BETWEEN)
    top = -reach * (len(lines) - 1) / 2
    return [
        (name, label.move(0.0, top + k * reach))
        for k, ((name, _), label) in enumerate(zip(lines, labels, strict=True))
    ]


def _fitted(lines: Sequence[tuple[str, str]], width: float, size: float) -> list[tuple[str, str]]:
    """Lines no wider than `width`: the number is cut, the name broken over up to three lines."""
    fitted: list[tuple[str, str]] = []
    for name, text in lines:
        if name == "NAME" and width < _LONGEST_NAME:
            parts = wrap_text(text, width, size, indent="")
            kept = parts[:_NAME_LINES]
            if len(parts) > _NAME_LINES:
                kept[-1] = fit_text(f"{kept[-1]}…", width, size)
            fitted += [(f"{name}{k}" if k else name, part) for k, part in enumerate(kept)]
        else:
            fitted.append((name, fit_text(text, _LONGEST_NAME, size, is_bold=not fitted)))
    return fitted


def _half_size(lines: Sequence[tuple[str, str]], size: float) -> tuple[float, float]:
    """Half the width and half the height of lines stacked around a point."""
    boxes = [label.box for _, label in _stack(0.0, 0.0, lines, size)]
    reach = max(max(-box.top for box in boxes), max(box.bottom for box in boxes))
    return max(box.right for box in boxes), reach


def _inside(
    canvas: Canvas,
    view: View,
    wish: Wish,
    room: _Room,
    how: tuple[Sequence[tuple[str, str]], float, Sequence[float]],
    marks: Sequence[Box],
) -> Tag | None:
    """The lines, at most so wide, inside the room and clear of marks, in the largest size that fits."""
    lines, width, sizes = how
    spots = room.spots
    for size in sizes:
        short = _fitted(lines, width, size)
        reach = np.array(_half_size(short, size))
        blocks = shapely.box(*(spots - reach).T, *(spots + reach).T)
        for x, y in spots[shapely.contains(room.paper, blocks)].tolist():
            around = Box(x - reach[0], y - reach[1], x + reach[0], y + reach[1])
            if canvas.is_free(around) and not any(around.meets(mark) for mark in marks):
                return _made(canvas, view, wish, _stack(x, y, short, size), around.grow(-0.2))
    return None


def _beside(canvas: Canvas, view: View, wish: Wish, outside: Any) -> Tag | None:
    """The number beside the room, with a leader into it."""
    size = LEAST_TEXT
    lines = _fitted(wish.lines[:1], _LONGEST_NAME, size)
    half_width, half_height = _half_size(lines, size)
    (x, y) = view.paper([next(_centres(wish.outline))])[0].tolist()
    spots = [
        (x + reach * np.cos(turn), y + reach * np.sin(turn))
        for reach in np.arange(5.0, _REACH, 2.5).tolist()
        for turn in (np.arange(16) * np.pi / 8).tolist()
    ]
    boxes = [
        Box(a - half_width, b - half_height, a + half_width, b + half_height).grow(0.5) for a, b in spots
    ]
    is_out = shapely.contains(outside, [shapely.box(b.left, b.top, b.right, b.bottom) for b in boxes])
    free = [k for k, box in enumerate(boxes) if canvas.is_free(box)]
    for k in sorted(free, key=lambda k: (not is_out[k], k))[:1]:
        labels = _stack(float(spots[k][0]), float(spots[k][1]), lines, size)
        start = _edge_towards(boxes[k], x, y)
        return _made(canvas, view, wish, labels, boxes[k], leader=(start, (x, y)))
    return None


def _edge_towards(box: Box, x: float, y: float) -> tuple[float, float]:
    """The point of a box's edge that is nearest to a place outside it."""
    return min(max(x, box.left), box.right), min(max(y, box.top), box.bottom)


def _made(
    canvas: Canvas,
    view: View,
    wish: Wish,
    labels: Sequence[tuple[str, Label]],
    around: Box,
    leader: tuple[tuple[float, float], ...] = (),
) -> Tag:
    canvas.reserve(around.grow(0.2))

    def back(x: float, y: float) -> tuple[float, float]:
        return words_of(Label(x=x, y=y, text="", size=1.0), view).point

    (x0, y1), (x1, y0) = back(around.left, around.top), back(around.right, around.bottom)
    return Tag(
        room=wish.room,
        lines=tuple((name, words_of(label, view)) for name, label in labels),
        mask=(x0, y0, x1, y1),
        leader=tuple(back(*point) for point in leader),
        facts=wish.facts,
        zone=wish.zone,
    )


def _marks_in(view: View, shape: Any, marks: Sequence[Box]) -> list[Box]:
    """The marks within the shape's bounds on paper."""
    ring = np.vstack(view.rings(shape))
    (x0, y0), (x1, y1) = ring.min(axis=0).tolist(), ring.max(axis=0).tolist()
    around = Box(x0, y0, x1, y1)
    return [mark for mark in marks if mark.meets(around)]
