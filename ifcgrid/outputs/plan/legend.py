"""The legend of a storey's plan: a sample of every kind of line, area and symbol that occurs on it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.sheet import widest
from ifcgrid.outputs.paper.text import Label
from ifcgrid.outputs.plan.drawing import Area, DimensionLine, Lines, Mark, Outline, Part, Tag, Thing
from ifcgrid.outputs.plan.layers import Layers
from ifcgrid.outputs.plan.paint import DASHES, GREY, paint_dots, paint_symbol
from ifcgrid.outputs.plan.symbols import KIND_WORDS

__all__ = ["draw_legend", "legend_height", "legend_parts"]

_SIZE = 2.4
_STEP = 4.8
_SAMPLE = 8.5

_LINES = {
    Part.CEILING: "wall of a ceiling",
    Part.ROOM: "room under a shared ceiling",
    Part.MAIN_RUNNER: "main",
    Part.CROSS_TEE: "tee",
    Part.AXIS: "axis of the building",
    Part.JOINT: "separation joint",
    Part.STABILISER: "stabiliser bar",
    Part.TRAPEZE: "trapeze",
    Part.OPENING: "opening in the ceiling",
}
_AREAS = {Part.WALL_FILL: "wall, column", Part.NO_GRID: "no grid (soffit, column, room without a ceiling)"}
_SYMBOLS = {
    Part.HANGER: "hanger",
    Part.BRACE: "brace set",
    Part.DEVICE_WIRE: "wire of a device",
    **{Part(kind.value): words for kind, words in KIND_WORDS.items()},
    Part.FINDING: "finding, by number",
}


def legend_parts(things: Sequence[Thing]) -> list[tuple[Part, str, str]]:
    """What occurs: its part, its words, and the symbol's name ("" for lines and areas)."""
    parts = {_part(thing) for thing in things}
    if Part.COLUMN_FILL in parts:
        parts.add(Part.WALL_FILL)
    if Part.SECOND_TEE in parts:
        parts.add(Part.CROSS_TEE)
    found = [(part, words, "") for part, words in {**_LINES, **_AREAS}.items() if part in parts]
    for part, words in _SYMBOLS.items():
        names = sorted({t.symbol for t in things if isinstance(t, Mark) and t.part is part})
        found += [(part, words + _variant(name), name) for name in names]
    if any(isinstance(thing, DimensionLine) for thing in things):
        found.append((Part.DIMENSION, "from wall face to first line or to a crossing", ""))
    return found


def _variant(name: str) -> str:
    return next((f", {word}" for word in ("round", "accepted") if name.endswith(f"-{word}")), "")


def _part(thing: Thing) -> Part:
    if isinstance(thing, Lines | Outline | Area | Mark):
        return thing.part
    return Part.TAG if isinstance(thing, Tag) else Part.DIMENSION


def legend_height(parts: Sequence[tuple[Part, str, str]], width: float) -> float:
    """Height in mm that the legend takes at that width."""
    return _STEP * len(_rows(parts, width))


def _rows(parts: Sequence[tuple[Part, str, str]], width: float) -> list[list[tuple[float, int]]]:
    """The entries of each row with their places from the left."""
    rows: list[list[tuple[float, int]]] = [[]]
    x = 0.0
    for k, (_, words, _) in enumerate(parts):
        wide = _SAMPLE + widest([words], _SIZE) + 5.0
        if x + wide > width and x > 0.0:
            rows.append([])
            x = 0.0
        rows[-1].append((x, k))
        x += wide
    return rows


def draw_legend(canvas: Canvas, box: Box, parts: Sequence[tuple[Part, str, str]], layers: Layers) -> None:
    """The legend from the upper left corner of the box on."""
    for number, row in enumerate(_rows(parts, box.width)):
        y = box.top + 2.0 + number * _STEP
        for x, k in row:
            part, words, symbol = parts[k]
            _sample(canvas, box.left + x, y, part, symbol, layers)
            canvas.put(Label(x=box.left + x + _SAMPLE, y=y + 0.8, text=words, size=_SIZE))


def _sample(canvas: Canvas, x: float, y: float, part: Part, symbol: str, layers: Layers) -> None:
    layer = layers[part]
    if symbol:
        small = {Part.HANGER: 1.1, Part.DEVICE_WIRE: 1.0, Part.BRACE: 2.2, Part.FINDING: 2.6}
        wide = small.get(part, 3.0)
        down = 1.3 if part is Part.FINDING else 0.0
        paint_symbol(canvas, symbol, x + 3.5, y + down, (wide, wide), layer)
    elif part is Part.WALL_FILL:
        canvas.rectangle(Box(x, y - 1.0, x + 7.0, y + 1.0), 0.18, fill=GREY)
    elif part is Part.NO_GRID:
        ring = np.array([(x, y - 1.3), (x + 7.0, y - 1.3), (x + 7.0, y + 1.3), (x, y + 1.3)])
        paint_dots(canvas, [ring], layer.weight)
        canvas.areas([ring], layer.weight)
    elif part is Part.OPENING:
        canvas.rectangle(Box(x + 2.0, y - 1.5, x + 5.0, y + 1.5), layer.weight)
    else:
        canvas.lines([[(x, y), (x + 7.0, y)]], layer.weight, dash=DASHES[layer.line])
        if part is Part.DIMENSION:
            canvas.lines([[(e + 0.7, y - 0.7), (e - 0.7, y + 0.7)] for e in (x + 0.7, x + 6.3)], 0.3)
