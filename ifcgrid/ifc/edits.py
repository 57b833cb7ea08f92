"""Finds what somebody changed by hand since the last run, by the codes that it left in the model.

Nothing is taken from a diff of two files: each element is compared with the codes of what
was written (`ifcgrid.ifc.fingerprint`), so that also a model that went through other
programs can be judged. What is equal within the tolerances counts as unchanged.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import ifcopenshell

from ifcgrid.domain.edit import Change, Edit
from ifcgrid.ifc.element_codes import TAG, ElementCodes
from ifcgrid.ifc.fingerprint import ASPECTS, CODE, ELEMENTS, FINGERPRINT_SET, OWNER, PLACE, STATE
from ifcgrid.ifc.identity import KEY, MARKER_SET, OUR_TAG, global_id

__all__ = ["Expected", "Survey", "find_edits", "survey_edits"]

_CHANGES = {
    "name": Change.RENAMED,
    "shape": Change.RESHAPED,
    "properties": Change.PROPERTIES,
    "type": Change.RETYPED,
    "assigned": Change.ASSIGNED,
    "whole": Change.REGROUPED,
}
_ORDER = list(Change)
_TEXT = re.compile(rf"[0-9A-Za-z_$]{{{CODE * len(ASPECTS)}}} #?\w+:\S{{{PLACE},}}( \S{{{PLACE},}})*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """One element as it was written: its zone, the word and the rest of its tag, its codes."""

    zone: str
    word: str
    rest: str
    codes: str
    place: str

    @property
    def part(self) -> str:
        """Its tag, or what it is."""
        return self.word[1:] if self.word.startswith("#") else f"{self.word}/{self.rest}"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Survey:
    """What was changed, and what was written, both by GlobalId; ids of what was changed and is there."""

    edits: Mapping[str, Edit]
    expected: Mapping[str, Expected]
    present: Mapping[str, int]


def find_edits(file: ifcopenshell.file) -> tuple[Edit, ...]:
    """What somebody changed by hand of what ifcgrid wrote into an open model, which is not touched."""
    return tuple(survey_edits(file).edits.values())


def survey_edits(file: ifcopenshell.file) -> Survey:
    """Compares all that ifcgrid wrote into a model with what stands there now.

    Elements that a model without codes holds (an older version wrote them) count as unchanged.
    """
    zones = [zone for s in file.by_type("IfcPropertySet") if (zone := _read_set(s)) is not None]
    if not zones:
        return Survey(edits={}, expected={}, present={})
    return _Surveyor(file).survey(zones)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _ZoneSet:
    """One zone's fingerprint set: the zone's key, the owner of its ids, its carriers, its texts."""

    key: str
    owner: str
    carriers: tuple[Any, ...]
    texts: tuple[str, ...]

    def expected(self) -> Iterator[Expected]:
        width = CODE * len(ASPECTS)
        for text in self.texts:
            codes, word = text[:width], text[width + 1 :].partition(":")[0]
            for entry in text[width + 2 + len(word) :].split(" "):
                yield Expected(
                    zone=self.key, word=word, rest=entry[:-PLACE], codes=codes, place=entry[-PLACE:]
                )


def _read_set(pset: Any) -> _ZoneSet | None:
    if pset.Name != FINGERPRINT_SET:
        return None
    told = {p.Name: p for p in pset.HasProperties}
    if not _is_whole(told.get(ELEMENTS), told.get(OWNER)):
        return None
    relations = getattr(pset, "DefinesOccurrence", None) or getattr(pset, "PropertyDefinitionOf", None) or ()
    carriers = tuple(o for r in relations for o in r.RelatedObjects)
    owner = str(told[OWNER].NominalValue.wrappedValue)
    texts = tuple(str(v.wrappedValue) for v in told[ELEMENTS].ListValues)
    return _ZoneSet(key=_zone_key(carriers) or owner, owner=owner, carriers=carriers, texts=texts)


def _is_whole(elements: Any, owner: Any) -> bool:
    """Whether the set still holds what was written; one that somebody changed is of no use."""
    if elements is None or not elements.is_a("IfcPropertyListValue") or not elements.ListValues:
        return False
    is_told = owner is not None and owner.is_a("IfcPropertySingleValue") and owner.NominalValue
    return bool(is_told) and all(_TEXT.fullmatch(str(v.wrappedValue)) for v in elements.ListValues)


def _zone_key(carriers: Iterable[Any]) -> str:
    for carrier in carriers:
        for relation in carrier.IsDefinedBy:
            pset = getattr(relation, "RelatingPropertyDefinition", None)
            if pset is not None and pset.Name == MARKER_SET and hasattr(pset, "HasProperties"):
                told = {
                    p.Name: p.NominalValue for p in pset.HasProperties if p.is_a("IfcPropertySingleValue")
                }
                return str(told[KEY].wrappedValue) if told.get(KEY) else ""
    return ""


class _Surveyor:
    def __init__(self, file: ifcopenshell.file) -> None:
        self._file = file
        self._codes = ElementCodes(file)
        self._products: dict[str, Any] | None = None

    def survey(self, zones: Sequence[_ZoneSet]) -> Survey:
        """All zones at once, for what relations say is read once."""
        expected: dict[str, Expected] = {}
        present: dict[str, Any] = {}
        edits: dict[str, Edit] = {}
        for zone in zones:
            parts = self._parts_by_tag(zone.carriers)
            for wanted in zone.expected():
                element = self._find(zone, wanted, parts)
                key = str(element.GlobalId) if element is not None else _global_id(zone, wanted)
                expected[key] = wanted
                if element is None:
                    edits[key] = Edit(zone=zone.key, part=wanted.part, key=key, changes=(Change.DELETED,))
                else:
                    present[key] = element
            for part in (p for found in parts.values() for p in found):
                key = str(part.GlobalId)
                edits[key] = Edit(zone=zone.key, part=str(part.Tag), key=key, changes=(Change.ADDED,))
                present[key] = part
        known = {k: e for k, e in present.items() if k in expected}
        edits |= self._compare(known, expected)
        for kind, edit in self._types():
            edits[edit.key], present[edit.key] = edit, kind
        return Survey(
            edits=dict(sorted(edits.items(), key=lambda item: (item[1].zone, item[1].part, item[0]))),
            expected=expected,
            present={k: int(present[k].id()) for k in edits if k in present},
        )

    def _find(self, zone: _ZoneSet, wanted: Expected, parts: dict[str, list[Any]]) -> Any | None:
        """The element, taken out of the parts where it still is among them."""
        if wanted.word.startswith("#"):
            return self._by_guid(wanted.rest)
        same = parts.get(wanted.part, [])
        if len(same) == 1:
            return parts.pop(wanted.part)[0]
        found = self._by_guid(_global_id(zone, wanted))
        for tag in (wanted.part, str(getattr(found, "Tag", None))):
            if found is not None and found in parts.get(tag, ()):
                parts[tag].remove(found)
        return found

    def _parts_by_tag(self, carriers: Iterable[Any]) -> dict[str, list[Any]]:
        """Parts of a zone's elements that bear tags of ours."""
        found: dict[str, list[Any]] = {}
        for carrier in carriers:
            for relation in getattr(carrier, "IsDecomposedBy", None) or ():
                for part in relation.RelatedObjects:
                    tag = part[TAG] if part.is_a("IfcElement") else None
                    if tag and OUR_TAG.fullmatch(tag):
                        found.setdefault(tag, []).append(part)
                        self._codes.wholes[part.id()] = carrier.ObjectPlacement
        return found

    def _by_guid(self, key: str) -> Any | None:
        if self._products is None:
            self._products = {str(p.GlobalId): p for p in self._file.by_type("IfcProduct")}
        return self._products.get(key)

    def _compare(self, present: Mapping[str, Any], expected: Mapping[str, Expected]) -> dict[str, Edit]:
        if not present:
            return {}
        said = self._codes.gather({int(e.id()) for e in present.values()})
        places = self._codes.places(list(present.values()))
        found = {}
        for (key, element), place in zip(present.items(), places, strict=True):
            wanted = expected[key]
            is_single = wanted.word.startswith("#")
            codes = self._codes.aspects(element, is_single, said.get(int(element.id())))
            changes = [Change.MOVED] if place != wanted.place else []
            if not is_single and element[TAG] != wanted.part:
                changes.append(Change.RENAMED)
            if not changes and codes == wanted.codes:
                continue
            for k, aspect in enumerate(ASPECTS):
                at = slice(k * CODE, (k + 1) * CODE)
                if codes[at] != wanted.codes[at]:
                    changes.append(_CHANGES[aspect])
            found[key] = Edit(
                zone=wanted.zone,
                part=wanted.part,
                key=key,
                changes=tuple(sorted(set(changes), key=_ORDER.index)),
            )
        return found

    def _types(self) -> Iterator[tuple[Any, Edit]]:
        """Types of ours that are not what was written."""
        for kind in self._file.by_type("IfcTypeProduct"):
            state = _state_of(kind)
            if state is None or (now := self._codes.of_type(kind)) == state:
                continue
            changes = [Change.RENAMED] * (now[:CODE] != state[:CODE])
            changes += [Change.ASSIGNED] * (now[CODE:] != state[CODE:])
            key = str(kind.GlobalId)
            yield kind, Edit(zone="", part=f"type {kind.Name}", key=key, changes=tuple(changes))


def _state_of(kind: Any) -> str | None:
    for pset in kind.HasPropertySets or ():
        if pset.Name == MARKER_SET and pset.is_a("IfcPropertySet"):
            return next(
                (str(p.NominalValue.wrappedValue) for p in pset.HasProperties if p.Name == STATE), None
            )
    return None


def _global_id(zone: _ZoneSet, wanted: Expected) -> str:
    return wanted.rest if wanted.word.startswith("#") else global_id(zone.owner, wanted.part)
