"""Blocks of rows as STEP text, all blocks of one shape together.

A thousand rooms bring thousands of small blocks whose templates differ only in constants
(a placement, a name). They are put together, their columns become columns of characters,
and the joined text is cut again where one block ends and the next begins.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.ifc.writing.rows import Block, Column, Own
from ifcgrid.ifc.writing.step_columns import Characters, format_column, format_ids
from ifcgrid.ifc.writing.step_values import entity_form, format_value

__all__ = ["format_blocks"]

_Piece = bytes | Characters
"""A part of all lines: the same for all, or one row of characters for each item."""


def format_blocks(blocks: Sequence[Block], schema: str, line_end: bytes) -> list[bytes]:
    """The lines of each block."""
    groups: dict[Any, list[int]] = {}
    for place, block in enumerate(blocks):
        if not block.count:
            continue
        groups.setdefault(_shape(block), []).append(place)
    found = [b""] * len(blocks)
    for places in groups.values():
        alike = [blocks[p] for p in places]
        for place, text in zip(places, _Alike(alike, schema, line_end).format(), strict=True):
            found[place] = text
    return found


def _shape(block: Block) -> Any:
    """What blocks that are formatted together have in common."""
    return tuple((entity, tuple(map(_kind, attributes))) for entity, attributes in block.template)


def _kind(attribute: Any) -> Any:
    if isinstance(attribute, Column):
        values = attribute.values
        return ("column", values.dtype.kind, values.shape[1:]) if isinstance(values, np.ndarray) else "column"
    if type(attribute) is Own:
        return ("own", int(attribute))
    if type(attribute) is tuple and any(isinstance(v, Column | Own) for v in attribute):
        return tuple(map(_kind, attribute))
    return None


class _Alike:
    """Blocks of one shape."""

    def __init__(self, blocks: Sequence[Block], schema: str, line_end: bytes) -> None:
        self.blocks = blocks
        self.schema = schema
        self.line_end = line_end
        self.counts = np.array([b.count for b in blocks])
        self.width = len(blocks[0].template)
        starts = np.cumsum(self.counts) - self.counts
        base = np.repeat([b.first for b in blocks] - starts * self.width, self.counts)
        self.base: NDArray[np.int64] = base + np.arange(len(base)) * self.width
        self._ids: dict[int, Characters] = {}

    def format(self) -> list[bytes]:
        """The lines of each block."""
        lines = _join(self._pieces(), len(self.base))
        ends = np.cumsum(self.counts).tolist()
        return [
            lines[begin:end].tobytes().translate(None, b"\0")
            for begin, end in zip([0, *ends[:-1]], ends, strict=True)
        ]

    def _pieces(self) -> list[_Piece]:
        found: list[_Piece] = []
        for row in range(self.width):
            form = entity_form(self.schema, self.blocks[0].template[row][0])
            padded = [form.padded(b.template[row][1]) for b in self.blocks]
            found += [self._own(row), f"={form.name}(".encode()]
            for place, is_real in enumerate(form.is_real):
                found += [b","] if place else []
                found += self._value([values[place] for values in padded], is_real)
            found.append(b");" + self.line_end)
        return found

    def _own(self, row: int) -> Characters:
        if row not in self._ids:
            self._ids[row] = format_ids(self.base + row)
        return self._ids[row]

    def _value(self, values: Sequence[Any], is_real: bool) -> list[_Piece]:
        """One attribute of all blocks."""
        first = values[0]
        if type(first) is Own:
            return [self._own(int(first))]
        if isinstance(first, Column):
            return [format_column(_together([v.values for v in values]), is_real)]
        if type(first) is tuple and any(isinstance(v, Column | Own) for v in first):
            found: list[_Piece] = [b"("]
            for place in range(len(first)):
                found += [b","] if place else []
                found += self._value([v[place] for v in values], is_real)
            return [*found, b")"]
        texts = [format_value(v, is_real).encode("ascii") for v in values]
        if texts.count(texts[0]) == len(texts):
            return [texts[0]]
        array = np.repeat(np.array(texts, dtype=np.bytes_), self.counts)
        return [array.view(np.uint8).reshape(len(array), -1)]


def _together(columns: Sequence[Any]) -> Any:
    if isinstance(columns[0], np.ndarray):
        return np.concatenate(columns)
    return list(chain.from_iterable(columns))


def _join(pieces: Sequence[_Piece], rows: int) -> Characters:
    """All pieces side by side."""
    widths = [len(p) if isinstance(p, bytes) else p.shape[1] for p in pieces]
    lines = np.empty((rows, sum(widths)), dtype=np.uint8)
    begin = 0
    for piece, width in zip(pieces, widths, strict=True):
        part = np.frombuffer(piece, dtype=np.uint8) if isinstance(piece, bytes) else piece
        lines[:, begin : begin + width] = part
        begin += width
    return lines
