"""Drawing in a ceiling's own coordinates, and dimensions whose text keeps clear of everything."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.sheet import View
from ifcgrid.outputs.paper.text import Label, centre_label

__all__ = ["Pen", "draw_dimension", "draw_ticks"]


class Pen:
    """The canvas with the ceiling's own way to paper."""

    def __init__(self, canvas: Canvas, view: View, ceiling: Ceiling) -> None:
        self.canvas = canvas
        self.view = view
        self.ceiling = ceiling
        self.box = self._room_box()
        self.walls = shapely.MultiLineString(
            [np.vstack([r, r[:1]]) for r in view.rings(ceiling.zone.outline)]
        )
        shapely.prepare(self.walls)
        local = ceiling.layout.frame.shape_to_local(ceiling.zone.outline)
        self._inside = local.buffer(tolerance.SHORTEST_EDGE)

    def local(self, points: Any) -> NDArray[np.float64]:
        """Paper coordinates of local points (n, 2)."""
        return self.view.paper(self.ceiling.layout.frame.to_world(points))

    def direction(self, vector: tuple[float, float]) -> NDArray[np.float64]:
        """A local direction on paper, unit length."""
        origin, tip = self.local([(0.0, 0.0), vector])
        step = tip - origin
        unit: NDArray[np.float64] = step / np.hypot(*step)
        return unit

    def clear_of_walls_first(self, labels: Iterable[Label]) -> list[Label]:
        """The labels in their order, those that stand across a wall last."""
        found = list(labels)
        boxes = [shapely.box(b.left, b.top, b.right, b.bottom) for b in (label.box for label in found)]
        across = shapely.intersects(self.walls, boxes)
        return [found[k] for k in np.argsort(across, kind="stable")]

    def is_inside(self, a: NDArray[np.float64], b: NDArray[np.float64]) -> bool:
        """Whether a tape from a to b (local) stays in the room."""
        return bool(self._inside.covers(shapely.LineString([a, b])))

    def is_in_room(self, box: Box) -> bool:
        """Whether a box on paper keeps clear of the room's walls."""
        return not shapely.intersects(self.walls, shapely.box(box.left, box.top, box.right, box.bottom))

    def _room_box(self) -> Box:
        ring = self.view.paper(np.asarray(self.ceiling.zone.outline.exterior.coords)[:, :2])
        (x0, y0), (x1, y1) = ring.min(axis=0), ring.max(axis=0)
        return Box(float(x0), float(y0), float(x1), float(y1))


def draw_ticks(canvas: Canvas, points: Sequence[Any] | NDArray[np.float64]) -> None:
    """Slanted strokes that end a dimension line."""
    canvas.lines([[(x - 0.7, y + 0.7), (x + 0.7, y - 0.7)] for x, y in points], 0.3)


def _beside(
    a: NDArray[np.float64], b: NDArray[np.float64], text: str, size: float, is_bold: bool
) -> Iterator[Label]:
    """Places for a text beside the line from a to b, best first."""
    is_vertical = abs(b[1] - a[1]) > abs(b[0] - a[0])
    off = size * 0.62 + 0.4
    for part in (0.5, 0.35, 0.65, 0.2, 0.8):
        x, y = a + (b - a) * part
        for side in (-1.0, 1.0):
            dx, dy = (side * off, 0.0) if is_vertical else (0.0, side * off)
            yield centre_label(x + dx, y + dy, text, size, is_vertical=is_vertical, is_bold=is_bold)
        right = a if a[0] > b[0] else b
        for x_end, y_end in [(x, y) if is_vertical else (right[0], right[1])]:
            for side, anchor in ((1.0, "start"), (-1.0, "end")) if is_vertical else ((1.0, "start"),):
                yield Label(
                    x=x_end + side * 0.9,
                    y=y_end + size * 0.3,
                    text=text,
                    size=size,
                    anchor=anchor,
                    is_bold=is_bold,
                )


def draw_dimension(
    pen: Pen,
    a: NDArray[np.float64],
    b: NDArray[np.float64],
    text: str,
    size: float,
    *,
    is_bold: bool = False,
) -> bool:
    """A dimension line with its text, drawn only when the text finds room."""
    if pen.canvas.put_first_free(pen.clear_of_walls_first(_beside(a, b, text, size, is_bold))) is None:
        return False
    pen.canvas.lines([[a, b]], 0.22, says=text)
    draw_ticks(pen.canvas, [a, b])
    return True
