"""Dimensions as DIMENSION entities: measured by the file itself, drawn as on the sheet."""

from __future__ import annotations

from typing import Any

import numpy as np

from ifcgrid.outputs.dxf.document import CAPITAL, DIMENSIONS, REGULAR, Sink
from ifcgrid.outputs.dxf.words import plain
from ifcgrid.outputs.plan.drawing import DimensionLine, Part

__all__ = ["add_dimension"]

_USER_PLACED = 128
_BLOCK_OF_ITS_OWN = 32
_MIDDLE = 0.27
_TICK = 0.7


def add_dimension(sink: Sink, space: Any, line: DimensionLine) -> Any:
    """An aligned dimension from the wall's face to the grid line.

    Its text is left to the file's own measurement, in the style's units; the block that
    shows it until then is drawn here, so that no font of the machine decides on it.
    """
    start, end = np.array(line.start) * sink.factor, np.array(line.end) * sink.factor
    middle = _text_middle(sink, line)
    style = sink.style(Part.DIMENSION)
    entity = space.add_aligned_dim(
        p1=tuple(start), p2=tuple(end), distance=0.0, dimstyle=DIMENSIONS, dxfattribs=style
    ).dimension
    block = sink.doc.blocks.new_anonymous_block("D")
    entity.dxf.geometry = block.name
    # An aligned dimension is of kind 1 (DXF reference, group code 70).
    entity.dxf.dimtype = 1 | _BLOCK_OF_ITS_OWN | _USER_PLACED
    entity.dxf.defpoint = (*end, 0.0)
    entity.dxf.text_midpoint = (*middle, 0.0)
    entity.dxf.attachment_point = 5
    entity.dxf.actual_measurement = float(np.hypot(*(end - start)))
    _draw(sink, block, (start, end), middle, line.words.text)
    return entity


def _text_middle(sink: Sink, line: DimensionLine) -> tuple[float, float]:
    """The middle of the text, which on paper stands on its baseline."""
    up = _MIDDLE * line.words.size * sink.paper
    return line.words.point[0] * sink.factor, line.words.point[1] * sink.factor + up


def _draw(sink: Sink, block: Any, ends: Any, middle: tuple[float, float], text: str) -> None:
    start, end = ends
    on_zero = {"layer": "0"}
    block.add_line(tuple(start), tuple(end), dxfattribs=on_zero)
    tick = _TICK * sink.paper
    for x, y in (start, end):
        block.add_line((x - tick, y - tick), (x + tick, y + tick), dxfattribs=on_zero)
    note = block.add_mtext(
        plain(text).replace("\\", "\\\\"),
        dxfattribs={
            **on_zero,
            "char_height": 2.2 * CAPITAL * sink.paper,
            "style": REGULAR,
            "attachment_point": 5,
            "insert": middle,
        },
    )
    note.set_bg_color("canvas", scale=1.2)
    for x, y in (start, end):
        block.add_point((x, y), dxfattribs={"layer": "Defpoints"})
