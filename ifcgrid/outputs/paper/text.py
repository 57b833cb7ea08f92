"""Text on paper: how wide it is, where it is cut or broken, and the box that it covers."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate

from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.font import read_font

__all__ = ["Label", "centre_label", "fit_text", "measure_text", "wrap_text"]

_MIDDLE = 0.27
"""Half of what capitals and descenders reach, from the baseline, in em."""


def measure_text(text: str, size: float, *, is_bold: bool = False) -> float:
    """Width in mm of a text whose font size is `size` mm, kerning left out."""
    return _extent(text, is_bold)[0] * size


@lru_cache(maxsize=1 << 14)  # words come again and again, in every try of a sheet and on every sheet
def _extent(text: str, is_bold: bool) -> tuple[float, float, float]:
    """Width, reach above and reach below the baseline, in em."""
    font = read_font(is_bold=is_bold)
    return (sum(font[letter].advance for letter in text), *font.reach(text))


def fit_text(text: str, width: float, size: float, *, is_bold: bool = False) -> str:
    """The text, cut with an ellipsis when it is wider than `width` mm."""
    if measure_text(text, size, is_bold=is_bold) <= width:
        return text
    font = read_font(is_bold=is_bold)
    ends = accumulate((font[letter].advance for letter in text), initial=font["…"].advance)
    return text[: max(bisect_right(list(ends), width / size) - 1, 0)].rstrip() + "…"


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
        """The rectangle that the text covers."""
        width, up, down = (share * self.size for share in _extent(self.text, self.is_bold))
        before = {"start": 0.0, "middle": width / 2, "end": width}[self.anchor]
        if self.is_vertical:
            return Box(self.x - up, self.y - (width - before), self.x + down, self.y + before)
        return Box(self.x - before, self.y - up, self.x + width - before, self.y + down)

    def move(self, dx: float, dy: float) -> Label:
        """The same text elsewhere."""
        return replace(self, x=self.x + dx, y=self.y + dy)


def centre_label(x: float, y: float, text: str, size: float, **kind: bool) -> Label:
    """A label whose box is centred on (x, y)."""
    shift = _MIDDLE * size
    dx, dy = (shift, 0.0) if kind.get("is_vertical") else (0.0, shift)
    return Label(x=x + dx, y=y + dy, text=text, size=size, anchor="middle", **kind)
