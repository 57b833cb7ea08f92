"""Takes elements out of a model without leaving anything behind.

Used for what an earlier run wrote, and for an architect's ceiling that is to be replaced.
Relations lose the removed members and go when they lose an end; then everything that only
the removed referred to goes too: shapes, placements, sets, styles, materials. What anybody
else still refers to stays, and so do contexts, units and owner histories of the model.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import ifcopenshell

from ifcgrid.ifc.identity import ADOPTED, MARKER_SET, is_our_interference
from ifcgrid.ifc.writing.mapping import find_names
from ifcgrid.ifc.writing.provenance import KEY

__all__ = ["Removed", "remove_ceilings", "remove_elements"]

_OUR_TAG = re.compile(
    r"(main_runner|cross_tee|second_tee|wall_angle|panel"
    r"|hanger|trapeze|brace|wire|stabiliser|anchor)(/[^/]+)+"
)
"""The tags of parts that we make; of the last row some name what they belong to."""

_KEPT = (
    "IfcRepresentationContext",
    "IfcOwnerHistory",
    "IfcNamedUnit",
    "IfcDerivedUnit",
    "IfcMonetaryUnit",
    "IfcObjectDefinition",
)
_HANGERS_ON = ("IfcStyledItem", "IfcPresentationLayerAssignment", "IfcMaterialDefinitionRepresentation")
"""Entities that refer to a thing only to decorate it, and go with it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Removed:
    """What was removed: the number of elements, and the provenance that stood there, by the zone's key."""

    elements: int
    provenance: Mapping[str, Mapping[str, str]]


def remove_ceilings(file: ifcopenshell.file) -> Removed:
    """Removes all that an earlier run of ifcgrid wrote; adopted ceilings stay and lose our set."""
    markers = [p for p in file.by_type("IfcPropertySet") if p.Name == MARKER_SET]
    told: dict[str, dict[str, str]] = {}
    roots: list[Any] = []
    for marker in markers:
        values = {p.Name: p.NominalValue.wrappedValue for p in marker.HasProperties if p.NominalValue}
        roots.append(marker)
        types = _inverse(marker, "DefinesType")
        roots += types
        if KEY in values and not types:
            told[values[KEY]] = {n: str(v) for n, v in values.items()}
        if values.get(ADOPTED) is True:
            continue
        for relation in (*_inverse(marker, "DefinesOccurrence"), *_inverse(marker, "PropertyDefinitionOf")):
            roots += [e for o in relation.RelatedObjects for e in _with_parts(o)]
    roots += _interferences(file)
    count = len({e.id() for e in roots if e.is_a("IfcProduct")})
    _remove(file, roots, has_contexts=True)
    return Removed(elements=count, provenance=told)


def remove_elements(file: ifcopenshell.file, elements: Iterable[Any]) -> None:
    """Removes elements with their parts and openings; their types stay."""
    _remove(file, [e for element in elements for e in _with_parts(element, is_all=True)])


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
            if is_all or _OUR_TAG.fullmatch(getattr(part, "Tag", None) or ""):
                yield from _with_parts(part, is_all)


def _remove(file: ifcopenshell.file, roots: Iterable[Any], has_contexts: bool = False) -> None:
    dead: dict[int, Any] = {e.id(): e for e in roots}
    if not dead:
        return
    _thin_relations(file, dead)
    _spread(file, dead)
    contexts = _lonely_contexts(file, dead) if has_contexts else []
    # Who refers goes before what is referred to: removing the referred first would rewrite every referrer.
    for entity in [*dead.values(), *contexts]:
        file.remove(entity)


def _thin_relations(file: ifcopenshell.file, dead: dict[int, Any]) -> None:
    """Takes the dead out of relations; relations without an end are put before what they relate."""
    relations = {r.id(): r for e in dead.values() for r in file.get_inverse(e) if r.is_a("IfcRelationship")}
    ended: dict[int, Any] = {}
    for key in sorted(relations):
        relation = relations[key]
        thinned = {}
        for index, value in enumerate(relation):
            if isinstance(value, tuple) and value and isinstance(value[0], ifcopenshell.entity_instance):
                left = [v for v in value if v.id() not in dead]
                if not left:
                    ended[key] = relation
                elif len(left) < len(value):
                    thinned[index] = left
            elif isinstance(value, ifcopenshell.entity_instance) and value.id() in dead:
                ended[key] = relation
        if key not in ended:
            for index, left in thinned.items():
                relation[index] = left
    roots = list(dead.items())
    dead.clear()
    dead.update(ended)
    dead.update(roots)


def _references(entity: Any) -> Iterator[Any]:
    for value in entity:
        if isinstance(value, ifcopenshell.entity_instance):
            if value.id():
                yield value
        elif isinstance(value, tuple):
            yield from _references(value)


def _is_kept(entity: Any) -> bool:
    return any(entity.is_a(kept) for kept in _KEPT)


def _spread(file: ifcopenshell.file, dead: dict[int, Any]) -> None:
    """Adds to the dead, in order, all that only the dead refer to."""
    waiting = list(dead.values())
    pending: dict[int, set[int]] = {}
    while waiting:
        entity = waiting.pop()
        for child in {c.id(): c for c in _references(entity)}.values():
            key = child.id()
            if key in dead or _is_kept(child):
                continue
            if key not in pending:
                pending[key] = {i.id() for i in file.get_inverse(child)}
            pending[key].discard(entity.id())
            decorations = [file.by_id(i) for i in sorted(pending[key])] if len(pending[key]) < 4 else [None]
            if all(d is not None and any(d.is_a(h) for h in _HANGERS_ON) for d in decorations):
                for decoration in decorations:
                    _undecorate(decoration, key, dead, waiting)
                dead[key] = child
                waiting.append(child)


def _undecorate(decoration: Any, key: int, dead: dict[int, Any], waiting: list[Any]) -> None:
    """A layer loses the item and goes with its last one; a style's link to the item goes."""
    if decoration.is_a("IfcPresentationLayerAssignment"):
        left = [i for i in decoration.AssignedItems if i.id() != key]
        if left:
            decoration.AssignedItems = left
            return
    dead[decoration.id()] = decoration
    waiting.append(decoration)


def _lonely_contexts(file: ifcopenshell.file, dead: Mapping[int, Any]) -> list[Any]:
    """Sub-contexts that only the dead used and that came with them (their ids are above the least dead)."""
    first = min(dead)
    return [
        c
        for c in file.by_type("IfcGeometricRepresentationSubContext")
        if c.id() > first and all(i.id() in dead for i in file.get_inverse(c))
    ]
