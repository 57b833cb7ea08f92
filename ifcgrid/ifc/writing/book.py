"""What all ceilings of one run share: the rows, types, materials, and who became which entity."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.classification import Classification
from ifcgrid.ifc.fingerprint import STATE, Digester, code, digest
from ifcgrid.ifc.identity import MARKER_SET, global_id
from ifcgrid.ifc.writing.context import WriteContext
from ifcgrid.ifc.writing.mapping import BAR_PARTS, ROD_PARTS, Mapping, Part, find_mapping, find_names
from ifcgrid.ifc.writing.rows import Ref, Rows, Typed
from ifcgrid.ifc.writing.sets import Sets
from ifcgrid.ifc.writing.shapes import Shapes

__all__ = ["MATERIALS", "Book"]

MATERIALS = {
    Part.COVERING: "Ceiling panel",
    Part.PANEL: "Ceiling panel",
    Part.MAIN_RUNNER: "Steel",
    Part.CROSS_TEE: "Steel",
    Part.SECOND_TEE: "Steel",
    Part.WALL_ANGLE: "Steel",
    Part.ANCHOR: "Steel",
    **{part: "Steel" for part in (*ROD_PARTS, *BAR_PARTS)},
}
"""The material that each part's type has; generic, for the model names no product."""


@dataclass(slots=True)
class _Type:
    """One type and its occurrences."""

    part: Part
    key: str
    entity: Ref | None
    occurrences: list[Ref] = field(default_factory=list)


class Book:
    """Keeps what is made once for the whole model and closes it at the end."""

    def __init__(self, context: WriteContext, detail: str) -> None:
        self.context = context
        self.detail = detail
        self.rows = Rows(context.first)
        self.shapes = Shapes(self.rows, context)
        self.sets = Sets(self.rows, context)
        self.counts: Counter[str] = Counter()
        self.parts: dict[str, Ref] = {}
        self.coverings: dict[str, tuple[str, Ref]] = {}
        self.adopted: dict[str, Ref] = {}
        self.filled: set[str] = set()
        self.references: dict[Classification, Ref] = {}
        self.classified: dict[Ref, str] = {}
        self._types: dict[tuple[Part, str], _Type] = {}
        self._places: list[tuple[str, Sequence[str], Any, Sequence[Sequence[Ref | None]]]] = []

    def mapping(self, part: Part) -> Mapping:
        """How a part stands in this model's schema."""
        return find_mapping(part, self.context.schema)

    def root(self, entity: str, owner: str, key: str, *attributes: Any) -> Ref:
        """A row for a root entity: GlobalId, owner history, then the attributes."""
        return self.rows.add(
            entity, global_id(self.context.identity(owner), key), self.context.owner, *attributes
        )

    def relation(self, entity: str, owner: str, key: str, *attributes: Any) -> Ref:
        """A row for a relation without name and description."""
        return self.root(entity, owner, key, None, None, *attributes)

    def note_places(
        self, owner: str, keys: Sequence[str], points: Any, placing: Sequence[Sequence[Ref | None]]
    ) -> None:
        """Remembers where pieces stand in the axes of their ceiling: points (n, 3) and directions of Z, X."""
        self._places.append((owner, keys, points, placing))

    def place_of(self, name: str) -> NDArray[np.float64] | None:
        """The matrix (4, 4) of a piece in the axes of its ceiling; None for what was not noted."""
        zone, _, key = name.partition("/")
        for owner, keys, points, placing in self._places:
            if owner == zone and key in keys:
                k = list(keys).index(key)
                return self.shapes.piece_matrix(points[k], placing[0][k], placing[1][k])
        return None

    def typed(self, part: Part, key: str, name: str, occurrences: Iterable[Ref]) -> None:
        """Gives occurrences the type of that part and key, made at first use."""
        known = self._types.get((part, key))
        if known is None:
            known = _Type(part, key, self._make_type(part, key, name))
            self._types[part, key] = known
        known.occurrences.extend(occurrences)

    def _make_type(self, part: Part, key: str, name: str) -> Ref | None:
        mapping = self.mapping(part)
        if not mapping.type_entity:
            return None
        called = (name, None, None, None, None, None, mapping.element_type, *mapping.type_tail)
        state = self._state(mapping.type_entity, called, self._material_of(part))
        values = {n: Typed("IfcText", v) for n, v in (("Part", part.value), ("Key", key), (STATE, state))}
        marker = self.sets.properties(self.context.project, MARKER_SET, values, f"type/{part}/{key}")
        self.counts["type"] += 1
        return self.root(
            mapping.type_entity,
            self.context.project,
            f"type/{part}/{key}",
            *(name, None, None, (marker,), None, None, mapping.element_type),
            *mapping.type_tail,
        )

    def _material_of(self, part: Part) -> str:
        """The material that a part's type has; a ceiling that is made of parts leaves it to the parts."""
        return "" if part is Part.COVERING and self.detail == "panels" else MATERIALS[part]

    def _material(self, name: str) -> tuple[Any, ...]:
        """The attributes of a material."""
        has_category = find_names(self.context.schema).has_status and name == "Steel"
        return (name, None, "steel") if has_category else (name,)

    def _state(self, entity: str, called: tuple[Any, ...], material: str) -> str:
        """The codes of a type, see `ifcgrid.ifc.edits`; nothing in them refers to another row."""
        plain = Digester(_no_row, lambda _: False, int, lambda _: None, self.context.scale)
        made_of = 0
        if material:
            content = digest("IfcMaterial" + plain.text(self._material(material)))
            made_of = digest(f"IfcRelAssociatesMaterial{content}")
        return code(digest(entity + plain.text((None, None, *called)))) + code(made_of)

    def close(self) -> None:
        """Adds what can only be said once all ceilings are in: type and material relations."""
        carriers: dict[str, list[Ref]] = {}
        for known in self._types.values():
            if known.entity is not None:
                key = f"typed/{known.part}/{known.key}"
                self.relation(
                    "IfcRelDefinesByType",
                    self.context.project,
                    key,
                    tuple(known.occurrences),
                    known.entity,
                )
            if material := self._material_of(known.part):
                carriers.setdefault(material, []).extend(
                    known.occurrences if known.entity is None else [known.entity]
                )
        for material, objects in carriers.items():
            made = self.rows.add("IfcMaterial", *self._material(material))
            self.relation(
                "IfcRelAssociatesMaterial",
                self.context.project,
                f"material/{material}",
                tuple(objects),
                made,
            )


def _no_row(_: Any) -> Any:
    raise TypeError("a type's own attributes refer to no row")
