"""The key plan: where on its storey a room lies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from ifcgrid.domain.frame import Frame
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.sheet import View
from ifcgrid.outputs.paper.text import Label, fit_text

__all__ = ["KEY_WIDTH", "draw_key_plan"]

KEY_WIDTH = 36.0
"""Width on paper that the head leaves for a key plan, in mm."""

_TEXT = 2.4
_LEAST = 0.25
"""Rooms are drawn to this many mm of paper; what is finer would only be ink."""

Shape = Polygon | MultiPolygon


def draw_key_plan(
    canvas: Canvas, box: Box, frame: Frame, room: Shape, storey: Sequence[Shape], name: str
) -> None:
    """The storey's rooms as thin outlines with this room black, turned as the plan below.

    Args:
        canvas: where to draw.
        box: the region in mm.
        frame: the page's axes in the model.
        room: this room's outline in model coordinates.
        storey: outlines of the rooms of its storey, itself among them or not.
        name: the storey's name, set below when it is not "".
    """
    words = f"Key plan: {name}" if name else "Key plan"
    field = Box(box.left, box.top, box.right, box.bottom - 1.35 * _TEXT)
    corners = frame.to_local(np.vstack([shapely.get_coordinates(shape) for shape in (room, *storey)]))
    low, high = corners.min(axis=0), corners.max(axis=0)
    extent = np.maximum(high - low, 1.0)
    scale = float(max(extent[0] / field.width, extent[1] / field.height))
    wide, deep = (extent / scale).tolist()
    view = View(
        frame=frame,
        scale=scale,
        u=float(low[0]),
        v=float(low[1]),
        x=field.left + (field.width - wide) / 2,
        y=field.top + (field.height + deep) / 2,
    )
    for shape in storey:
        simple = shape.simplify(_LEAST * scale)
        canvas.areas(view.rings(shape if simple.is_empty else simple), 0.13)
    canvas.areas(view.rings(room), 0.3, fill="#000")
    canvas.put(
        Label(x=box.left, y=box.bottom - 0.25 * _TEXT, text=fit_text(words, box.width, _TEXT), size=_TEXT)
    )
