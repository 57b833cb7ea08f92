"""Places the words of a plan where none meets another: numbers, tags of axes, room tags, dimensions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely.geometry.base import BaseGeometry

from ifcgrid.outputs.paper.sheet import LEAST_TEXT, View, widest
from ifcgrid.outputs.paper.svg import Box, Canvas, Label, centre_label, fit_text
from ifcgrid.outputs.plan.content import Storey, find_things
from ifcgrid.outputs.plan.dimensions import place_dimensions
from ifcgrid.outputs.plan.drawing import Mark, Part, Tag, Thing
from ifcgrid.outputs.plan.fit import Fit
from ifcgrid.outputs.plan.kinds import CeilingKinds, tag_wishes
from ifcgrid.outputs.plan.paint import letter_of, words_of
from ifcgrid.outputs.plan.symbols import corners_of
from ifcgrid.outputs.plan.tag import place_tag

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
    board.reserve(Box(0.0, 0.0, board.page.right, fit.plan.top - 6.0))
    board.reserve(Box(0.0, fit.plan.bottom + 6.0, board.page.right, board.page.bottom))
    board.reserve(Box(fit.plan.right + 3.0, 0.0, board.page.right, board.page.bottom))
    outside = _outside(view, storey, fit)
    left: list[str] = []
    tags: list[Tag] = []
    for wish in tag_wishes(storey, kinds):
        tag, is_whole = place_tag(board, view, wish, marks, outside)
        tags += [tag] if tag is not None else []
        if not is_whole:
            left.append(", ".join(text for _, text in wish.lines))
    for ceiling in storey.ceilings:
        lines, missing = place_dimensions(board, view, ceiling, storey.units, marks)
        things += lines
        if missing:
            names = "+".join(room.number or room.name for room in ceiling.zone.rooms)
            left.append(f"{names}: borders not drawn for want of space: {', '.join(missing)}")
    return (*things, *tags), left


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
