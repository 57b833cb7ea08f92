"""Places the words of a plan where none meets another: numbers, tags of axes, room tags, dimensions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.sheet import LEAST_TEXT, View, widest
from ifcgrid.outputs.paper.text import Label, centre_label, fit_text
from ifcgrid.outputs.plan.content import Storey, find_things
from ifcgrid.outputs.plan.dimensions import place_dimensions
from ifcgrid.outputs.plan.drawing import DimensionLine, Mark, Part, Tag, Thing
from ifcgrid.outputs.plan.fit import Fit
from ifcgrid.outputs.plan.kinds import CeilingKinds, ceiling_wishes, omitted_wishes
from ifcgrid.outputs.plan.paint import letter_of, words_of
from ifcgrid.outputs.plan.symbols import corners_of
from ifcgrid.outputs.plan.tag import Wish, place_tag

__all__ = ["place_words"]

_FLAG_TEXT = 2.8
_TAG_TEXT = 3.0


def place_words(
    board: Canvas, view: View, storey: Storey, kinds: CeilingKinds, fit: Fit
) -> tuple[tuple[Thing, ...], list[str]]:
    """All things with their words in places where none meets another, and what found no place."""
    bare = find_things(storey, view.scale)
    marks = _reserve(board, view, bare)
    things = [_flagged(board, view, thing) for thing in bare]
    tags: list[Tag] = []
    board.reserve(Box(0.0, 0.0, board.page.right, fit.plan.top - 6.0))
    board.reserve(Box(0.0, fit.plan.bottom + 6.0, board.page.right, board.page.bottom))
    board.reserve(Box(fit.plan.right + 3.0, 0.0, board.page.right, board.page.bottom))
    outside = _outside(view, storey, fit)
    left: list[str] = []
    ceilings: list[Ceiling | None] = [*storey.ceilings, None]  # rooms without a ceiling come last
    for ceiling in ceilings:
        own = ceiling_wishes(ceiling, kinds, storey.units) if ceiling is not None else omitted_wishes(storey)
        work = _Work(
            view=view, units=storey.units, marks=marks, outside=outside, ceiling=ceiling, wishes=tuple(own)
        )
        placed = _try(board, work, True)
        if any(_lack(placed)):
            placed = min(placed, _try(board, work, False), key=_lack)
        placed.draft.keep(board)
        things += placed.lines
        tags += placed.tags
        left += placed.left
    return (*things, *tags), left


class _Draft(Canvas):
    """A page for trying: what it keeps clear does not count until it is kept."""

    def __init__(self, board: Canvas) -> None:
        super().__init__(board.page.width, board.page.height, "")
        self._board = board
        self._kept: list[Box] = []

    def is_free(self, box: Box) -> bool:
        """Whether the box is free on the board and here."""
        return super().is_free(box) and self._board.is_free(box)

    def reserve(self, box: Box) -> None:
        """Keep a box clear here."""
        self._kept.append(box)
        super().reserve(box)

    def keep(self, board: Canvas) -> None:
        """Keep clear on the board what is kept clear here."""
        for box in self._kept:
            board.reserve(box)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Work:
    """The words of one ceiling that are to be placed; rooms without a ceiling have tags only."""

    view: View
    units: str
    marks: Sequence[Box]
    outside: BaseGeometry
    ceiling: Ceiling | None
    wishes: Sequence[Wish]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Placed:
    """Words of one ceiling in their places, and what found none."""

    draft: _Draft
    lines: Sequence[DimensionLine]
    tags: Sequence[Tag]
    left: Sequence[str]
    missing: int
    short: int


def _lack(placed: _Placed) -> tuple[int, int]:
    """Tags that do not say everything count before borders without a dimension."""
    return placed.short, placed.missing


def _try(board: Canvas, work: _Work, is_tag_first: bool) -> _Placed:
    """Tags and dimensions of a ceiling, either of them first."""
    draft = _Draft(board)
    lines: list[DimensionLine] = []
    missing: list[str] = []
    if not is_tag_first and work.ceiling is not None:
        lines, missing = place_dimensions(draft, work.view, work.ceiling, work.units, work.marks)
    tags: list[Tag] = []
    left: list[str] = []
    for wish in work.wishes:
        tag, is_whole = place_tag(draft, work.view, wish, work.marks, work.outside)
        tags += [tag] if tag is not None else []
        if not is_whole:
            left.append(", ".join(text for _, text in wish.lines))
    short = len(left)
    if is_tag_first and work.ceiling is not None:
        lines, missing = place_dimensions(draft, work.view, work.ceiling, work.units, work.marks)
    if missing and work.ceiling is not None:
        names = "+".join(room.number or room.name for room in work.ceiling.zone.rooms)
        left.append(f"{names}: borders not drawn for want of space: {', '.join(missing)}")
    return _Placed(draft=draft, lines=lines, tags=tags, left=left, missing=len(missing), short=short)


def _outside(view: View, storey: Storey, fit: Fit) -> BaseGeometry:
    """Where there is no room on the paper of the plan."""
    page = shapely.box(fit.plan.left, fit.plan.top - 5.0, fit.plan.right, fit.plan.bottom + 5.0)
    rooms = [shapely.Polygon(view.rings(c.zone.outline)[0]).buffer(2.0) for c in storey.ceilings]
    rest = page.difference(shapely.union_all(rooms))
    shapely.prepare(rest)
    return rest


def _flagged(board: Canvas, view: View, thing: Thing) -> Thing:
    """A finding's pointer with its number where there is room for it."""
    if isinstance(thing, Mark) and thing.part is Part.AXIS:
        return _tagged(board, view, thing)
    if not isinstance(thing, Mark) or thing.part is not Part.FINDING:
        return thing
    ((x, y),) = view.paper([thing.point]).tolist()
    text = dict(thing.facts)["NUMBER"]
    spots = [(1.8, -0.4), (-1.8, -0.4), (1.8, 2.6), (-1.8, 2.6), (1.8, -3.4), (-1.8, -3.4)]
    label = board.put_first_free(
        Label(
            x=x + dx, y=y + dy, text=text, size=_FLAG_TEXT, anchor="start" if dx > 0 else "end", is_bold=True
        )
        for dx, dy in spots
    )
    return thing if label is None else replace(thing, words=words_of(label, view))


