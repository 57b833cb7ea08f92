"""The class of a ceiling as a reference, one for the whole model; what the model has is used again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.classification import Classification
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.rows import Ref

__all__ = ["add_classification"]

NOT_STATED = "not stated"
"""What stands for publisher and edition where IFC2X3 asks for them and the plan does not say."""


def add_classification(
    book: Book, ceiling: Ceiling, coverings: Mapping[str, Ref], assembly: Ref | None
) -> None:
    """Relates the ceilings of a zone to their classes; the grid instead where no ceiling is ours."""
    by_class: dict[Classification, list[Ref]] = {}
    for room, own in zip(ceiling.zone.rooms, ceiling.classification, strict=False):
        element = coverings.get(room.key, assembly)
        if own is not None and element is not None and element not in by_class.get(own, ()):
            by_class.setdefault(own, []).append(element)
    for own, elements in by_class.items():
        reference = _reference(book, own)
        key = f"classification/{own.system}/{own.code}"
        book.relation("IfcRelAssociatesClassification", ceiling.key, key, tuple(elements), reference)


def _reference(book: Book, own: Classification) -> Ref:
    found = book.context.classes.get((own.system, own.code)) or book.references.get(own)
    if found is None:
        source = book.context.classes.get((own.system, "")) or book.references.get(_whole(own))
        if source is None:
            source = book.rows.add("IfcClassification", *_system(book, own))
            book.references[_whole(own)] = source
        tail: Sequence[Any] = (None, own.code, own.name or None, source)
        found = book.references[own] = book.rows.add("IfcClassificationReference", *tail)
    book.classified[found] = own.code
    return found


def _whole(own: Classification) -> Classification:
    return Classification(system=own.system, code="")


def _system(book: Book, own: Classification) -> tuple[str | None, ...]:
    """Source, Edition, EditionDate and Name; the first two are a must in IFC2X3."""
    if book.context.schema == "IFC2X3":
        return (own.source or NOT_STATED, own.edition or NOT_STATED, None, own.system)
    return (own.source or None, own.edition or None, None, own.system)
