"""What every drawn sheet has: paper, a true scale, head and foot, columns of text, bar and north arrow."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.frame import Frame
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.columns import LINE, Block, flow_blocks
from ifcgrid.outputs.paper.dimension import is_metric
from ifcgrid.outputs.paper.text import Label, centre_label, fit_text, measure_text, wrap_text

__all__ = [
    "INCH_PAPERS",
    "LEAST_TEXT",
    "MARGIN",
    "NORTH_WIDTH",
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
    "scale_words",
    "usual_scales",
    "widest",
]

SCALES = (20, 25, 50, 100, 200, 250, 500, 1000, 2000)
"""Usual drawing scales, 1 to ... (common practice, no source)."""

_INCH_SCALES = {
    12: "1",
    16: "3/4",
    24: "1/2",
    32: "3/8",
    48: "1/4",
    64: "3/16",
    96: "1/8",
    128: "3/32",
    192: "1/16",
    384: "1/32",
    768: "1/64",
    1536: "1/128",
}


def usual_scales(units: str) -> tuple[int, ...]:
    """The scales that a rule of the trade has, 1 to ...: metric, or so many inches to a foot.

    Common practice, no source; the metric ones are those of ISO 5455 and of the three-sided
    rule with 1:20, 25, 50, 75, 100 and 125 (from memory).
    """
    return tuple(sorted({10, 75, 125, *SCALES})) if is_metric(units) else tuple(_INCH_SCALES)


def scale_words(scale: float, units: str) -> str:
    r"""A scale as it is printed.

    >>> scale_words(50, "mm"), scale_words(48, "ft-in")
    ('Scale 1:50', 'Scale 1:48 (1/4" = 1\'-0")')
    """
    inches = "" if is_metric(units) else _INCH_SCALES.get(int(scale), "")
    return f"Scale 1:{scale:g}" + (f' ({inches}" = 1\'-0")' if inches else "")


MARGIN = 8.0
LEAST_TEXT = 2.2
"""Smallest font size on any sheet, in mm."""

_FOOT_TEXT = 2.2
_MOST_SUBTITLES = 4
_TITLE_TEXT = (6.0, 5.0, 4.2)
NORTH_WIDTH = 22.0
"""Width of the corner that the head leaves for the north arrow, in mm."""


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


def pick_scale(width: float, height: float, room_for: Box, scales: Sequence[int] = SCALES) -> int | None:
    """The largest of the scales at which width x height mm of building fit the box; None when none does."""
    for scale in scales:
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


def draw_head(
    canvas: Canvas, title: str, subtitle: str, *, corner: float = NORTH_WIDTH, least_rows: int = 1
) -> float:
    """Title and subtitle across the top; returns the y below them.

    A long title is set smaller, then cut; `corner` mm at the right stay free, and the head
    is as high as `least_rows` lines of subtitle.
    """
    left, width = MARGIN, canvas.page.width - 2 * MARGIN - corner
    fitting = [size for size in _TITLE_TEXT if measure_text(title, size, is_bold=True) <= width]
    size = fitting[0] if fitting else _TITLE_TEXT[-1]
    text = fit_text(title, width, size, is_bold=True)
    canvas.put(Label(x=left, y=MARGIN + 5.0, text=text, size=size, is_bold=True))
    y = MARGIN + 10.6
    rows = wrap_text(subtitle, width, 3.2, indent="")[:_MOST_SUBTITLES]
    for place, line in enumerate(rows):
        canvas.put(Label(x=left, y=y + 4.2 * place, text=line, size=3.2))
    y += 4.2 * max(len(rows), least_rows)
    canvas.lines([[(left, y - 2.4), (left + width + corner, y - 2.4)]], 0.35)
    return y - 0.6


def draw_foot(canvas: Canvas, stamp: Mapping[str, str], cautions: Sequence[str]) -> float:
    """Cautions and the provenance stamp across the bottom; returns the y above them."""
    width = canvas.page.width - 2 * MARGIN
    lines = wrap_text("Cautions: " + " ".join(cautions), width, _FOOT_TEXT, indent="")
    marks = " · ".join(f"{key}:\u00a0{value}" for key, value in stamp.items())
    lines += wrap_text(marks, width, _FOOT_TEXT, indent="") if marks else []
    step = _FOOT_TEXT * LINE
    top = canvas.page.height - MARGIN - step * len(lines)
    canvas.lines([[(MARGIN, top - 0.6), (MARGIN + width, top - 0.6)]], 0.35)
    for place, line in enumerate(lines):
        canvas.put(Label(x=MARGIN, y=top + place * step + _FOOT_TEXT, text=line, size=_FOOT_TEXT))
    return top - 1.6


_BAR_STEPS = {
    "mm": tuple((m * 1000.0, f"{m:g}") for m in (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50)),
    "ft-in": tuple((f * 304.8, f"{f:g}") for f in (0.5, 1, 2, 5, 10, 20, 50, 100)),
}


def draw_scale_bar(canvas: Canvas, x: float, y: float, scale: float, units: str) -> float:
    """A bar of four parts from (x, y), the end of its upper edge; returns its right end."""
    steps = _BAR_STEPS["mm" if is_metric(units) else "ft-in"]
    options = [(length, text) for length, text in steps if length / scale <= 16.0]
    length, text = options[-1] if options else steps[0]
    step = length / scale
    for part in range(4):
        box = Box(x + part * step, y, x + (part + 1) * step, y + 1.5)
        canvas.rectangle(box, 0.2, fill="#000" if part % 2 == 0 else "#fff")
    name = "m" if is_metric(units) else "ft"
    canvas.put(centre_label(x, y + 3.6, "0", 2.4))
    canvas.put(centre_label(x + 4 * step, y + 3.6, f"{float(text) * 4:g} {name}", 2.4))
    words = Label(x=x, y=y - 1.0, text=scale_words(scale, units), size=3.0, is_bold=True)
    canvas.put(words)
    return max(x + 4 * step + 6.0, words.box.right)


def draw_north(canvas: Canvas, angle_deg: float) -> None:
    """An arrow to north in the upper right corner; the angle counts counter-clockwise from the right."""
    x, y = canvas.page.width - MARGIN - NORTH_WIDTH / 2, MARGIN + 6.5
    c, s = math.cos(math.radians(angle_deg)), -math.sin(math.radians(angle_deg))
    tip, tail = (x + 4.5 * c, y + 4.5 * s), (x - 4.5 * c, y - 4.5 * s)
    left = (x + 1.2 * c - 1.6 * s, y + 1.2 * s + 1.6 * c)
    canvas.lines([[tail, tip]], 0.35)
    canvas.areas([[tip, left, (x + 1.2 * c, y + 1.2 * s)]], 0.2, fill="#000")
    canvas.put(centre_label(x + 7.0 * c, y + 7.0 * s, "N", 3.5, is_bold=True))


def widest(texts: Sequence[str], size: float) -> float:
    """Width in mm of the widest text, 0 when there is none."""
    return max((measure_text(text, size) for text in texts), default=0.0)
