"""Rows as lines of STEP text."""

from __future__ import annotations

from collections.abc import Iterator

from ifcgrid.ifc.writing.rows import Rows
from ifcgrid.ifc.writing.step_values import entity_form

__all__ = ["format_rows"]

_AT_ONCE = 20_000


def format_rows(rows: Rows, schema: str, line_end: bytes = b"\n") -> Iterator[bytes]:
    """One line a row, in pieces of some megabytes; `schema` is the schema's identifier."""
    lines: list[str] = []
    for row_id, entity, attributes in rows:
        lines.append(entity_form(schema, entity).format(row_id, attributes))
        if len(lines) == _AT_ONCE:
            yield _joined(lines, line_end)
            lines = []
    yield _joined(lines, line_end)


def _joined(lines: list[str], line_end: bytes) -> bytes:
    return "".join([f"{line}\n" for line in lines]).encode("ascii").replace(b"\n", line_end)
