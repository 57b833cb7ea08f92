"""Lengths and levels that a model states in words: property sets, quantities, storeys.

Exporters spell names and units in many ways, so names are compared without case, spaces
and punctuation, and a value may be a quantity, a number or a text with a unit.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import ifcopenshell
import ifcopenshell.util.element

from ifcgrid.domain.errors import ModelError, UnitError
from ifcgrid.domain.units import MILLIMETRES, parse_length
from ifcgrid.ifc.placement import is_chain_of_axes, placement_matrix
from ifcgrid.ifc.project import length_scale, property_in_mm, quantity_in_mm

__all__ = [
    "Statement",
    "StoreyLevels",
    "read_statements",
    "readable_mm",
    "statements_named",
    "text_of",
    "to_mm",
    "word_of",
]

_UNIT_IN_NAME = re.compile(r"[\[(]\s*(mm|cm|m|in|ft)\.?\s*[\])]\s*$", re.IGNORECASE)
_BARE_NUMBER = re.compile(r"[+-]?\s*(\d+(?:[.,]\d*)?|[.,]\d+)")
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
_ABOVE_FLOOR = re.compile(r"\s*(?:a\.?f\.?f\.?|above (?:finished )?floor)\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Statement:
    """One property or quantity: where it stands, its name as a bare word, and the entity."""

    where: str
    word: str
    entity: Any


def word_of(name: str | None) -> str:
    """A name without case, spaces and punctuation, and without a unit in brackets at its end.

    >>> word_of("Finish Ceiling-Height (mm)")
    'finishceilingheight'
    """
    return re.sub(r"[\W_]+", "", _UNIT_IN_NAME.sub("", name or "")).lower()


def _definitions(element: Any) -> Iterator[Any]:
    for relation in getattr(element, "IsDefinedBy", None) or ():
        if relation.is_a("IfcRelDefinesByProperties"):
            definition = relation.RelatingPropertyDefinition
            # A select may hold one set or, since IFC4, a bundle of them.
            yield from definition.wrappedValue if not hasattr(definition, "GlobalId") else (definition,)
    kind = ifcopenshell.util.element.get_type(element)
    if kind is not None:
        yield from kind.HasPropertySets or ()


def _members(definition: Any, where: str) -> Iterator[Statement]:
    for name in ("HasProperties", "Quantities", "HasQuantities"):
        for entity in getattr(definition, name, None) or ():
            place = f"{where}.{entity.Name}"
            if entity.is_a() in ("IfcComplexProperty", "IfcPhysicalComplexQuantity"):
                yield from _members(entity, place)
            else:
                yield Statement(where=place, word=word_of(entity.Name), entity=entity)


def read_statements(element: Any) -> list[Statement]:
    """All properties and quantities of an element, then those of its type, sorted by where they stand."""
    statements: list[Statement] = []
    for definition in _definitions(element):
        found = sorted(_members(definition, definition.Name or ""), key=lambda s: s.where)
        statements += found
    return sorted(statements, key=lambda s: s.where)


def _raw_value(entity: Any) -> Any:
    for name in ("NominalValue", "SetPointValue"):
        value = getattr(entity, name, None)
        if value is not None:
            return value.wrappedValue
    for name in ("EnumerationValues", "ListValues"):
        values: list[Any] = list(getattr(entity, name, None) or [])
        if len(values) == 1:
            return values[0].wrappedValue
    return None


def text_of(statement: Statement) -> str:
    """The statement's value as a text, "" where it has none."""
    value = _raw_value(statement.entity)
    return "" if value is None else str(value).strip()


def to_mm(statement: Statement, file: ifcopenshell.file) -> float | None:
    """The statement's value in mm, None where it says nothing.

    A number counts in its own unit, in one given in brackets in its name, or in the
    project's. A text may carry its unit; without one it counts as a number does.

    Raises:
        ModelError: a unit that cannot be, or a number that is not finite.
        UnitError: a text that is no length.
    """
    entity = statement.entity
    if entity.is_a("IfcPhysicalQuantity"):
        return quantity_in_mm(entity, file) if entity.is_a("IfcQuantityLength") else None
    value = _raw_value(entity)
    if value is None or isinstance(value, bool):
        return None
    if isinstance(value, str):
        return _text_in_mm(value, entity, file)
    named = _UNIT_IN_NAME.search(entity.Name or "")
    if named and getattr(entity, "Unit", None) is None and not _is_length(entity):
        return float(value) * float(MILLIMETRES[named[1].lower()])
    if entity.is_a("IfcPropertySingleValue"):
        return property_in_mm(entity, file)
    return float(value) * length_scale(file)


def _is_length(entity: Any) -> bool:
    value = getattr(entity, "NominalValue", None)
    return value is not None and "Length" in value.is_a()


def _text_in_mm(text: str, entity: Any, file: ifcopenshell.file) -> float | None:
    bare = _ABOVE_FLOOR.sub("", _DECIMAL_COMMA.sub(".", text.strip()))
    if not any(c.isdigit() for c in bare):
        return None  # a placeholder, "N/A", "see schedule"
    if _BARE_NUMBER.fullmatch(bare):
        named = _UNIT_IN_NAME.search(entity.Name or "")
        scale = float(MILLIMETRES[named[1].lower()]) if named else length_scale(file)
        return float(bare.replace(" ", "")) * scale
    try:
        return parse_length(bare)
    except UnitError as error:
        raise UnitError(f"{entity.Name!r} is {text!r}, which is no length") from error


class StoreyLevels:
    """Model z of the storeys of a model in mm: of their placement, which geometry follows, else Elevation."""

    def __init__(self, file: ifcopenshell.file) -> None:
        scale = length_scale(file)
        self._by_key: dict[str, float] = {}
        self._by_name: dict[str, set[float]] = {}
        for storey in file.by_type("IfcBuildingStorey"):
            if storey.ObjectPlacement is not None and is_chain_of_axes(storey.ObjectPlacement):
                z = float(placement_matrix(storey.ObjectPlacement)[2, 3]) * scale
            else:
                z = float(storey.Elevation or 0.0) * scale
            self._by_key[storey.GlobalId] = z
            self._by_name.setdefault((storey.Name or "").strip().casefold(), set()).add(z)

    def of(self, key: str) -> float | None:
        """Model z of the storey of that GlobalId."""
        return self._by_key.get(key)

    def named(self, name: str) -> float | None:
        """Model z of the one storey of that name; a prefix such as "Level: " is passed over."""
        wanted = {name.strip().casefold(), name.rpartition(":")[2].strip().casefold()}
        levels = {z for word in wanted for z in self._by_name.get(word, ())}
        return levels.pop() if len(levels) == 1 else None


def statements_named(statements: list[Statement], *words: str) -> list[Statement]:
    """The statements of any of these bare words, in the order of the words."""
    return [s for word in words for s in statements if s.word == word]


def readable_mm(statement: Statement, file: ifcopenshell.file, notes: list[str]) -> float | None:
    """`to_mm`, with what cannot be read told in `notes` instead of raised."""
    try:
        return to_mm(statement, file)
    except (ModelError, UnitError) as error:
        notes.append(f"{statement.where} is ignored: {error}")
        return None
