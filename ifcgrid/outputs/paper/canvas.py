"""A drawing on paper before it is written as any kind of file: lines, areas, circles, texts in mm, y down.

Black, grey and white only: line weights, dashes, hatches and fills carry the meaning.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.hatch import hatch_lines
from ifcgrid.outputs.paper.text import Label

__all__ = ["Belongs", "Canvas", "Circle", "Path", "Shape", "Text"]

_GAP = 0.3
_CELL = 16.0

Points = NDArray[np.float64]

Belongs = tuple[tuple[str, str], ...]
"""What a shape or text belongs to, as names and values, for files that can group what they show."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Path:
    """Polylines, each (n, 2) in mm, or closed rings filled by the even-odd rule.

    `dash` holds lengths of strokes and gaps in mm with spaces between, "" for a full line;
    `says` is the printed length when the path is a dimension, from its first to its last point.
    """

    parts: tuple[Points, ...]
    weight: float
    is_closed: bool = False
    dash: str = ""
    colour: str = "#000"
    fill: str = "none"
    says: str = ""
    belongs: Belongs = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A circle in mm."""

    x: float
    y: float
    radius: float
    weight: float
    fill: str = "none"
    belongs: Belongs = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A label with its colour; `has_rim` keeps a number legible where it stands on a line."""

    label: Label
    colour: str = "#000"
    has_rim: bool = True
    belongs: Belongs = ()


Shape = Path | Circle


def _cells(box: Box) -> list[tuple[int, int]]:
    """Squares of the page that a box touches, so that only near texts are compared."""
    columns = range(int(box.left // _CELL), int(box.right // _CELL) + 1)
    rows = range(int(box.top // _CELL), int(box.bottom // _CELL) + 1)
    return [(column, row) for column in columns for row in rows]


class Canvas:
    """Collects shapes and texts of one page, and the boxes that later texts keep clear of.

    Texts lie over all shapes. `page` is the paper's box in mm, `title` what a reader is told;
    what is drawn while `belongs` is set bears it.
    """

    def __init__(self, width: float, height: float, title: str) -> None:
        self.page = Box(0.0, 0.0, width, height)
        self.title = title
        self.shapes: list[Shape] = []
        self.texts: list[Text] = []
        self.belongs: Belongs = ()
        self._boxes: dict[tuple[int, int], list[Box]] = {}

    def lines(
        self,
        parts: Iterable[Any],
        weight: float,
        *,
        dash: str = "",
        colour: str = "#000",
        says: str = "",
    ) -> None:
        """Open polylines, each (n, 2) in mm, as one path."""
        arrays = tuple(np.asarray(part, dtype=float) for part in parts)
        if arrays:
            self.shapes.append(
                Path(
                    parts=arrays,
                    weight=weight,
                    dash=dash,
                    colour=colour,
                    says=says,
                    belongs=self.belongs,
                )
            )

    def areas(self, rings: Iterable[Any], weight: float, *, fill: str = "none", dash: str = "") -> None:
        """Closed rings, each (n, 2) in mm, as one path; rings inside rings are holes."""
        arrays = tuple(np.asarray(ring, dtype=float) for ring in rings)
        if arrays:
            self.shapes.append(
                Path(
                    parts=arrays,
                    weight=weight,
                    is_closed=True,
                    dash=dash,
                    fill=fill,
                    belongs=self.belongs,
                )
            )

    def hatch(
        self, rings: Iterable[Any], weight: float, *, angle_deg: float = 45.0, spacing: float = 1.5
    ) -> None:
        """Parallel lines in the area of closed rings; rings inside rings are holes."""
        self.lines(hatch_lines(list(rings), angle_deg, spacing), weight)

    def circle(self, x: float, y: float, radius: float, weight: float, *, fill: str = "none") -> None:
        """A circle."""
        self.shapes.append(
            Circle(
                x=float(x),
                y=float(y),
                radius=float(radius),
                weight=weight,
                fill=fill,
                belongs=self.belongs,
            )
        )

    def rectangle(self, box: Box, weight: float, *, fill: str = "none") -> None:
        """A rectangle."""
        corners = [
            (box.left, box.top),
            (box.right, box.top),
            (box.right, box.bottom),
            (box.left, box.bottom),
        ]
        self.areas([corners], weight, fill=fill)

    def put(self, label: Label, *, colour: str = "#000") -> None:
        """Set a text and keep its box clear from now on."""
        self.reserve(label.box)
        self.texts.append(Text(label=label, colour=colour, has_rim=colour == "#000", belongs=self.belongs))

    def is_free(self, box: Box) -> bool:
        """Whether the box lies on the page and clear of every text so far."""
        wide = box.grow(_GAP)
        if not self.page.holds(wide):
            return False
        return not any(wide.meets(box) for cell in _cells(wide) for box in self._boxes.get(cell, ()))

    def put_first_free(self, labels: Iterable[Label]) -> Label | None:
        """Set the first of the labels that is free; None when none is."""
        for label in labels:
            if self.is_free(label.box):
                self.put(label)
                return label
        return None

    def reserve(self, box: Box) -> None:
        """Keep a box clear of texts."""
        for cell in _cells(box):
            self._boxes.setdefault(cell, []).append(box)
