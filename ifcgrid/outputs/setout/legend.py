"""The legend of a set-out sheet: a sample of each line and mark that stands on it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.obstacle import Kind
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.sheet import widest
from ifcgrid.outputs.paper.symbol import SYMBOL_WORDS, box_ring, draw_device, draw_hangers
from ifcgrid.outputs.paper.text import Label
from ifcgrid.outputs.setout.strokes import (
    BAND,
    DIAGONAL,
    DIAGONAL_DASH,
    FIELD_RING,
    FIRST_MAIN,
    FIRST_TEE,
    FIRST_TEE_DASH,
    MAIN,
    SPLICE,
    STRING,
    STRING_DASH,
    TEE,
)

__all__ = ["draw_legend"]

Sample = Callable[[Canvas, float, float], None]
"""Draws an entry's sample with its right end at (x, y)."""


def _line(weight: float, dash: str = "", colour: str = "#000") -> Sample:
    def draw(canvas: Canvas, x: float, y: float) -> None:
        canvas.lines([[(x - 10.0, y), (x, y)]], weight, dash=dash, colour=colour)

    return draw


def _hanger(canvas: Canvas, x: float, y: float) -> None:
    draw_hangers(canvas, np.array([[x - 1.5, y]]))


def _ring(canvas: Canvas, x: float, y: float) -> None:
    canvas.circle(x - 1.5, y, FIELD_RING, 0.35, fill="#fff")


def _splice(canvas: Canvas, x: float, y: float) -> None:
    canvas.lines([[(x - 6.0, y), (x, y)]], MAIN)
    canvas.lines([[(x - 3.0 - SPLICE, y + SPLICE), (x - 3.0 + SPLICE, y - SPLICE)]], 0.45)


def _device(kind: Kind) -> Sample:
    return lambda canvas, x, y: draw_device(canvas, kind, box_ring(x - 3.0, y - 1.5, 3.0))


def _entries(ceiling: Ceiling, kinds: Sequence[Kind]) -> list[tuple[str, float, Sample]]:
    """Words, width of the sample in mm, and the sample."""
    pieces = ceiling.pieces
    has_splices = pieces is not None and bool((pieces.number > 0).any())
    return [
        ("string (control line)", 10.0, _line(STRING, STRING_DASH)),
        ("first main", 10.0, _line(FIRST_MAIN, colour=BAND)),
        ("main", 10.0, _line(MAIN)),
        *([("splice", 6.0, _splice)] if has_splices else []),
        ("first tee line", 10.0, _line(FIRST_TEE, FIRST_TEE_DASH)),
        ("tee", 10.0, _line(TEE)),
        ("diagonal of the room", 10.0, _line(DIAGONAL, DIAGONAL_DASH)),
        ("square check of the grid", 3.0, _ring),
        *([("hanger", 3.0, _hanger)] if len(ceiling.hangers) else []),
        *((SYMBOL_WORDS[kind], 3.0, _device(kind)) for kind in kinds if kind in SYMBOL_WORDS),
    ]


def draw_legend(canvas: Canvas, box: Box, ceiling: Ceiling, kinds: Sequence[Kind] = ()) -> None:
    """Samples of the lines and marks, in rows within the box; devices of the given kinds too."""
    x, y, size = box.left, box.top + 2.0, 2.4
    for text, width, sample in _entries(ceiling, kinds):
        wide = width + 1.5 + widest([text], size) + 4.0
        if x + wide > box.right + 4.0 and x > box.left:
            x, y = box.left, y + 4.4
        sample(canvas, x + width, y)
        canvas.put(Label(x=x + width + 1.5, y=y + 0.8, text=text, size=size))
        x += wide
