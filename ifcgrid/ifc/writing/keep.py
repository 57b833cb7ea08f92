"""Leaves elements that somebody changed by hand as they are, while all around them is written anew.

An element that was changed keeps its entity, its place, its shape and whatever else was
changed of it. In the aspects that were not changed it is led to the new sets, types and
relations. One that was deleted stays deleted; a deleted assembly comes back while any of
its parts is there, for parts belong to a whole. What is no longer in the new layout stays a
part of its zone's assembly. The rows are made as if nothing was kept, so the codes that go
with them still say what would have been written, and the next run sees the same changes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import ifcopenshell
import numpy as np

from ifcgrid.domain.edit import Change
from ifcgrid.ifc.edits import Survey
from ifcgrid.ifc.fingerprint import FINGERPRINT_SET
from ifcgrid.ifc.identity import MARKER_SET, global_id
from ifcgrid.ifc.placement import placement_matrix
from ifcgrid.ifc.writing.removal import Removal
from ifcgrid.ifc.writing.row_edits import Roots, find_roots, without_items
from ifcgrid.ifc.writing.rows import Block, Ref, Row, Rows

__all__ = ["Keeping", "find_keepable", "keep_elements"]

_ASPECT_OF = {
    "IfcRelDefinesByProperties": Change.PROPERTIES,
    "IfcRelDefinesByType": Change.RETYPED,
    "IfcRelAssociatesMaterial": Change.ASSIGNED,
    "IfcRelAssociatesClassification": Change.ASSIGNED,
    "IfcRelAggregates": Change.REGROUPED,
    "IfcRelVoidsElement": Change.REGROUPED,
    "IfcRelContainedInSpatialStructure": Change.REGROUPED,
}
"""The aspect that a relation tells of; in all others kept elements take the place of the new ones."""

_ALWAYS = (MARKER_SET, FINGERPRINT_SET)
"""Sets that are ours alone: everything that we wrote bears the new ones."""


@dataclass(slots=True, kw_only=True, eq=False)
class Keeping:
    """What stays: `kept` by GlobalId, `rows` without what is kept or stays deleted, and what is done after.

    `moves` pairs kept elements with the placement that they have to hang on; `stale` are kept
    elements that the new layout does not know.
    """

    kept: Mapping[str, Any]
    rows: Rows
    stale: frozenset[str]
    moves: list[tuple[Any, Ref]] = field(default_factory=list)
    roots: frozenset[str] = frozenset()

    def finish(self, file: ifcopenshell.file) -> None:
        """Hangs what was kept on the new placements and gives new GlobalIds to old sets; after the sink."""
        for element, target in self.moves:
            _hang_on(file, element, file.by_id(int(target)))
        for relation in {r.id(): r for e in self.kept.values() for r in file.get_inverse(e)}.values():
            if not relation.is_a("IfcRelationship") or relation.id() >= self.rows.first:
                continue
            for root in (relation, *_relating(relation)):
                if root.GlobalId in self.roots and root.id() < self.rows.first:
                    root.GlobalId = global_id(root.GlobalId, "kept")


def find_keepable(survey: Survey, wanted: Iterable[str], rows: Rows) -> set[str]:
    """Which edits can be kept: of what is written again, and parts that the new assembly can take.

    What is in no assembly (a panel, an opening, a set-out line, a type) and is not written
    again, because the layout or the detail is another one, has nothing to hang on.
    """
    roots = find_roots(rows)
    zones = set(roots.assemblies.values())
    found = set()
    for key in wanted:
        edit = survey.edits[key]
        is_part = "/" in edit.part and not edit.part.startswith("panel/")
        if key in roots.ids or (is_part and edit.zone in zones):
            found.add(key)
    return found


def keep_elements(file: ifcopenshell.file, survey: Survey, rows: Rows, removal: Removal) -> Keeping:
    """Takes kept and deleted elements out of the rows, and what is kept out of old relations.

    Args:
        file: the open model; it is not touched.
        survey: what was changed in it and is to be kept.
        rows: all rows, as if nothing was kept.
        removal: what goes; it has to know already that kept elements stay.
    """
    keeper = _Keeper(file, survey, find_roots(rows))
    done = keeper.rows(rows)
    keeper.loosen(removal)
    return Keeping(
        kept=keeper.kept,
        rows=done,
        stale=frozenset(keeper.kept) - keeper.roots.ids.keys(),
        moves=keeper.moves,
        roots=frozenset(keeper.roots.ids),
    )


class _Keeper:
    def __init__(self, file: ifcopenshell.file, survey: Survey, roots: Roots) -> None:
        self._survey = survey
        self.roots = roots
        edits = survey.edits
        self._changes = {k: frozenset(e.changes) for k, e in edits.items()}
        self.kept = {k: file.by_id(survey.present[k]) for k in edits if k in survey.present}
        self._absent = {k for k, e in edits.items() if Change.DELETED in e.changes}
        self.moves: list[tuple[Any, Ref]] = []
        self._file = file
        # Ids of rows that give way, and the kept element that takes their place, None for none.
        self._instead: dict[int, Any | None] = {
            int(i): self.kept.get(k) for k, i in roots.ids.items() if k in self.kept
        }

    def rows(self, rows: Rows) -> Rows:
        """The rows without what is kept or stays deleted."""
        self._spread_absence(rows)
        placements = self._placements()
        singles = [part for part in rows.parts if isinstance(part, Row)]
        for row in (s for s in singles if s.entity == "IfcRelDefinesByType"):
            if self._substitute(row, placements) is None:
                # A type without elements goes with the last of them.
                self._instead.setdefault(int(row.attributes[5]), None)
        parts = [part for part in without_items(rows, self._instead.keys())]
        changed = [
            self._substitute(part, placements) if isinstance(part, Row) else _on_placements(part, placements)
            for part in parts
        ]
        return rows.with_parts(_swept([part for part in changed if part is not None]))

    def _spread_absence(self, rows: Rows) -> None:
        """What belongs to a deleted covering is gone too; an assembly goes only with all of its parts."""
        ids = {int(self.roots.ids[k]): k for k in self._absent if k in self.roots.ids}
        back = {int(i): k for k, i in self.roots.ids.items()}
        for row in rows.parts:
            if not isinstance(row, Row) or row.entity not in ("IfcRelAggregates", "IfcRelVoidsElement"):
                continue
            whole, members = int(row.attributes[4]), row.attributes[5]
            if whole not in ids:
                continue
            members = members if isinstance(members, tuple) else (members,)
            keys = [back[int(m)] for m in members]
            if row.attributes[4] in self.roots.assemblies:
                if not all(k in self._absent for k in keys):
                    self._absent.discard(ids.pop(whole))
            else:
                ids |= {int(m): k for m, k in zip(members, keys, strict=True) if k not in self.kept}
        self._instead |= dict.fromkeys(ids, None)

    def _placements(self) -> dict[int, Ref]:
        """New placements of kept elements, and those that they have."""
        found = {}
        for key, element in self.kept.items():
            placement = self.roots.placements.get(key)
            if placement is not None and getattr(element, "ObjectPlacement", None) is not None:
                found[int(placement)] = Ref(element.ObjectPlacement.id())
        return found

    def _substitute(self, row: Row, placements: Mapping[int, Ref]) -> Row | None:
        """A row that refers to what stays instead of what gives way; None where it loses an end."""
        if row.entity == "IfcLocalPlacement":
            parent = row.attributes[0]
            if parent is not None and int(parent) in placements:
                return row._replace(attributes=(placements[int(parent)], *row.attributes[1:]))
            return row
        if not row.entity.startswith("IfcRel"):
            return row
        aspect = self._aspect(row)
        attributes: list[Any] = []
        for place, value in enumerate(row.attributes):
            if isinstance(value, tuple) and value and isinstance(value[0], Ref):
                left = (*self._members(value, aspect), *self._joining(row, place))
                if not left:
                    return None
                attributes.append(tuple(left))
            elif isinstance(value, Ref) and int(value) in self._instead and place >= 4:
                member = place == 5 and row.entity == "IfcRelVoidsElement"
                other = self._end(value, aspect if member else None)
                if other is None:
                    return None
                attributes.append(other)
            else:
                attributes.append(value)
        return row._replace(attributes=tuple(attributes))

    def _aspect(self, row: Row) -> Change | None:
        if row.entity == "IfcRelDefinesByProperties" and row.attributes[5] in self.roots.markers:
            return None
        return _ASPECT_OF.get(row.entity)

    def _members(self, members: Iterable[Ref], aspect: Change | None) -> Iterator[Ref]:
        for member in members:
            if int(member) not in self._instead:
                yield member
            elif (other := self._end(member, aspect)) is not None:
                yield other

    def _end(self, reference: Ref, aspect: Change | None) -> Ref | None:
        """The kept element for one that gives way, unless it goes its own way in that aspect."""
        element = self._instead[int(reference)]
        if element is None or (aspect is not None and aspect in self._changes[element.GlobalId]):
            return None
        return Ref(element.id())

    def _joining(self, row: Row, place: int) -> Iterator[Ref]:
        """Kept elements that join a relation which does not know them."""
        if row.entity == "IfcRelAggregates" and place == 5 and row.attributes[4] in self.roots.assemblies:
            zone = self.roots.assemblies[row.attributes[4]]
            for key, element in self.kept.items():
                edit = self._survey.edits[key]
                is_part = key not in self.roots.ids and edit.zone == zone and "/" in edit.part
                if is_part and Change.REGROUPED not in edit.changes and not edit.part.startswith("panel/"):
                    yield Ref(element.id())
        if row.entity == "IfcRelDefinesByType" and place == 4:
            for key, element in self.kept.items():
                is_own = key in self.roots.ids and Change.RETYPED not in self._changes[key]
                kind = None if is_own else _type_of(element)
                if kind is not None and self.roots.ids.get(kind.GlobalId) == row.attributes[5]:
                    yield Ref(element.id())

    def loosen(self, removal: Removal) -> None:
        """Takes what is kept out of old relations in the aspects that were not changed."""
        pairs = []
        for key, element in self.kept.items():
            is_stale = key not in self.roots.ids
            for relation in self._file.get_inverse(element):
                if not relation.is_a("IfcRelationship") or relation.id() in removal.dead:
                    continue
                aspect = next((a for name, a in _ASPECT_OF.items() if relation.is_a(name)), None)
                if aspect is None:
                    is_ours = relation.GlobalId in self.roots.ids
                else:
                    is_ours = aspect not in self._changes[key]
                    is_ours &= not is_stale or aspect in (Change.REGROUPED, Change.RETYPED)
                if is_ours:
                    pairs.append((relation, element))
            self._note_move(key, element)
        removal.loosen(pairs)

    def _note_move(self, key: str, element: Any) -> None:
        """A part hangs on the placement of its whole, which may be a new one."""
        if Change.REGROUPED in self._changes[key] or getattr(element, "ObjectPlacement", None) is None:
            return
        whole = self.roots.wholes.get(key)
        if whole is None and key not in self.roots.ids:
            zone = self._survey.edits[key].zone
            whole = next((a for a, z in self.roots.assemblies.items() if z == zone), None)
        if whole is None:
            return
        other = self._instead.get(int(whole))
        if other is not None:
            self.moves.append((element, Ref(other.ObjectPlacement.id())))
        elif int(whole) in self.roots.placement_of:
            self.moves.append((element, self.roots.placement_of[int(whole)]))


def _on_placements(block: Block, placements: Mapping[int, Ref]) -> Block:
    """A block whose elements hang on the placements that kept ones have."""
    template = [
        (entity, (placements.get(int(a[0] or 0), a[0]), *a[1:]))
        if entity == "IfcLocalPlacement"
        else (entity, a)
        for entity, a in block.template
    ]
    return replace(block, template=template)


def _type_of(element: Any) -> Any | None:
    for name in ("IsTypedBy", "IsDefinedBy"):
        for relation in getattr(element, name, None) or ():
            if relation.is_a("IfcRelDefinesByType"):
                return relation.RelatingType
    return None


def _relating(relation: Any) -> Iterator[Any]:
    if relation.is_a("IfcRelDefinesByProperties"):
        definition = relation.RelatingPropertyDefinition
        if definition.id():
            yield definition


def _hang_on(file: ifcopenshell.file, element: Any, target: Any) -> None:
    """Hangs a placement on another one without moving it in the model."""
    own = element.ObjectPlacement
    if own.PlacementRelTo == target:
        return
    before = own.PlacementRelTo
    old, new = (np.eye(4) if p is None else placement_matrix(p) for p in (before, target))
    if not np.allclose(old, new, rtol=0.0, atol=1e-9):
        there = np.linalg.inv(new) @ placement_matrix(own)
        own.RelativePlacement = file.create_entity(
            "IfcAxis2Placement3D",
            file.create_entity("IfcCartesianPoint", there[:3, 3].tolist()),
            file.create_entity("IfcDirection", there[:3, 2].tolist()),
            file.create_entity("IfcDirection", there[:3, 0].tolist()),
        )
    own.PlacementRelTo = target
    if before is not None and not file.get_inverse(before):
        leftover = Removal(file)
        leftover.take([before])
        leftover.apply()


def _swept(parts: list[Any]) -> list[Any]:
    """Parts without single rows that nothing leads to any more."""
    singles = {part.id: part for part in parts if isinstance(part, Row)}
    wanted = {i for p in parts for i in (_references(p) if not isinstance(p, Row) else ())}
    waiting = [p for p in singles.values() if _is_root(p.entity)]
    reached = {p.id for p in waiting}
    waiting += [singles[i] for i in wanted if i in singles and i not in reached]
    reached |= {p.id for p in waiting}
    while waiting:
        for number in _references(waiting.pop()):
            if number in singles and number not in reached:
                reached.add(number)
                waiting.append(singles[number])
    # A style leads to what it decorates; it stays with it.
    styled = [p for p in singles.values() if p.entity == "IfcStyledItem" and int(p.attributes[0]) in reached]
    for style in styled:
        reached.add(style.id)
        waiting.append(style)
    while waiting:
        for number in _references(waiting.pop()):
            if number in singles and number not in reached:
                reached.add(number)
                waiting.append(singles[number])
    return [part for part in parts if not isinstance(part, Row) or part.id in reached]


_ROOTS = ("IfcCovering", "IfcElementAssembly", "IfcGrid", "IfcAnnotation", "IfcOpeningElement")


def _is_root(entity: str) -> bool:
    is_other = entity in _ROOTS or entity in ("IfcBuildingElementProxy", "IfcVirtualElement")
    return is_other or entity.startswith("IfcRel")


def _references(part: Any) -> Iterator[int]:
    if isinstance(part, Row):
        yield from _refs_in(part.attributes)
        return
    for _, attributes in part.template:
        yield from _refs_in(attributes)


def _refs_in(value: Any) -> Iterator[int]:
    if isinstance(value, Ref):
        yield int(value)
    elif isinstance(value, tuple):
        for inner in value:
            yield from _refs_in(inner)
    elif hasattr(value, "rows"):
        for inner in value.rows():
            if isinstance(inner, Ref):
                yield int(inner)
