"""Takes elements out of a model without leaving anything behind.

Used for what an earlier run wrote, and for an architect's ceiling that is to be replaced.
What goes with them is worked out in `ifcgrid.ifc.writing.removal`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass
from typing import Any

import ifcopenshell

from ifcgrid.ifc.fingerprint import FINGERPRINT_SET
from ifcgrid.ifc.identity import ADOPTED, MARKER_SET, OUR_TAG, is_our_interference
from ifcgrid.ifc.writing.mapping import find_names
from ifcgrid.ifc.writing.provenance import KEY
from ifcgrid.ifc.writing.removal import Removal

__all__ = ["Removed", "remove_ceilings", "remove_elements", "take_ceilings", "take_elements"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Removed:
    """What was removed: the number of elements, and the provenance that stood there, by the zone's key."""

    elements: int
    provenance: Mapping[str, Mapping[str, str]]


def remove_ceilings(file: ifcopenshell.file) -> Removed:
    """Removes all that an earlier run of ifcgrid wrote; adopted ceilings stay and lose our set."""
    removal = Removal(file)
    removed = take_ceilings(file, removal)
    removal.apply()
    return removed


def take_ceilings(
    file: ifcopenshell.file,
    removal: Removal,
    more: Iterable[Any] = (),
    kept: Set[int] = frozenset(),
) -> Removed:
    """Adds to a removal all that an earlier run of ifcgrid wrote; nothing is removed yet.

    `more` are elements of ours wherever somebody put them; `kept` are ids of what stays.
    """
    markers = [p for p in file.by_type("IfcPropertySet") if p.Name in (MARKER_SET, FINGERPRINT_SET)]
    told: dict[str, dict[str, str]] = {}
    roots: list[Any] = [e for element in more for e in _with_parts(element)]
    for marker in markers:
        if any(kind.id() in kept for kind in _inverse(marker, "DefinesType")):
            continue
        roots.append(marker)
        if marker.Name == FINGERPRINT_SET:
            continue
        values = {p.Name: p.NominalValue.wrappedValue for p in marker.HasProperties if p.NominalValue}
        types = _inverse(marker, "DefinesType")
        roots += types
        if KEY in values and not types:
            told[values[KEY]] = {n: str(v) for n, v in values.items()}
        if values.get(ADOPTED) is True:
            continue
        for relation in (*_inverse(marker, "DefinesOccurrence"), *_inverse(marker, "PropertyDefinitionOf")):
            roots += [e for o in relation.RelatedObjects for e in _with_parts(o)]
    roots = [e for e in (*roots, *_interferences(file)) if e.id() not in kept]
    count = len({e.id() for e in roots if e.is_a("IfcProduct")})
    removal.take(roots, has_contexts=True)
    return Removed(elements=count, provenance=told)


def remove_elements(file: ifcopenshell.file, elements: Iterable[Any]) -> None:
    """Removes elements with their parts and openings; their types stay."""
    removal = Removal(file)
    take_elements(elements, removal)
    removal.apply()


def take_elements(elements: Iterable[Any], removal: Removal) -> None:
    """Adds to a removal elements with their parts and openings."""
    removal.take(e for element in elements for e in _with_parts(element, is_all=True))


def _interferences(file: ifcopenshell.file) -> list[Any]:
    """Our relations between elements of others; those with an end of ours go with it."""
    if not find_names(file.schema).has_interference:
        return []
    project = file.by_type("IfcProject")[0].GlobalId
    return [r for r in file.by_type("IfcRelInterferesElements") if is_our_interference(r, project)]


def _inverse(entity: Any, name: str) -> list[Any]:
    return list(getattr(entity, name, None) or ())


def _with_parts(element: Any, is_all: bool = False) -> Iterator[Any]:
    """An element, its openings and its parts; of our own elements only parts that we made."""
    yield element
    for relation in _inverse(element, "HasOpenings"):
        yield relation.RelatedOpeningElement
    for relation in _inverse(element, "IsDecomposedBy"):
        for part in relation.RelatedObjects:
            if is_all or OUR_TAG.fullmatch(getattr(part, "Tag", None) or ""):
                yield from _with_parts(part, is_all)
