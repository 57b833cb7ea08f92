"""A small SVG writer on paper: millimetres, y down, black on white, and a record of every text's box.

Readable in monochrome by intent: line weights, dashes and fills carry the meaning.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate
from typing import Any
from xml.sax.saxutils import escape, quoteattr

__all__ = ["Box", "Canvas", "Label", "centre_label", "fit_text", "measure_text", "wrap_text"]

_FAMILY = "Arial, Helvetica, 'Liberation Sans', 'DejaVu Sans', sans-serif"
_NARROW = frozenset(" \u00a0.,:;'|!ijl")
_SLIM = frozenset('ftr()[]-/"I*°')
_WIDE = frozenset("mwMW@%—…")
_ASCENT, _DESCENT = 0.76, 0.22
_BOLD = 1.1
_GAP = 0.3
_CELL = 16.0


class _Widths(dict[str, float]):
    """Widths of characters in em: on the wide side of the common sans-serif fonts."""

    def __missing__(self, character: str) -> float:
        if character in _NARROW:
            width = 0.32
        elif character in _SLIM:
            width = 0.42
        elif character in _WIDE or ord(character) > 0x2E7F:
            width = 1.0
        else:
            width = 0.74 if character.isupper() else 0.635
        self[character] = width
        return width


_EM = _Widths()


def measure_text(text: str, size: float, *, is_bold: bool = False) -> float:
    """Estimated width in mm of a text whose font size is `size` mm."""
    return sum(map(_EM.__getitem__, text)) * size * (_BOLD if is_bold else 1.0)


def fit_text(text: str, width: float, size: float, *, is_bold: bool = False) -> str:
    """The text, cut with an ellipsis when it is wider than `width` mm."""
    if measure_text(text, size, is_bold=is_bold) <= width:
        return text
    ends = accumulate(map(_EM.__getitem__, text), initial=_EM["…"])
    most = width / (size * (_BOLD if is_bold else 1.0))
    return text[: max(bisect_right(list(ends), most) - 1, 0)].rstrip() + "…"


def wrap_text(text: str, width: float, size: float, *, indent: str = "  ") -> list[str]:
    """The text broken at spaces, not at no-break ones, into lines of `width` mm; longer words are cut."""
    return list(_wrapped(text, width, size, indent))


@lru_cache(maxsize=4096)  # a sheet is tried on several papers, and all sheets carry the same cautions
def _wrapped(text: str, width: float, size: float, indent: str) -> tuple[str, ...]:
    lines: list[str] = []
    line, used = "", 0.0
    for word in filter(None, text.split(" ")):
        added = measure_text(f" {word}" if line.strip() else word, size)
        if used + added <= width:
            line, used = (f"{line} {word}" if line.strip() else line + word), used + added
            continue
        if line.strip():
            lines.append(line)
        line = fit_text(indent + word, width, size)
        used = measure_text(line, size)
    if line.strip() or not lines:
        lines.append(line)
    return tuple(lines)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on paper in mm: left, top, right, bottom."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Right minus left."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Bottom minus top."""
        return self.bottom - self.top

    def meets(self, other: Box) -> bool:
        """Whether the two share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def holds(self, other: Box) -> bool:
        """Whether the other lies inside this one."""
        return (
            self.left <= other.left
            and self.top <= other.top
            and other.right <= self.right
            and other.bottom <= self.bottom
        )

    def grow(self, by: float) -> Box:
        """The box with `by` mm added on every side."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A text to be set: (x, y) is its anchor on the baseline; a vertical one reads upwards."""

    x: float
    y: float
    text: str
    size: float
    anchor: str = "start"
    is_vertical: bool = False
    is_bold: bool = False

    @property
    def box(self) -> Box:
        """The rectangle that the text covers, by the estimate of `measure_text`."""
        width = measure_text(self.text, self.size, is_bold=self.is_bold)
        before = {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]
        up, down = _ASCENT * self.size, _DESCENT * self.size
        if self.is_vertical:
            return Box(self.x - up, self.y - (width - before), self.x + down, self.y + before)
        return Box(self.x - before, self.y - up, self.x + width - before, self.y + down)

    def move(self, dx: float, dy: float) -> Label:
        """The same text elsewhere."""
        return replace(self, x=self.x + dx, y=self.y + dy)


