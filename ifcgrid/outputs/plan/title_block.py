"""The title block of a plan: what it shows, at which scale, of which model, and room for a signature."""

from __future__ import annotations

from collections.abc import Sequence

from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.sheet import widest
from ifcgrid.outputs.paper.text import Label, fit_text

__all__ = ["block_height", "draw_title_block"]

_TEXT = 2.6
_ROW = 4.6
_GAP = 2.0


def block_height(rows: Sequence[tuple[str, str]]) -> float:
    """Height in mm of a block with these rows."""
    return _ROW * len(rows)


def draw_title_block(canvas: Canvas, box: Box, rows: Sequence[tuple[str, str]]) -> None:
    """Names and values in a frame; a row without a value is left to be filled in by hand."""
    split = box.left + widest([name for name, _ in rows], _TEXT) + 2 * _GAP
    canvas.rectangle(box, 0.35)
    canvas.lines([[(split, box.top), (split, box.bottom)]], 0.18)
    for number, (name, value) in enumerate(rows):
        y = box.top + _ROW * number
        if number:
            canvas.lines([[(box.left, y), (box.right, y)]], 0.18)
        base = y + _ROW / 2 + _TEXT * 0.36
        canvas.put(Label(x=box.left + _GAP / 2, y=base, text=name, size=_TEXT))
        text = fit_text(value, box.right - split - _GAP, _TEXT, is_bold=True)
        if text:
            canvas.put(Label(x=split + _GAP / 2, y=base, text=text, size=_TEXT, is_bold=True))