def _tagged(board: Canvas, view: View, mark: Mark) -> Mark:
    """An axis's circle with its tag in it."""
    ((x, y),) = view.paper([mark.point]).tolist()
    text = dict(mark.facts)["TAG"]
    size = min(_TAG_TEXT, _TAG_TEXT * 0.8 * mark.size[0] / max(widest([text], _TAG_TEXT), 0.1))
    label = centre_label(x, y, text, max(size, LEAST_TEXT))
    label = centre_label(x, y, fit_text(text, 0.9 * mark.size[0], label.size), label.size)
    if not board.is_free(label.box):
        return mark
    board.put(label)
    return replace(mark, words=words_of(label, view))


_AVOIDED = (Part.LIGHT, Part.AIR_TERMINAL, Part.SPRINKLER, Part.DETECTOR, Part.DEVICE, Part.FINDING)


def _reserve(board: Canvas, view: View, things: Sequence[Thing]) -> list[Box]:
    """Boxes of the symbols that words shall keep clear of; letters in symbols are kept clear at once."""
    marks = []
    for thing in things:
        if isinstance(thing, Mark) and thing.part in _AVOIDED:
            ring = view.paper(corners_of(thing, view.scale))
            if thing.part is Part.FINDING:
                ring = ring - [0.0, thing.size[1] / 2]
            marks.append(Box(*ring.min(axis=0).tolist(), *ring.max(axis=0).tolist()).grow(0.6))
            if (letter := letter_of(thing, view)) is not None:
                board.reserve(letter.box)
    return marks