def centre_label(x: float, y: float, text: str, size: float, **kind: bool) -> Label:
    """A label whose box is centred on (x, y)."""
    shift = (_ASCENT - _DESCENT) / 2 * size
    dx, dy = (shift, 0.0) if kind.get("is_vertical") else (0.0, shift)
    return Label(x=x + dx, y=y + dy, text=text, size=size, anchor="middle", **kind)


def _number(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _clean(text: str) -> str:
    """The text without characters that XML 1.0 forbids."""
    return "".join(c if c >= " " and not "\ud800" <= c <= "\udfff" and c < "\ufffe" else " " for c in text)


def _path(parts: Iterable[Any], end: str = "") -> str:
    return "".join(
        "M" + "L".join(f"{_number(float(x))} {_number(float(y))}" for x, y in part) + end for part in parts
    )


def _cells(box: Box) -> list[tuple[int, int]]:
    """Squares of the page that a box touches, so that only near texts are compared."""
    columns = range(int(box.left // _CELL), int(box.right // _CELL) + 1)
    rows = range(int(box.top // _CELL), int(box.bottom // _CELL) + 1)
    return [(column, row) for column in columns for row in rows]


class Canvas:
    """Collects shapes and texts of one drawing, and the boxes that later texts keep clear of."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self.page = Box(0.0, 0.0, width, height)
        self._boxes: dict[tuple[int, int], list[Box]] = {}
        self._title = title
        self._shapes: list[str] = []
        self._texts: list[str] = []

    def lines(self, parts: Iterable[Any], weight: float, *, dash: str = "", colour: str = "#000") -> None:
        """Open polylines, each (n, 2) in mm, as one path."""
        path = _path(parts)
        if path:
            extra = f' stroke-dasharray="{dash}"' if dash else ""
            self._shapes.append(
                f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{weight}"{extra}/>'
            )

    def areas(self, rings: Iterable[Any], weight: float, *, fill: str = "none", dash: str = "") -> None:
        """Closed rings, each (n, 2) in mm, as one path; rings inside rings are holes."""
        path = _path(rings, "Z")
        if path:
            extra = f' stroke-dasharray="{dash}"' if dash else ""
            stroke = f' stroke="#000" stroke-width="{weight}"{extra}' if weight else ""
            self._shapes.append(f'<path d="{path}" fill="{fill}" fill-rule="evenodd"{stroke}/>')

    def circle(self, x: float, y: float, radius: float, weight: float, *, fill: str = "none") -> None:
        """A circle."""
        self._shapes.append(
            f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(radius)}" fill="{fill}"'
            f' stroke="#000" stroke-width="{weight}"/>'
        )

    def rectangle(self, box: Box, weight: float, *, fill: str = "none") -> None:
        """A rectangle."""
        self.areas(
            [
                [
                    (box.left, box.top),
                    (box.right, box.top),
                    (box.right, box.bottom),
                    (box.left, box.bottom),
                ]
            ],
            weight,
            fill=fill,
        )

    def put(self, label: Label, *, colour: str = "#000") -> None:
        """Set a text and keep its box clear from now on."""
        self.reserve(label.box)
        x, y = _number(label.x), _number(label.y)
        extra = f' transform="rotate(-90 {x} {y})"' if label.is_vertical else ""
        extra += ' font-weight="bold"' if label.is_bold else ""
        extra += f' text-anchor="{label.anchor}"' if label.anchor != "start" else ""
        # The white rim keeps a number legible where it stands on a line.
        rim = ' stroke="#fff" stroke-width="0.7" paint-order="stroke"' if colour == "#000" else ""
        self._texts.append(
            f'<text x="{x}" y="{y}" font-size="{_number(label.size)}" fill="{colour}"{rim}{extra}'
            f' xml:space="preserve">{escape(_clean(label.text))}</text>'
        )

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

    def to_text(self) -> str:
        """The SVG document; sizes in mm, so that it prints to scale."""
        width, height = _number(self.page.width), _number(self.page.height)
        return "\n".join(
            [
                '<?xml version="1.0" encoding="UTF-8"?>',
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm"'
                f' viewBox="0 0 {width} {height}" font-family={quoteattr(_FAMILY)} role="img">',
                f"<title>{escape(_clean(self._title))}</title>",
                f'<rect width="{width}" height="{height}" fill="#fff"/>',
                '<g stroke-linejoin="round" stroke-linecap="butt">',
                *self._shapes,
                "</g>",
                *self._texts,
                "</svg>",
                "",
            ]
        )
