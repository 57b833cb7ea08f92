"""The sheet around a plan as a paper space: head, lists, legend, cautions, and a view of the model space."""

from __future__ import annotations

from typing import Any

import numpy as np

from ifcgrid.outputs.dxf.blocks import fill_rings
from ifcgrid.outputs.dxf.document import Sink, nearest_weight
from ifcgrid.outputs.dxf.entities import place_text
from ifcgrid.outputs.dxf.words import LONGEST_OF_OURS, plain
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas, Circle, Path
from ifcgrid.outputs.paper.dimension import is_metric
from ifcgrid.outputs.plan.drawing import Part, Words
from ifcgrid.outputs.plan.paint import DASHES
from ifcgrid.outputs.plan.storey_sheet import StoreySheet

__all__ = ["LAYOUT", "add_sheet"]

LAYOUT = "Sheet"


def add_sheet(sink: Sink, sheet: StoreySheet) -> None:
    """The paper space `Sheet`, 1:1 in the file's units, at the sheet's own scale."""
    layout = sink.doc.layout("Layout1")
    sink.doc.layouts.rename("Layout1", LAYOUT)
    factor = sink.factor
    layout.page_setup(
        size=(sheet.paper.width * factor, sheet.paper.height * factor),
        margins=(0.0, 0.0, 0.0, 0.0),
        units="mm" if is_metric(sink.units) else "inch",
    )
    _add_view(sink, layout, sheet)
    page = _Page(sink, layout, sheet.furniture)
    for shape in sheet.furniture.shapes:
        page.add_path(shape) if isinstance(shape, Path) else page.add_circle(shape)
    page.add_texts()


def _add_view(sink: Sink, layout: Any, sheet: StoreySheet) -> None:
    """A view of the model space on the plan's own place on the paper."""
    box: Box = sheet.plan_box
    view, factor = sheet.view, sink.factor
    x, y = (box.left + box.right) / 2, (box.top + box.bottom) / 2
    u, v = view.u + (x - view.x) * view.scale, view.v - (y - view.y) * view.scale
    ((east, north),) = view.frame.to_world([(u, v)]).tolist()
    viewport = layout.add_viewport(
        center=(x * factor, (sheet.paper.height - y) * factor),
        size=(box.width * factor, box.height * factor),
        view_center_point=(east * factor, north * factor),
        view_height=box.height * view.scale * factor,
        dxfattribs={"layer": sink.layers[Part.VIEW].layer},
    )
    # The notes below the plan stand on the sheet itself.
    viewport.freeze(sink.layers[Part.NOTE].layer)


class _Page:
    """Turns shapes of a page, y down in mm, into entities of a paper space, y up in the file's units."""

    def __init__(self, sink: Sink, layout: Any, canvas: Canvas) -> None:
        self.sink = sink
        self.layout = layout
        self.canvas = canvas
        self._line_of = {dash: kind.upper() for kind, dash in DASHES.items() if dash}

    def _points(self, part: Any) -> list[tuple[float, float]]:
        x, y = np.asarray(part, dtype=float).T
        return list(
            zip(
                (x * self.sink.factor).tolist(),
                ((self.canvas.page.bottom - y) * self.sink.factor).tolist(),
                strict=True,
            )
        )

    def _style(self, weight: float, dash: str = "") -> dict[str, Any]:
        style: dict[str, Any] = {
            "layer": self.sink.layers[Part.SHEET].layer,
            "lineweight": nearest_weight(weight),
        }
        if dash in self._line_of:
            # Line kinds are scaled for the model space; here a mm is a mm.
            style |= {"linetype": self._line_of[dash], "ltscale": 1.0 / self.sink.scale}
        return style

    def add_path(self, path: Path) -> None:
        """Polylines, and hatches where they are filled."""
        if path.is_closed and path.fill not in ("none", "#fff"):
            rings = [self._points(part) for part in path.parts]
            fill_rings(self.layout, rings, self._style(0.0), is_black=path.fill == "#000")
        if path.weight:
            for part in path.parts:
                style = self._style(path.weight, path.dash)
                self.layout.add_lwpolyline(self._points(part), close=path.is_closed, dxfattribs=style)

    def add_circle(self, circle: Circle) -> None:
        """A circle, with a hatch where it is filled."""
        ((x, y),) = self._points([(circle.x, circle.y)])
        radius = circle.radius * self.sink.factor
        if circle.fill not in ("none", "#fff"):
            turn = np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
            ring = np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn)])
            fill_rings(self.layout, [ring.tolist()], self._style(0.0), is_black=circle.fill == "#000")
        self.layout.add_circle((x, y), radius, dxfattribs=self._style(circle.weight))

    def add_texts(self) -> None:
        """Texts as texts."""
        for text in self.canvas.texts:
            label = text.label
            ((x, y),) = self._points([(label.x, label.y)])
            words = Words(
                point=(x, y), text=label.text, size=label.size, anchor=label.anchor, is_bold=label.is_bold
            )
            entity = self.layout.add_text(
                plain(label.text, LONGEST_OF_OURS), dxfattribs={"layer": self.sink.layers[Part.NOTE].layer}
            )
            place_text(entity, words, 1.0, self.sink.factor)
