"""Rows as lines of STEP text."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ifcgrid.ifc.writing.rows import Block, Row, Rows
from ifcgrid.ifc.writing.step_blocks import format_blocks
from ifcgrid.ifc.writing.step_values import entity_form

__all__ = ["format_rows"]

_AT_ONCE = 200_000
"""Rows that are formatted together: enough to be quick, few enough to stay small."""

_REPEATED = frozenset(
    {
        "IfcCartesianTransformationOperator3D",
        "IfcPropertyEnumeratedValue",
        "IfcPropertyListValue",
        "IfcPropertySingleValue",
        "IfcQuantityArea",
        "IfcQuantityCount",
        "IfcQuantityLength",
        "IfcQuantityVolume",
        "IfcQuantityWeight",
    }
)
"""Classes of which room after room has the same instances but for their ids."""


def format_rows(rows: Rows, schema: str, line_end: bytes = b"\n") -> Iterator[bytes]:
    """One line a row, in pieces of some megabytes; `schema` is the schema's identifier."""
    parts: list[Row | Block] = []
    waiting = 0
    for part in rows.parts:
        parts.append(part)
        waiting += len(part.template) * part.count if isinstance(part, Block) else 1
        if waiting >= _AT_ONCE:
            yield _format_parts(parts, schema, line_end)
            parts, waiting = [], 0
    yield _format_parts(parts, schema, line_end)


def _format_parts(parts: list[Row | Block], schema: str, line_end: bytes) -> bytes:
    blocks = iter(format_blocks([p for p in parts if isinstance(p, Block)], schema, line_end))
    pieces: list[bytes] = []
    lines: list[str] = []
    known: dict[tuple[str, tuple[Any, ...]], str] = {}
    end = line_end.decode("ascii")
    for part in parts:
        if isinstance(part, Block):
            pieces += ["".join(lines).encode("ascii"), next(blocks)]
            lines = []
            continue
        row_id, entity, attributes = part
        rest = known.get((entity, attributes)) if entity in _REPEATED else None
        if rest is None:
            rest = entity_form(schema, entity).format_rest(attributes) + end
            if entity in _REPEATED:
                known[entity, attributes] = rest
        lines.append(f"#{int.__repr__(row_id)}{rest}")
    return b"".join([*pieces, "".join(lines).encode("ascii")])
