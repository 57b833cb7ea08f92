"""The codes of elements as they stand in a model, for comparison with those of what was written."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import ifcopenshell
import numpy as np

from ifcgrid.ifc.fingerprint import Digester, Node, code, digest, is_tagged, name_text, place_codes
from ifcgrid.ifc.placement import placement_matrix
from ifcgrid.ifc.project import length_scale

__all__ = ["TAG", "ElementCodes"]

_UP, _ALONG = (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)
_PLACEMENT, _SHAPE, TAG = 5, 6, 7
"""Places of attributes of an element."""

_RELATIONS = (
    "IfcRelDefinesByProperties",
    "IfcRelDefinesByType",
    "IfcRelAssociates",
    "IfcRelAssignsToGroup",
    "IfcRelAggregates",
    "IfcRelVoidsElement",
    "IfcRelContainedInSpatialStructure",
)

_code = cache(code)
_WORD = (1 << 64) - 1
_NOTHING = (0, 0, 0, 0)


class ElementCodes:
    """Works out codes of elements and types of an open model.

    `wholes` gives, by an element's id, the placement of what it is known to belong to.
    """

    def __init__(self, file: ifcopenshell.file) -> None:
        self._file = file
        self._scale = length_scale(file)
        self._digester = Digester(_open_up, _is_entity, lambda e: int(e.id()), _typed, self._scale)
        self._names: dict[tuple[Any, ...], str] = {}
        self._shapes: dict[tuple[Any, ...], str] = {}
        self._directions: dict[int, Sequence[float]] = {}
        self.wholes: dict[int, Any] = {}

    def aspects(self, element: Any, has_tag: bool, said: Sequence[int] | None) -> str:
        """The codes of all aspects but the place; `said` is what `gather` has of it."""
        sums = "".join(map(_code, said or _NOTHING))
        return f"{self._called(element, has_tag)}{self._shape_code(element[_SHAPE])}{sums}"

    def _called(self, element: Any, has_tag: bool) -> str:
        """The code of what an element is called; most share all of it but their tag."""
        entity = element.is_a()
        if has_tag or not is_tagged(entity):
            return code(digest(name_text(self._digester, entity, tuple(element), has_tag=True)))
        rest = range(TAG + 1, len(element))
        told = (entity, element[2], element[3], element[4], *[element[k] for k in rest])
        found = self._names.get(told)
        if found is None:
            text = name_text(self._digester, entity, tuple(element), has_tag=False)
            found = self._names[told] = code(digest(text))
        return found

    def _shape_code(self, shape: Any) -> str:
        """The code of a shape; most are one view of one item that many share."""
        if shape is None:
            return code(0)
        views = shape[2]
        if len(views) != 1:
            return code(self._digester.shape(views))
        _, identifier, kind, items = views[0]
        told = (identifier, kind, *[i.id() for i in items])
        found = self._shapes.get(told)
        if found is None:
            found = self._shapes[told] = code(self._digester.shape(views))
        return found

    def places(self, elements: Sequence[Any]) -> list[str]:
        """The codes of where elements stand."""
        points, z, x = [], [], []
        for element in elements:
            point, up, along = self._place(element, element[_PLACEMENT])
            points.append(point)
            z.append(up)
            x.append(along)
        return place_codes(np.array(points) * self._scale, z, x)

    def _place(self, element: Any, own: Any) -> tuple[Any, Any, Any]:
        """Where an element stands relative to what it belongs to, in the file's unit."""
        if own is None:
            return (np.nan, np.nan, np.nan), _UP, _ALONG
        parent, axes = own
        key = element.id()
        whole = self.wholes[key] if key in self.wholes else _whole_placement(element)
        if (whole is not None and parent != whole) or not axes.is_a("IfcAxis2Placement3D"):
            there = placement_matrix(own)
            there = there if whole is None else np.linalg.inv(placement_matrix(whole)) @ there
            return there[:3, 3], there[:3, 2], there[:3, 0]
        point, z, x = axes
        return point[0], self._direction(z, _UP), self._direction(x, _ALONG)

    def _direction(self, direction: Any, otherwise: Sequence[float]) -> Sequence[float]:
        if direction is None:
            return otherwise
        found = self._directions.get(direction.id())
        if found is None:
            found = self._directions[direction.id()] = tuple(direction[0])
        return found

    def gather(self, ids: set[int]) -> dict[int, list[int]]:
        """Sums over relations what they say of elements, by aspect."""
        said: dict[int, list[int]] = {}
        for kind in _RELATIONS:
            for relation in self._file.by_type(kind):
                objects = _related(relation, kind)
                chosen = [i for o in objects if (i := o.id()) in ids]
                if not chosen:
                    continue
                aspect, number = self._said(relation, kind)
                for own in chosen:
                    sums = said.setdefault(own, list(_NOTHING))
                    sums[aspect] = sums[aspect] + number & _WORD
        return said

    def _said(self, relation: Any, kind: str) -> tuple[int, int]:
        if kind == "IfcRelDefinesByProperties":
            definition = relation.RelatingPropertyDefinition
            return 0, self._digester.set(definition) if _is_entity(definition) else digest(str(definition))
        if kind == "IfcRelDefinesByType":
            return 1, digest(str(relation.RelatingType.GlobalId))
        if kind == "IfcRelContainedInSpatialStructure":
            return 3, digest(kind + str(relation.RelatingStructure.is_a()))
        if kind in ("IfcRelAggregates", "IfcRelVoidsElement"):
            return 3, digest(kind + str(relation[4].GlobalId))
        return 2, self._assigned(relation)

    def _assigned(self, relation: Any) -> int:
        entity = str(relation.is_a())
        if relation.is_a("IfcRelAssignsToGroup"):
            return digest(entity + str(relation.RelatingGroup.GlobalId))
        if relation.is_a("IfcRelAssociatesClassification"):
            return digest(entity + str(relation[5][1]))
        other = relation[5] if len(relation) > 5 else None
        return digest(entity + str(self._digester.of(other) if _is_entity(other) else other))

    def of_type(self, kind: Any) -> str:
        """The codes of a type: what it is called, and its materials."""
        entity, attributes = str(kind.is_a()), [*kind]
        attributes[:2] = [None, None]
        attributes[5:7] = [None, None]
        called = digest(entity + self._digester.text(attributes))
        materials = [
            digest(str(r.is_a()) + str(self._digester.of(r[5])))
            for r in kind.HasAssociations
            if r.is_a("IfcRelAssociatesMaterial")
        ]
        return code(called) + code(sum(materials) & _WORD)


def _whole_placement(element: Any) -> Any | None:
    """The placement of what an element is a part or an opening of."""
    for relation in getattr(element, "Decomposes", None) or ():
        if relation.is_a("IfcRelAggregates"):
            return getattr(relation.RelatingObject, "ObjectPlacement", None)
    for relation in getattr(element, "VoidsElements", None) or ():
        return relation.RelatingBuildingElement.ObjectPlacement
    return None


def _related(relation: Any, kind: str) -> Sequence[Any]:
    if kind == "IfcRelAggregates":
        return tuple(relation.RelatedObjects)
    if kind == "IfcRelVoidsElement":
        return (relation.RelatedOpeningElement,)
    return tuple(relation[4])


def _open_up(entity: Any) -> Node:
    return str(entity.is_a()), tuple(entity)


def _is_entity(value: Any) -> bool:
    return isinstance(value, ifcopenshell.entity_instance) and value.id() > 0


def _typed(value: Any) -> tuple[str, Any] | None:
    if isinstance(value, ifcopenshell.entity_instance) and value.id() == 0:
        return str(value.is_a()), value.wrappedValue
    return None
