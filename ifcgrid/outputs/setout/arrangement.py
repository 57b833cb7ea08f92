"""How a room comes onto paper: which paper, which way up, at what scale, with the lists beside or below."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from ifcgrid.domain.errors import OutputError
from ifcgrid.outputs.cautions import caution_texts
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.columns import Block, flow_blocks
from ifcgrid.outputs.paper.dimension import is_metric
from ifcgrid.outputs.paper.sheet import (
    INCH_PAPERS,
    MARGIN,
    PAPER_NAMES,
    PAPERS,
    Paper,
    draw_foot,
    draw_head,
    papers_named,
    pick_scale,
    usual_scales,
)

__all__ = ["LEGEND", "WAYS", "Sheet", "Texts", "Wish", "choose_sheet", "list_columns"]

WAYS = ("auto", "portrait", "landscape")

_GOOD_SCALE = 50
"""A room that the small paper takes at this scale or larger stays on it (our own choice)."""

_LEAST_SCALE = 100
"""A room that the middle paper takes only at a smaller scale than this gets a larger one (our own choice)."""

_AUTO = {
    True: (("A4",), ("A3",), ("A4x4", "A2", "A3x3", "A1")),
    False: (("Letter",), ("Tabloid",), ("C", "D")),
}
"""Small, middle and large papers where none is asked for, metric and in inches."""

_SMALL = ("A4", "Letter")
_AREA = 5e4

_LIST_TEXT = (3.6, 3.2, 2.8)
"""Font sizes of the lists in mm."""

_PARTS = (1.0, 0.8, 0.65, 0.5)
"""How much of their greatest height lists below the plan may take."""

LEGEND = 19.0
"""Height of the strip with scale bar and legend, in mm."""

_COLUMN_GAP = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What paper is asked for: one of `PAPER_NAMES` and of `WAYS`, or "auto"."""

    paper: str = "auto"
    way: str = "auto"

    def __post_init__(self) -> None:
        """Refuse names that there are not.

        Raises:
            OutputError: the paper or the way up is unknown.
        """
        if self.paper != "auto" and self.paper.lower() not in PAPER_NAMES:
            raise OutputError(f"paper {self.paper!r}: choose auto or one of {', '.join(PAPER_NAMES)}")
        if self.way not in WAYS:
            raise OutputError(f"way up {self.way!r}: choose one of {', '.join(WAYS)}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Texts:
    """All words of a sheet; the first `needed` blocks stand on its first page.

    `corner` mm of the head stay free at the right for north and key plan, on `rows` lines.
    """

    title: str
    subtitle: str
    stamp: Mapping[str, str]
    blocks: Sequence[Block]
    units: str
    needed: int = 2
    corner: float = 22.0
    rows: int = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A way to put the room on paper: regions in mm, scale 1 to `scale`, font size of the lists.

    `lost` is how many lines of the needed blocks find no place on the first page, `left_over`
    how many of all.
    """

    paper: Paper
    plan: Box
    room: Box
    columns: tuple[Box, ...]
    scale: int
    text: float
    lost: int
    left_over: int


def _is_small(paper: Paper) -> bool:
    return paper.name.split(" ")[0] in _SMALL


def list_columns(paper: Paper, top: float, bottom: float) -> tuple[Box, ...]:
    """Columns of lists over the whole width of a paper, from `top` to `bottom`."""
    count = (2 if _is_small(paper) else 3) + (paper.width > paper.height)
    width = (paper.width - 2 * MARGIN - _COLUMN_GAP * (count - 1)) / count
    lefts = [MARGIN + k * (width + _COLUMN_GAP) for k in range(count)]
    return tuple(Box(left, top, left + width, bottom) for left in lefts)


def _split(paper: Paper, top: float, bottom: float, part: float) -> tuple[Box, tuple[Box, ...]]:
    """The plan's region and the columns of text beside it (`part` 0), or below it on part of their height."""
    left, right = MARGIN, paper.width - MARGIN
    if not part:
        start = right - (100.0 if _is_small(paper) else 118.0)
        return Box(left, top, start - 4.0, bottom), (Box(start, top + 1.5, right, bottom),)
    start = bottom - (112.0 if _is_small(paper) else 118.0) * part
    return Box(left, top, right, start - 3.0), list_columns(paper, start, bottom)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """Where plan and lists would go on a paper, and the scale of the plan there."""

    paper: Paper
    plan: Box
    room: Box
    columns: tuple[Box, ...]
    scale: int


def _places(
    papers: Sequence[Paper], texts: Texts, size: tuple[float, float], chain: float, way: str
) -> list[_Place]:
    """All ways to put the room on these papers, each at the largest usual scale."""
    scales = usual_scales(texts.units)
    found = []
    for paper in (paper for paper in papers if way in ("auto", paper.name.split(" ")[1])):
        scratch = Canvas(paper.width, paper.height, "")
        top = draw_head(scratch, texts.title, texts.subtitle, corner=texts.corner, least_rows=texts.rows)
        bottom = draw_foot(scratch, texts.stamp, caution_texts(is_short=True))
        # Beside the plan, which is for paper that lies, the lists take its whole height; below it less.
        for part in (0.0, *_PARTS) if paper.width > paper.height else _PARTS:
            plan, columns = _split(paper, top, bottom, part)
            room = Box(
                plan.left + 11.0 + chain,
                plan.top + 11.0,
                plan.right - 11.0,
                plan.bottom - 12.0 - chain - LEGEND,
            )
            scale = pick_scale(*size, room, scales) or scales[-1]
            found.append(_Place(paper=paper, plan=plan, room=room, columns=columns, scale=scale))
    return found


def _fill(place: _Place, texts: Texts) -> Sheet:
    text, lost, left_over = _pick_text(texts, place.columns)
    return Sheet(
        paper=place.paper,
        plan=place.plan,
        room=place.room,
        columns=place.columns,
        scale=place.scale,
        text=text,
        lost=lost,
        left_over=left_over,
    )


def _pick_text(texts: Texts, columns: Sequence[Box]) -> tuple[float, int, int]:
    """Font size, lines lost of the needed blocks, lines left over of all.

    The largest size at which all fits; else the usual one at which what is needed does.
    """
    needed = texts.blocks[: texts.needed]
    tries = [(text, flow_blocks(None, texts.blocks, columns, text)) for text in _LIST_TEXT]
    for text, left_over in tries:
        if not left_over:
            return text, 0, 0
    found = [(text, flow_blocks(None, needed, columns, text), left_over) for text, left_over in tries[1:]]
    return next((one for one in found if not one[1]), found[-1])


def _best(places: Sequence[_Place], texts: Texts, rank: Callable[[Sheet], tuple[float, ...]]) -> Sheet:
    """The first by rank; lists are tried only where the drawing is largest and what is needed fits."""
    sheets: list[Sheet] = []
    for scale in sorted({place.scale for place in places}):
        tried = [_fill(place, texts) for place in places if place.scale == scale]
        if whole := [sheet for sheet in tried if not sheet.lost]:
            return min(whole, key=rank)
        sheets += tried
    return min(sheets, key=rank)


def _both(names: Sequence[str], units: str) -> list[Paper]:
    shelf = PAPERS if is_metric(units) else INCH_PAPERS
    return [shelf[f"{name} {way}"] for name in names for way in WAYS[1:]]


def choose_sheet(texts: Texts, size: tuple[float, float], chain: float, wish: Wish) -> Sheet:
    """The way up and the arrangement in which the drawing is largest, then most of the lists on its page.

    Where no paper is asked for: the small one when the room is then large enough to read,
    else the middle one; a room that would be too small to read there gets the smallest
    larger paper on which it is not.

    Args:
        texts: all words.
        size: the room's width and height on the page, in mm of the building.
        chain: width of the longest running dimension in mm of paper.
        wish: what paper is asked for.
    """
    is_wide = size[0] >= size[1]

    def rank(sheet: Sheet) -> tuple[float, ...]:
        lies = sheet.paper.width > sheet.paper.height
        return (
            sheet.lost > 0,
            sheet.scale,
            sheet.left_over > 0,
            lies != is_wide,
            sheet.left_over,
            -sheet.text,
        )

    if wish.paper != "auto":
        return _best(_places(papers_named(wish.paper), texts, size, chain, wish.way), texts, rank)
    small, middle, large = (_both(names, texts.units) for names in _AUTO[is_metric(texts.units)])
    for papers, least in ((small, _GOOD_SCALE), (middle, _LEAST_SCALE)):
        best = _best(_places(papers, texts, size, chain, wish.way), texts, rank)
        if best.scale <= least and not best.lost:
            return best

    def bulk(sheet: Sheet) -> tuple[float, ...]:
        # Sheets of one area, as A2 and A4x4, are as handy as each other.
        area = round(sheet.paper.width * sheet.paper.height / _AREA)
        return (sheet.lost > 0, sheet.scale > _LEAST_SCALE, area, *rank(sheet)[1:])

    larger = _places(large, texts, size, chain, wish.way)
    return min([best, *(_fill(place, texts) for place in larger)], key=bulk)
