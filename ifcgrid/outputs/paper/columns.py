"""Lists in columns of text, over as many pages as they need; no entry is torn between columns."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, field

from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.text import Label, fit_text, wrap_text

__all__ = ["LINE", "Block", "flow_blocks", "set_blocks"]

LINE = 1.28
"""From baseline to baseline, in font sizes."""

_GAP = 0.55
_CONTINUED = " (continued)"
_WHOLE = 9
"""A block of at most so many entries is not torn between pages where less than half of it would stay."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A heading and its lines, to be wrapped into a column."""

    title: str
    lines: Sequence[str] = field(default=())


class _Columns:
    """Where the next line goes: a column and the y of its upper edge."""

    def __init__(self, columns: Sequence[Box], step: float) -> None:
        self.columns, self.step = columns, step
        self.index = 0
        self.y = columns[0].top if columns else 0.0

    @property
    def box(self) -> Box:
        return self.columns[self.index]

    @property
    def is_full(self) -> bool:
        return self.index >= len(self.columns)

    @property
    def is_at_top(self) -> bool:
        return not self.is_full and self.y <= self.box.top

    def make_room(self, lines: float) -> bool:
        """Go to the first column in which so many lines follow; False when there is none."""
        while not self.is_full and self.y + lines * self.step > self.box.bottom:
            self.index += 1
            self.y = 0.0 if self.is_full else self.box.top
        return not self.is_full


def set_blocks(
    canvas: Canvas | None, blocks: Sequence[Block], columns: Sequence[Box], size: float
) -> list[Block]:
    """Set blocks into columns, one after the other; returns what found no place, in order.

    A heading stays with its first entry. A block that goes on elsewhere has "(continued)" in
    its heading. Without a canvas nothing is drawn.

    Args:
        canvas: where to draw.
        blocks: headings with their entries.
        columns: boxes in mm, of one width.
        size: font size in mm.
    """
    place = _Columns(columns, size * LINE)
    for number, block in enumerate(blocks):
        # On an empty page it is torn all the same: it would find no more room on the next.
        is_begun = place.index > 0 or not place.is_at_top
        if is_begun and len(block.lines) <= _WHOLE:
            rest = _set_block(None, block, copy(place), size)
            if rest is not None and 2 * len(rest.lines) > len(block.lines):
                return list(blocks[number:])
        left = _set_block(canvas, block, place, size)
        if left is not None:
            return [left, *blocks[number + 1 :]]
    return []


def _set_block(canvas: Canvas | None, block: Block, place: _Columns, size: float) -> Block | None:
    if place.is_full:
        return block
    width = place.columns[0].width
    most = max(1, int(place.box.height / place.step) - 2)
    parts = _parts(block, width, size, most)
    gap = 0.0 if place.is_at_top else _GAP
    if not place.make_room(gap + 1 + (len(parts[0][1]) if parts else 0)):
        return block
    place.y += gap * place.step if not place.is_at_top else 0.0
    title = fit_text(block.title, width, size, is_bold=True)
    _set_line(canvas, title, place, size, is_bold=True)
    for done, (entry, texts) in enumerate(parts):
        if not place.make_room(len(texts)):
            of_entry = [text for k, part in parts[done:] if k == entry for text in part]
            rest = [" ".join(text.strip() for text in of_entry), *block.lines[entry + 1 :]]
            return Block(title=block.title.removesuffix(_CONTINUED) + _CONTINUED, lines=rest)
        for text in texts:
            _set_line(canvas, text, place, size)
    return None


def _parts(block: Block, width: float, size: float, most: int) -> list[tuple[int, list[str]]]:
    """Each entry's number and its lines; one that no column could hold comes in parts of `most` lines."""
    wrapped = [wrap_text(line, width, size) for line in block.lines]
    return [(k, lines[i : i + most]) for k, lines in enumerate(wrapped) for i in range(0, len(lines), most)]


def _set_line(
    canvas: Canvas | None, text: str, place: _Columns, size: float, *, is_bold: bool = False
) -> None:
    if canvas is not None:
        canvas.put(Label(x=place.box.left, y=place.y + size, text=text, size=size, is_bold=is_bold))
    place.y += place.step


def flow_blocks(canvas: Canvas | None, blocks: Sequence[Block], columns: Sequence[Box], size: float) -> int:
    """Set blocks into columns, one after the other, and return how many lines found no place.

    Without a canvas nothing is drawn: the number tells whether the text would fit.
    """
    left = set_blocks(canvas, blocks, columns, size)
    width = columns[0].width if columns else 0.0
    return sum(1 + sum(len(wrap_text(line, width, size)) for line in block.lines) for block in left)
