"""The schemas' own property sets of members, accessories, parts, anchors, openings and assemblies.

Names, types of values and what each set applies to are those of the published templates
(checked against those that ifcopenshell ships in
`tests/roundtrip/test_rules.py`). Decisions of ours:

- Status is NEW: what is written is to be built. IFC2X3 has no such property.
- LoadBearing is FALSE: a ceiling's grid is no part of the building's structure, and filters
  for structure go by this property.
- Span is that of tees, which span from carrier to carrier; how far a main spans depends on
  its hangers and is not stated. Slope and Roll are 0: ceilings are level, sections upright.
- The space itself is left as it is: Qto_SpaceBaseQuantities.FinishCeilingHeight is the
  architect's, and a later run would take our own word for evidence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.mapping import Part, find_names
from ifcgrid.ifc.writing.rows import Ref, Typed
from ifcgrid.ifc.writing.sets import Choice, Value
from ifcgrid.ifc.writing.shapes import same_length

__all__ = ["add_common", "add_member_common", "status"]

_COMMON = {
    "IfcDiscreteAccessory": "Pset_ElementComponentCommon",
    "IfcMechanicalFastener": "Pset_ElementComponentCommon",
    "IfcBuildingElementPart": "Pset_ElementComponentCommon",
    "IfcElementAssembly": "Pset_ElementAssemblyCommon",
    "IfcOpeningElement": "Pset_OpeningElementCommon",
}

_SINCE_2X3 = "Pset_OpeningElementCommon"
"""Of these the only set that IFC2X3 has."""

_TEES = (Part.CROSS_TEE, Part.SECOND_TEE)


def status(book: Book) -> dict[str, Value]:
    """The property Status where the schema has it."""
    return {"Status": Choice("NEW")} if find_names(book.context.schema).has_status else {}


def add_common(
    book: Book,
    owner: str,
    part: Part,
    reference: str,
    elements: Sequence[Ref],
    more: Mapping[str, Value] | None = None,
    key: str = "",
) -> None:
    """The common set of elements that are no members, where the schema has one for their class."""
    name = _COMMON[book.mapping(part).entity]
    if not elements or (book.context.schema == "IFC2X3" and name != _SINCE_2X3):
        return
    values = {"Reference": Typed("IfcIdentifier", reference), **status(book), **(more or {})}
    key = key or f"{part}/{reference}"
    made = book.sets.properties(owner, name, values, key)
    book.sets.relate(owner, f"common/{key}", elements, made)


def add_member_common(
    book: Book, owner: str, part: Part, reference: str, lengths: Sequence[float], elements: Sequence[Ref]
) -> None:
    """Pset_MemberCommon of members of one part; tees of equal length share one with their span."""
    if part not in _TEES:
        _add_member_set(book, owner, part.value, reference, None, elements)
        return
    by_span: dict[float, list[Ref]] = {}
    for length, element in zip(lengths, elements, strict=True):
        by_span.setdefault(same_length(length), []).append(element)
    for span, group in sorted(by_span.items()):
        _add_member_set(book, owner, f"{part}/{span:.3f}", reference, span, group)


def _add_member_set(
    book: Book, owner: str, key: str, reference: str, span: float | None, elements: Sequence[Ref]
) -> None:
    names = find_names(book.context.schema)
    values: dict[str, Value] = {"Reference": Typed("IfcIdentifier", reference), **status(book)}
    if span is not None:
        values["Span"] = Typed("IfcPositiveLengthMeasure", book.context.length(span))
    values["Slope"] = Typed("IfcPlaneAngleMeasure", 0.0)
    if names.has_status:
        values["Roll"] = Typed("IfcPlaneAngleMeasure", 0.0)
    values["IsExternal"] = Typed("IfcBoolean", False)
    values["LoadBearing"] = Typed("IfcBoolean", False)
    made = book.sets.properties(owner, "Pset_MemberCommon", values, key)
    book.sets.relate(owner, f"common/{key}", elements, made)
