"""Labels of rooms on the report's plan: set inside the room, clear of flags, as large as there is room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain.finding import Verdict
from ifcgrid.outputs.paper.text import measure_text
from ifcgrid.outputs.report.content import Card, Standing
from ifcgrid.outputs.report.words import SIGNS

__all__ = ["Line", "PlacedLabel", "place_label"]

_SIZES = (1.0, 0.85, 0.7, 0.58, 0.48, 0.4, 0.33)
"""Font sizes that are tried, as shares of the largest; at the last one text can just be read."""

_TINY = (0.25, 0.18, 0.12)
"""Sizes for rooms in which nothing readable fits: they can be read once the plan is enlarged."""

_NAME = 0.82
"""A name's size as a share of the number's."""

_NAMED = 0.48
"""A label with its name in it is not smaller than this share of the largest."""

_STEP = 1.22
_WIDER = 1.12
"""Screen fonts run up to so much wider than what is measured."""

_LONGEST = 16


@dataclass(frozen=True, slots=True)
class Line:
    """One line: its text, its size as a share of the label's, and whether it is the room's standing."""

    text: str
    share: float = 1.0
    is_sign: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedLabel:
    """A label with its middle in model coordinates and its font size, in mm."""

    x: float
    y: float
    size: float
    lines: tuple[Line, ...]

    def baselines(self) -> Iterator[float]:
        """How far below the middle the baseline of each line is, in mm."""
        heights = [line.share * self.size * _STEP for line in self.lines]
        top = -sum(heights) / 2
        for line, height in zip(self.lines, heights, strict=True):
            yield top + height / 2 + 0.36 * line.share * self.size
            top += height


def place_label(card: Card, largest: float, flags: NDArray[np.float64], reach: float) -> PlacedLabel | None:
    """Where and how a room is labelled; None where it has no outline.

    Args:
        card: the room.
        largest: the largest font size in mm.
        flags: tips (n, 2) of flags in model coordinates, which stand above their tips.
        reach: width of a flag in mm; it is as high again and a half.
    """
    if card.shape is None or card.shape.is_empty:
        return None
    part = max(getattr(card.shape, "geoms", [card.shape]), key=lambda p: p.area)
    spots = _spots(part)
    rather = _clear_of(flags, reach)
    named, bare, short, sign = _arrangements(card)
    for shape in (part if rather is None else part.difference(rather), part):
        found = [_fit(shape, spots, lines, [largest * s for s in _SIZES]) for lines in (*named, bare, short)]
        fitting = [label for label in found if label is not None]
        if not fitting:
            continue
        # The name is left out where it would make the number hard to read.
        best = max(fitting, key=lambda label: label.size)
        with_name = max((x for x in found[: len(named)] if x is not None), key=_size, default=None)
        is_readable = with_name is not None and with_name.size >= min(_NAMED * largest, best.size)
        return with_name if is_readable else best
    for lines in (short, sign):
        if tiny := _fit(part, spots, lines, [largest * s for s in _TINY]):
            return tiny
    x, y = spots[0]
    return PlacedLabel(x=float(x), y=float(y), size=largest * _TINY[-1], lines=sign)


def _clear_of(flags: NDArray[np.float64], reach: float) -> shapely.Geometry | None:
    if not len(flags):
        return None
    x, y = flags.T
    return shapely.union_all(shapely.box(x - reach / 2, y, x + reach / 2, y + 1.5 * reach))


def _spots(part: Polygon) -> NDArray[np.float64]:
    """Points to try, (n, 2): the middle if inside, the widest place, then a grid from there outwards."""
    circle = shapely.maximum_inscribed_circle(part, tolerance=50.0)
    widest, middle = circle.coords[0], part.centroid.coords[0]
    x0, y0, x1, y1 = part.bounds
    shares = (np.arange(9) + 0.5) / 9
    grid = np.stack(np.meshgrid(x0 + (x1 - x0) * shares, y0 + (y1 - y0) * shares), axis=-1).reshape(-1, 2)
    first = [middle, widest] if shapely.contains_xy(part, *middle) else [widest]
    far = np.hypot(*(grid - np.array(first[0])).T)
    inside = shapely.contains_xy(part, grid)
    rest = grid[np.argsort(far, kind="stable")]
    rest = rest[inside[np.argsort(far, kind="stable")]]
    spots: NDArray[np.float64] = np.concatenate([np.array(first), rest])
    return spots


def _fit(
    shape: shapely.Geometry, spots: NDArray[np.float64], lines: Sequence[Line], sizes: Sequence[float]
) -> PlacedLabel | None:
    """The lines in the largest of the sizes in which they lie inside the shape somewhere."""
    shapely.prepare(shape)
    for size in sizes:
        wide = max(measure_text(line.text, line.share * size, is_bold=True) for line in lines) * _WIDER
        high = sum(line.share for line in lines) * size * _STEP
        half = np.array([wide, high]) / 2
        boxes = shapely.box(*(spots - half).T, *(spots + half).T)
        fitting = np.flatnonzero(shapely.contains(shape, boxes))
        if len(fitting):
            x, y = spots[fitting[0]].tolist()
            return PlacedLabel(x=x, y=y, size=size, lines=tuple(lines))
    return None


def _size(label: PlacedLabel) -> float:
    return label.size


_Lines = tuple[Line, ...]


def _arrangements(card: Card) -> tuple[list[_Lines], _Lines, _Lines, _Lines]:
    """Number, name and standing in several ways; without the name; in one line; the standing alone."""
    number = card.number or card.name or "?"
    number = number if len(number) <= _LONGEST else number[: _LONGEST - 1] + "…"
    sign = Line(_standing(card), 1.0, True)
    named: list[_Lines] = []
    name = card.name if card.name != card.number and card.number else ""
    if name and len(name) <= 3 * _LONGEST:
        named = [(Line(number), *(Line(text, _NAME) for text in way), sign) for way in _ways(name)]
    return named, (Line(number), sign), (Line(f"{number} {sign.text}", 1.0, True),), (sign,)


def _ways(name: str) -> list[list[str]]:
    """A name in one line, and in two that are as equal as its spaces allow."""
    words = name.split(" ")
    splits = [(" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words))]
    even = min(splits, key=lambda two: max(map(len, two)), default=None)
    return [[name], list(even)] if even else [[name]]


def _standing(card: Card) -> str:
    if not card.parts:
        return SIGNS[card.standing]
    counted = (
        (Standing.FAIL, card.count(Verdict.FAIL)),
        (Standing.UNKNOWN, card.count(Verdict.UNKNOWN)),
    )
    return "  ".join(f"{SIGNS[s]} {count}" for s, count in counted if count) or SIGNS[card.standing]
