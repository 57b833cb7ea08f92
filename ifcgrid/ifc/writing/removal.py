"""What has to go with some entities so that nothing is left behind, before anything is touched.

Relations lose the removed members and go when they lose an end; then everything that only
the removed referred to goes too: shapes, placements, sets, styles, materials. What anybody
else still refers to stays, and so do contexts, units and owner histories of the model.

A `Removal` only says what is to be done, so that a sink can do it in an open model or in
the text of a file.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import ifcopenshell

__all__ = ["Removal"]

_KEPT = (
    "IfcRepresentationContext",
    "IfcOwnerHistory",
    "IfcNamedUnit",
    "IfcDerivedUnit",
    "IfcMonetaryUnit",
    "IfcObjectDefinition",
    "IfcClassificationReference",
    "IfcClassification",
)
_HANGERS_ON = ("IfcStyledItem", "IfcPresentationLayerAssignment", "IfcMaterialDefinitionRepresentation")
"""Entities that refer to a thing only to decorate it, and go with it."""

_COME_ALONG = (
    "IfcGeometricRepresentationSubContext",
    "IfcSIUnit",
    "IfcClassificationReference",
    "IfcClassification",
)
"""What is kept, unless it came with what goes and nothing else uses it; who refers comes first."""

_ASSIGNED_ITEMS = 2
"""The place of AssignedItems among the attributes of IfcPresentationLayerAssignment."""


class Removal:
    """Entities that are to go, and the lists of others that lose them; the model is not touched.

    Args:
        file: the open model.
    """

    def __init__(self, file: ifcopenshell.file) -> None:
        self._file = file
        self._dead: dict[int, Any] = {}
        self._changes: dict[tuple[int, int], list[Any]] = {}

    @property
    def dead(self) -> Mapping[int, Any]:
        """What goes, by id; who refers comes before what is referred to."""
        return self._dead

    @property
    def changes(self) -> Mapping[tuple[int, int], Sequence[Any]]:
        """Lists of entities that stay, by id and place of the attribute: what is left in them."""
        return {key: left for key, left in self._changes.items() if key[0] not in self._dead}

    def take(self, roots: Iterable[Any], *, has_contexts: bool = False) -> None:
        """Adds entities to what goes, with all that goes with them.

        With `has_contexts` also contexts, units and classes that came with them (their ids are above
        the least of theirs) and that nothing else uses.
        """
        taken = {e.id(): e for e in roots if e.id() not in self._dead}
        if not taken:
            return
        before = len(self._dead)
        self._thin_relations(taken)
        self._spread(list(self._dead.values())[before:])
        if has_contexts:
            first = min(list(self._dead)[before:])
            for kind in _COME_ALONG:
                self._dead |= {c.id(): c for c in self._lonely(kind, first)}

    def loosen(self, pairs: Iterable[tuple[Any, Any]]) -> None:
        """Takes elements that stay out of relations, given as pairs; a relation without an end goes."""
        ended: list[Any] = []
        for relation, element in pairs:
            if relation.id() in self._dead:
                continue
            for place, stated in enumerate(relation):
                value = self._changes.get((relation.id(), place), stated)
                if isinstance(value, tuple | list) and any(v == element for v in value):
                    left = [v for v in value if v != element]
                    if left:
                        self._changes[relation.id(), place] = left
                    else:
                        self._dead[relation.id()] = relation
                elif _is_entity(value) and value == element:
                    self._dead[relation.id()] = relation
            if relation.id() in self._dead:
                ended.append(relation)
        self._spread(ended)

    def apply(self) -> None:
        """Does it in the open model."""
        for (key, place), left in self.changes.items():
            self._file.by_id(key)[place] = left
        # Who refers goes first: removing what is referred to before would rewrite every referrer.
        for entity in self._dead.values():
            self._file.remove(entity)
        self._dead, self._changes = {}, {}

    def _referrers(self, entity: Any) -> list[Any]:
        """Those that stay."""
        return [i for i in self._file.get_inverse(entity) if i.id() not in self._dead]

    def _thin_relations(self, taken: Mapping[int, Any]) -> None:
        """Takes the roots out of relations; relations without an end are put before what they relate."""
        gone = self._dead.keys() | taken.keys()
        relations = {
            r.id(): r for e in taken.values() for r in self._referrers(e) if r.is_a("IfcRelationship")
        }
        for key in sorted(relations):
            relation = relations[key]
            thinned = {}
            for place, stated in enumerate(relation):
                value = self._changes.get((key, place), stated)
                if isinstance(value, tuple | list) and value and _is_entity(value[0]):
                    left = [v for v in value if v.id() not in gone]
                    if not left:
                        self._dead[key] = relation
                    elif len(left) < len(value):
                        thinned[key, place] = left
                elif _is_entity(value) and value.id() in gone:
                    self._dead[key] = relation
            if key not in self._dead:
                self._changes |= thinned
        self._dead |= taken

    def _spread(self, waiting: list[Any]) -> None:
        """Adds, in order, all that only what goes refers to."""
        pending: dict[int, set[int]] = {}
        while waiting:
            entity = waiting.pop()
            for child in self._file.traverse(entity, max_levels=1)[1:]:
                key = child.id()
                if not key or key in self._dead or _is_kept(child):
                    continue
                if key not in pending and self._file.get_total_inverses(child) == 1:
                    self._dead[key] = child
                    waiting.append(child)
                    continue
                if key not in pending:
                    pending[key] = {i.id() for i in self._referrers(child)}
                pending[key].discard(entity.id())
                if len(pending[key]) < 4 and self._undecorate(child, pending[key], waiting):
                    self._dead[key] = child
                    waiting.append(child)

    def _undecorate(self, item: Any, left: Iterable[int], waiting: list[Any]) -> bool:
        """Whether those that still refer to an item only decorate it; then they lose it or go."""
        decorations = [self._file.by_id(i) for i in sorted(left)]
        if not all(any(d.is_a(h) for h in _HANGERS_ON) for d in decorations):
            return False
        for decoration in decorations:
            if decoration.is_a("IfcPresentationLayerAssignment"):
                # A layer loses the item and goes with its last one; a style's link to the item goes.
                place = (decoration.id(), _ASSIGNED_ITEMS)
                items = self._changes.get(place, decoration.AssignedItems)
                others = [i for i in items if i.id() != item.id()]
                if others:
                    self._changes[place] = others
                    continue
            self._dead[decoration.id()] = decoration
            waiting.append(decoration)
        return True

    def _lonely(self, kind: str, first: int) -> list[Any]:
        return [c for c in self._file.by_type(kind) if c.id() > first and not self._referrers(c)]


def _is_entity(value: Any) -> bool:
    return isinstance(value, ifcopenshell.entity_instance)


_KNOWN: dict[str, bool] = {}
"""Whether a class is kept, by its name with the schema's: schemas differ in what is a kind of what."""


def _is_kept(entity: Any) -> bool:
    name = entity.is_a(True)
    if name not in _KNOWN:
        _KNOWN[name] = any(entity.is_a(kept) for kept in _KEPT)
    return _KNOWN[name]
