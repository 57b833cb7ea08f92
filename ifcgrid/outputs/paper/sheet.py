"""What every drawn sheet has: paper, a true scale, head and foot, columns of text, bar and north arrow."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.frame import Frame
from ifcgrid.outputs.paper.svg import Box, Canvas, Label, centre_label, fit_text, measure_text, wrap_text

__all__ = [
    "INCH_PAPERS",
    "LEAST_TEXT",
    "MARGIN",
    "PAPERS",
    "PAPER_NAMES",
    "SCALES",
    "Block",
    "Paper",
    "View",
    "draw_foot",
    "draw_head",
    "draw_north",
    "draw_scale_bar",
    "flow_blocks",
    "papers_named",
    "pick_scale",
    "widest",
]

SCALES = (20, 25, 50, 100, 200, 250, 500, 1000, 2000)
"""Usual drawing scales, 1 to ... (common practice, no source)."""

MARGIN = 8.0
LEAST_TEXT = 2.2
"""Smallest font size on any sheet, in mm."""

_FOOT_TEXT = 2.2
_MOST_SUBTITLES = 4
_NORTH = 22.0
"""Width of the corner that the head leaves for the north arrow, in mm."""

_LINE = 1.28


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A sheet size in mm."""

    name: str
    width: float
    height: float


PAPERS = {
    f"{name} {way}": Paper(name=f"{name} {way}", width=width, height=height)
    for name, long, short in (
        ("A4", 297.0, 210.0),
        ("A3", 420.0, 297.0),
        ("A2", 594.0, 420.0),
        ("A4x4", 841.0, 297.0),
        ("A3x3", 891.0, 420.0),
        ("A1", 841.0, 594.0),
    )
    for way, width, height in (("landscape", long, short), ("portrait", short, long))
}
"""Sheets of ISO 216 and, for what is long, elongated ones of ISO 5457:1980 (from memory)."""

_INCH = 25.4
INCH_PAPERS = {
    f"{name} {way}": Paper(name=f"{name} {way}", width=width * _INCH, height=height * _INCH)
    for name, long, short in (
        ("Letter", 11.0, 8.5),
        ("Tabloid", 17.0, 11.0),
        ("C", 22.0, 17.0),
        ("D", 34.0, 22.0),
    )
    for way, width, height in (("landscape", long, short), ("portrait", short, long))
}
"""Sheets in inches; C and D as in ASME Y14.1 (from memory)."""

PAPER_NAMES = ("a4", "a3", "letter", "tabloid")
"""Papers that a site's printer takes, as they may be asked for."""


def papers_named(name: str) -> tuple[Paper, Paper]:
    """The paper of that name (`PAPER_NAMES`, in any case), lying and standing.

    Raises:
        OutputError: no paper has that name.
    """
    if name.lower() not in PAPER_NAMES:
        raise OutputError(f"paper {name!r}: choose one of {', '.join(PAPER_NAMES)}")
    both = {**PAPERS, **INCH_PAPERS}
    title = name.capitalize()
    return both[f"{title} landscape"], both[f"{title} portrait"]


