"""Draws the things of a plan on paper."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.frame import Frame
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.hatch import hatch_lines
from ifcgrid.outputs.paper.pen import draw_ticks
from ifcgrid.outputs.paper.sheet import View
from ifcgrid.outputs.paper.text import Label, centre_label
from ifcgrid.outputs.plan.drawing import Area, DimensionLine, Lines, Mark, Outline, Part, Tag, Thing, Words
from ifcgrid.outputs.plan.layers import Layer, Layers
from ifcgrid.outputs.plan.symbols import SYMBOLS, placed

__all__ = ["DASHES", "GREY", "label_of", "letter_of", "paint", "paint_dots", "paint_symbol", "words_of"]

DASHES = {"continuous": "", "dashed": "2 1", "dotted": "0.4 1.2", "dash-dot": "4 1 0.5 1"}
"""Strokes and gaps on paper in mm, by kind of line."""

GREY = "#bbb"
"""The grey of walls and columns."""

_FILLS = {"grey": "#ccc", "white": "#fff", "black": "#000", "": "none"}
_DOT, _DOT_STEP = "0.25 1.35", 1.6


def label_of(words: Words, view: View) -> Label:
    """A text of the plan on paper."""
    x, y = view.paper([words.point])[0].tolist()
    return Label(x=x, y=y, text=words.text, size=words.size, anchor=words.anchor, is_bold=words.is_bold)


def words_of(label: Label, view: View) -> Words:
    """A level text on paper as one of the plan."""
    u, v = view.u + (label.x - view.x) * view.scale, view.v - (label.y - view.y) * view.scale
    (point,) = view.frame.to_world([(u, v)]).tolist()
    return Words(
        point=(point[0], point[1]),
        text=label.text,
        size=label.size,
        anchor=label.anchor,
        is_bold=label.is_bold,
    )


def paint(canvas: Canvas, view: View, things: Iterable[Thing], layers: Layers) -> None:
    """Draw things in their order; what belongs to a ceiling bears its key as `data-zone`."""
    for thing in things:
        canvas.belongs = (("data-zone", thing.zone),) if thing.zone else ()
        if isinstance(thing, Lines):
            layer = layers[thing.part]
            parts = view.paper(thing.ends.reshape(-1, 2)).reshape(-1, 2, 2)
            canvas.lines(parts, layer.weight, dash=DASHES[layer.line])
        elif isinstance(thing, Outline):
            layer = layers[thing.part]
            canvas.areas(view.rings(thing.shape), layer.weight, dash=DASHES[layer.line])
        elif isinstance(thing, Area):
            _area(canvas, view, thing, layers[thing.part])
        elif isinstance(thing, Mark):
            _mark(canvas, view, thing, layers[thing.part])
        elif isinstance(thing, DimensionLine):
            _dimension(canvas, view, thing, layers[Part.DIMENSION])
        else:
            _tag(canvas, view, thing, layers[Part.TAG])
    canvas.belongs = ()


def _area(canvas: Canvas, view: View, area: Area, layer: Layer) -> None:
    rings = view.rings(area.shape)
    if area.pattern == "grey":
        canvas.areas(rings, 0.0, fill=GREY)
    else:
        paint_dots(canvas, rings, layer.weight)


def paint_dots(canvas: Canvas, rings: list[NDArray[np.float64]], weight: float) -> None:
    """Dots in the area of closed rings on paper."""
    canvas.lines(hatch_lines(rings, 45.0, _DOT_STEP), max(weight, 0.25), dash=_DOT)


def _mark(canvas: Canvas, view: View, mark: Mark, layer: Layer) -> None:
    if mark.part is Part.FINDING:
        canvas.belongs = (*canvas.belongs, ("data-finding", dict(mark.facts)["NUMBER"]))
    symbol = SYMBOLS[mark.symbol]
    for ring, fill in symbol.fills:
        canvas.areas([view.paper(placed(mark, ring, view.scale))], 0.0, fill=_FILLS[fill])
    for x, y, radius, fill in symbol.circles:
        (centre,) = view.paper(placed(mark, ((x, y),), view.scale)).tolist()
        wide = mark.size[0] * (1.0 if mark.is_sign else 1.0 / view.scale)
        canvas.circle(centre[0], centre[1], radius * wide, layer.weight, fill=_FILLS[fill])
    if symbol.rings:
        canvas.areas([view.paper(placed(mark, ring, view.scale)) for ring in symbol.rings], layer.weight)
    if symbol.strokes:
        canvas.lines([view.paper(placed(mark, line, view.scale)) for line in symbol.strokes], layer.weight)
    letter = letter_of(mark, view)
    # Where two of them lie on one another, one letter is legible and two are not.
    if letter is not None and canvas.is_free(letter.box):
        canvas.put(letter)
    if mark.words is not None:
        canvas.put(label_of(mark.words, view))


def letter_of(mark: Mark, view: View) -> Label | None:
    """The letter in a mark's symbol, None where it has none."""
    symbol = SYMBOLS[mark.symbol]
    if not symbol.letter:
        return None
    wide = mark.size[0] * (1.0 if mark.is_sign else 1.0 / view.scale)
    (centre,) = view.paper([mark.point]).tolist()
    return centre_label(centre[0], centre[1], symbol.letter, wide * symbol.letter_size)


def paint_symbol(
    canvas: Canvas, name: str, x: float, y: float, size: tuple[float, float], layer: Layer
) -> None:
    """A symbol of that size with its middle at (x, y) on paper, as in a legend."""
    view = View(frame=Frame(x=0.0, y=0.0), scale=1.0, u=0.0, v=0.0, x=0.0, y=0.0)
    mark = Mark(part=Part.DEVICE, symbol=name, point=(x, -y), size=size, is_sign=True)
    _mark(canvas, view, mark, layer)


def _dimension(canvas: Canvas, view: View, line: DimensionLine, layer: Layer) -> None:
    ends = view.paper([line.start, line.end])
    canvas.lines([ends], layer.weight, says=line.words.text)
    draw_ticks(canvas, ends)
    canvas.put(label_of(line.words, view))


def _tag(canvas: Canvas, view: View, tag: Tag, layer: Layer) -> None:
    x0, y0, x1, y1 = tag.mask
    (left, bottom), (right, top) = view.paper([(x0, y0), (x1, y1)]).tolist()
    canvas.belongs = (("class", "tag"), ("data-zone", tag.zone), ("data-room", tag.room))
    if tag.leader:
        canvas.lines([view.paper(tag.leader)], layer.weight)
        (end,) = view.paper([tag.leader[-1]]).tolist()
        canvas.circle(end[0], end[1], 0.4, 0.1, fill="#000")
    canvas.rectangle(Box(left, top, right, bottom), layer.weight if tag.leader else 0.0, fill="#fff")
    for _, words in tag.lines:
        canvas.put(label_of(words, view))
