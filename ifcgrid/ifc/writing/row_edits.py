"""What rows hold by GlobalId, and rows without some of their elements."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from ifcgrid.ifc.fingerprint import FINGERPRINT_SET
from ifcgrid.ifc.identity import MARKER_SET, global_id
from ifcgrid.ifc.writing.provenance import KEY
from ifcgrid.ifc.writing.rows import Block, Column, Own, Ref, Row, Rows

__all__ = ["Roots", "find_roots", "renamed", "without_items"]

_GLOBAL_ID = 22
_NO_ROOTS = (
    "IfcPropertySingle",
    "IfcPropertyList",
    "IfcPropertyEnum",
    "IfcQuantity",
    "IfcMaterial",
    "IfcClassif",
    "IfcClassif",
)
"""Classes whose first attribute is a name, which may have as many letters as a GlobalId."""


@dataclass(slots=True, kw_only=True, eq=False)
class Roots:
    """Roots of rows.

    `ids` by GlobalId; `placements` of elements by GlobalId and `placement_of` by id; `wholes`
    are what elements are parts of or cut into, by GlobalId; `assemblies` give the key of
    their zone by id; `markers` are the sets that everything of ours bears.
    """

    ids: dict[str, Ref] = field(default_factory=dict)
    placements: dict[str, Ref] = field(default_factory=dict)
    placement_of: dict[int, Ref] = field(default_factory=dict)
    wholes: dict[str, Ref] = field(default_factory=dict)
    assemblies: dict[Ref, str] = field(default_factory=dict)
    markers: set[Ref] = field(default_factory=set)


def find_roots(rows: Rows) -> Roots:
    """All that has a GlobalId in rows."""
    found = Roots()
    singles = {part.id: part for part in rows.parts if isinstance(part, Row)}
    for part in rows.parts:
        if isinstance(part, Block):
            _note_block(found, part)
        elif part.attributes and _is_global_id(part.attributes[0]):
            _note_row(found, part)
    back = {int(i): k for k, i in found.ids.items()}
    for row in singles.values():
        if row.entity in ("IfcRelAggregates", "IfcRelVoidsElement"):
            found.wholes |= {back[m]: row.attributes[4] for m in _members(row) if m in back}
        if row.entity == "IfcRelDefinesByProperties" and row.attributes[5] in found.markers:
            key = _zone_key(singles, row.attributes[5])
            carriers = [singles[int(c)] for c in row.attributes[4] if int(c) in singles]
            assemblies = [c for c in carriers if key and c.entity == "IfcElementAssembly"]
            found.assemblies |= {Ref(assembly.id): key for assembly in assemblies}
    return found


def _members(row: Row) -> list[int]:
    members = row.attributes[5]
    return [int(m) for m in (members if isinstance(members, tuple) else (members,))]


def _is_global_id(value: Any) -> bool:
    return isinstance(value, str) and len(value) == _GLOBAL_ID


def _note_row(found: Roots, row: Row) -> None:
    if row.entity.startswith(_NO_ROOTS):
        return
    key = row.attributes[0]
    found.ids[key] = Ref(row.id)
    if row.entity == "IfcPropertySet" and row.attributes[2] in (MARKER_SET, FINGERPRINT_SET):
        found.markers.add(Ref(row.id))
    placement = row.attributes[5] if len(row.attributes) > 5 else None
    if isinstance(placement, Ref) and not row.entity.startswith("IfcRel"):
        found.placements[key] = found.placement_of[row.id] = placement


def _note_block(found: Roots, block: Block) -> None:
    width = len(block.template)
    *_, (_, attributes) = block.template
    for item, key in enumerate(attributes[0].rows()):
        base = block.first + item * width
        found.ids[key] = Ref(base + width - 1)
        found.placements[key] = found.placement_of[base + width - 1] = Ref(base + int(attributes[5]))


def _zone_key(singles: dict[int, Row], marker: Ref) -> str:
    for reference in singles[int(marker)].attributes[4]:
        name, _, value, *_ = singles[int(reference)].attributes
        if name == KEY:
            return str(value.value)
    return ""


def renamed(rows: Rows, taken: Collection[str]) -> Rows:
    """Rows in which single roots get other GlobalIds than those that are taken."""
    if not taken:
        return rows
    return rows.with_parts([_rename(part, taken) for part in rows.parts])


def _rename(part: Row | Block, taken: Collection[str]) -> Row | Block:
    if isinstance(part, Block) or not part.attributes or not _is_global_id(part.attributes[0]):
        return part
    if part.entity.startswith(_NO_ROOTS) or part.attributes[0] not in taken:
        return part
    return part._replace(attributes=(global_id(part.attributes[0], "again"), *part.attributes[1:]))


def without_items(rows: Rows, gone: Collection[int]) -> Iterator[Row | Block]:
    """The parts of rows without these elements; blocks are cut where they lose an item."""
    for part in rows.parts:
        if isinstance(part, Row):
            if part.id not in gone:
                yield part
            continue
        width = len(part.template)
        lost = [i for i in range(part.count) if part.first + i * width + width - 1 in gone]
        if not lost:
            yield part
            continue
        for begin, end in zip([-1, *lost], [*lost, part.count], strict=True):
            if end - begin > 1:
                yield _slice(part, begin + 1, end)


def _slice(block: Block, begin: int, end: int) -> Block:
    template = [(entity, _sliced(attributes, begin, end)) for entity, attributes in block.template]
    first = block.first + begin * len(block.template)
    return replace(block, first=first, count=end - begin, template=template)


def _sliced(value: Any, begin: int, end: int) -> Any:
    if isinstance(value, Column):
        return Column(value.values[begin:end])
    if isinstance(value, tuple) and not isinstance(value, Own) and type(value) is tuple:
        return tuple(_sliced(inner, begin, end) for inner in value)
    return value