def pick_scale(width: float, height: float, room_for: Box) -> int | None:
    """The largest usual scale at which width x height mm of building fit the box; None when none does."""
    for scale in SCALES:
        if width / scale <= room_for.width and height / scale <= room_for.height:
            return scale
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Building to paper: `frame` is the page's axes in the model, (u, v) of it lies at (x, y) on paper."""

    frame: Frame
    scale: float
    u: float
    v: float
    x: float
    y: float

    def paper(self, points: Any) -> NDArray[np.float64]:
        """Paper coordinates (n, 2) in mm, y down, of model points (n, 2)."""
        page = self.frame.to_local(points)
        return np.column_stack(
            [self.x + (page[:, 0] - self.u) / self.scale, self.y - (page[:, 1] - self.v) / self.scale]
        )

    def rings(self, shape: Any) -> list[NDArray[np.float64]]:
        """The rings of a polygon or of several, on paper, not closed."""
        return [
            self.paper(np.asarray(ring.coords)[:-1, :2])
            for part in getattr(shape, "geoms", [shape])
            for ring in (part.exterior, *part.interiors)
        ]


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A heading and its lines, to be wrapped into a column."""

    title: str
    lines: Sequence[str] = field(default=())


def _block_lines(block: Block, width: float, size: float) -> list[tuple[str, bool]]:
    lines = [(block.title, True)]
    for line in block.lines:
        lines += [(part, False) for part in wrap_text(line, width, size)]
    return lines


def flow_blocks(canvas: Canvas | None, blocks: Sequence[Block], columns: Sequence[Box], size: float) -> int:
    """Set blocks into columns, one after the other, and return how many lines found no place.

    Without a canvas nothing is drawn: the number tells whether the text would fit.
    """
    step = size * _LINE
    column, y, left_over = 0, columns[0].top if columns else 0.0, 0
    for block in blocks:
        lines = _block_lines(block, columns[0].width, size)
        for place, (text, is_title) in enumerate(lines):
            if is_title and column < len(columns) and y > columns[column].top:
                y += step * 0.55
            # A heading needs at least one line below it in its column.
            needed = step * (2 if is_title and len(lines) > 1 else 1)
            while column < len(columns) and y + needed > columns[column].bottom:
                column += 1
                y = columns[column].top if column < len(columns) else 0.0
            if column >= len(columns):
                left_over += len(lines) - place
                break
            if canvas is not None:
                label = Label(x=columns[column].left, y=y + size, text=text, size=size, is_bold=is_title)
                canvas.put(label)
            y += step
    return left_over


def draw_head(canvas: Canvas, title: str, subtitle: str) -> float:
    """Title and subtitle across the top; returns the y below them."""
    left, width = MARGIN, canvas.page.width - 2 * MARGIN - _NORTH
    canvas.put(
        Label(
            x=left,
            y=MARGIN + 5.0,
            text=fit_text(title, width, 6.0, is_bold=True),
            size=6.0,
            is_bold=True,
        )
    )
    y = MARGIN + 10.6
    for line in wrap_text(subtitle, width, 3.2, indent="")[:_MOST_SUBTITLES]:
        canvas.put(Label(x=left, y=y, text=line, size=3.2))
        y += 4.2
    canvas.lines([[(left, y - 2.4), (left + width + _NORTH, y - 2.4)]], 0.35)
    return y - 0.6


def draw_foot(canvas: Canvas, stamp: Mapping[str, str], cautions: Sequence[str]) -> float:
    """Cautions and the provenance stamp across the bottom; returns the y above them."""
    width = canvas.page.width - 2 * MARGIN
    lines = wrap_text("Cautions: " + " ".join(cautions), width, _FOOT_TEXT, indent="")
    marks = "   ".join(f"{key}: {value}" for key, value in stamp.items())
    lines += wrap_text(marks, width, _FOOT_TEXT, indent="") if marks else []
    step = _FOOT_TEXT * _LINE
    top = canvas.page.height - MARGIN - step * len(lines)
    canvas.lines([[(MARGIN, top - 0.6), (MARGIN + width, top - 0.6)]], 0.35)
    for place, line in enumerate(lines):
        canvas.put(Label(x=MARGIN, y=top + place * step + _FOOT_TEXT, text=line, size=_FOOT_TEXT))
    return top - 1.6


_BAR_STEPS = {
    "mm": tuple((m * 1000.0, f"{m:g}") for m in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50)),
    "ft-in": tuple((f * 304.8, f"{f:g}") for f in (0.5, 1, 2, 5, 10, 20, 50, 100)),
}


def draw_scale_bar(canvas: Canvas, x: float, y: float, scale: float, units: str) -> float:
    """A bar of four parts from (x, y), the end of its upper edge; returns its right end."""
    options = [(length, text) for length, text in _BAR_STEPS[units] if length / scale <= 16.0]
    length, text = options[-1] if options else _BAR_STEPS[units][0]
    step = length / scale
    for part in range(4):
        box = Box(x + part * step, y, x + (part + 1) * step, y + 1.5)
        canvas.rectangle(box, 0.2, fill="#000" if part % 2 == 0 else "#fff")
    name = "m" if units == "mm" else "ft"
    canvas.put(centre_label(x, y + 3.6, "0", 2.4))
    canvas.put(centre_label(x + 4 * step, y + 3.6, f"{float(text) * 4:g} {name}", 2.4))
    canvas.put(Label(x=x, y=y - 1.0, text=f"Scale 1:{scale:g}", size=3.0, is_bold=True))
    return x + 4 * step + 6.0


def draw_north(canvas: Canvas, angle_deg: float) -> None:
    """An arrow to north in the upper right corner; the angle counts counter-clockwise from the right."""
    x, y = canvas.page.width - MARGIN - _NORTH / 2, MARGIN + 6.5
    c, s = math.cos(math.radians(angle_deg)), -math.sin(math.radians(angle_deg))
    tip, tail = (x + 4.5 * c, y + 4.5 * s), (x - 4.5 * c, y - 4.5 * s)
    left = (x + 1.2 * c - 1.6 * s, y + 1.2 * s + 1.6 * c)
    canvas.lines([[tail, tip]], 0.35)
    canvas.areas([[tip, left, (x + 1.2 * c, y + 1.2 * s)]], 0.2, fill="#000")
    canvas.put(centre_label(x + 7.0 * c, y + 7.0 * s, "N", 3.5, is_bold=True))


def widest(texts: Sequence[str], size: float) -> float:
    """Width in mm of the widest text, 0 when there is none."""
    return max((measure_text(text, size) for text in texts), default=0.0)
