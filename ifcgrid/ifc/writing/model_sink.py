"""The sink that adds rows to an open model."""

from __future__ import annotations

from typing import Any

import ifcopenshell

from ifcgrid.ifc.writing.rows import DERIVED, Ref, Rows, Typed

__all__ = ["write_rows"]


def write_rows(file: ifcopenshell.file, rows: Rows) -> None:
    """Adds all rows to an open model, with the ids they have.

    Raises:
        ValueError: an id is already taken (the rows were made for another state of the model).
    """
    taken = set(file.entity_names())
    if clash := next((row_id for row_id in range(rows.first, rows.first + len(rows)) if row_id in taken), 0):
        raise ValueError(f"#{clash} is already in the model; compile the rows again")
    made: dict[int, Any] = {}

    def convert(value: Any) -> Any:
        kind = type(value)
        if kind is Ref:
            found = made.get(value)
            if found is None:
                found = made[value] = file.by_id(int(value))
            return found
        if kind is tuple:
            return [convert(v) for v in value]
        if kind is Typed:
            return file.create_entity(value.name, value.value)
        return None if value is DERIVED else value

    create = file.create_entity
    for row_id, entity, attributes in rows:
        end = len(attributes)
        while end and attributes[end - 1] is None:
            end -= 1
        made[row_id] = create(entity, *map(convert, attributes[:end]), id=int(row_id))
