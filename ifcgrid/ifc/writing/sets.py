"""Property and quantity sets as rows, and the relations that carry them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from ifcgrid.ifc.identity import global_id
from ifcgrid.ifc.writing.context import WriteContext
from ifcgrid.ifc.writing.rows import DERIVED, Enum, Ref, Rows, Typed

__all__ = ["Choice", "Sets", "Value"]

_ENTITY = {
    "length": "IfcQuantityLength",
    "area": "IfcQuantityArea",
    "volume": "IfcQuantityVolume",
    "weight": "IfcQuantityWeight",
    "count": "IfcQuantityCount",
}

_OWN_UNIT = {
    "volume": ("VOLUMEUNIT", None, "CUBIC_METRE"),
    "weight": ("MASSUNIT", "KILO", "GRAM"),
}
"""The unit that a quantity names itself where the project names none for its kind."""


class Choice(NamedTuple):
    """One value of an enumeration of labels, as the templates of the schemas name them."""

    value: str


Value = Typed | Choice | tuple[Typed, ...]
"""The value of a property; a plain tuple of values of one type becomes a list value."""


class Sets:
    """Adds sets to rows. Quantities in mm, mm², mm³, kg; properties are already in the file's units.

    `related` remembers which objects got which set.
    """

    def __init__(self, rows: Rows, context: WriteContext) -> None:
        self.rows = rows
        self.context = context
        self.related: list[tuple[Sequence[Ref], Ref]] = []
        self._units: dict[str, Ref | None] = {}
        self._measured: dict[str, Callable[[float], float]] = {
            "length": context.length,
            "area": context.area,
            "volume": context.volume,
            "weight": context.mass,
            # A count is a whole number since IFC4X3, any number before.
            "count": int if context.schema == "IFC4X3" else float,
        }

    def properties(self, owner: str, name: str, values: Mapping[str, Value], key: str = "") -> Ref:
        """A property set; its GlobalId comes from owner, name and key."""
        singles = tuple(self._property(*item) for item in values.items())
        root = global_id(self.context.identity(owner), f"set/{name}/{key}")
        return self.rows.add("IfcPropertySet", root, self.context.owner, name, None, singles)

    def _property(self, name: str, value: Value) -> Ref:
        if isinstance(value, Choice):
            chosen = (Typed("IfcLabel", value.value),)
            return self.rows.add("IfcPropertyEnumeratedValue", name, None, chosen, None)
        entity = "IfcPropertySingleValue" if isinstance(value, Typed) else "IfcPropertyListValue"
        return self.rows.add(entity, name, None, value, None)

    def quantities(
        self, owner: str, name: str, values: Mapping[str, tuple[str, float]], key: str = ""
    ) -> Ref:
        """A quantity set; `values` gives for each name its kind and value.

        Kinds are length, area, volume, weight and count.
        """
        parts = tuple(
            self.rows.add(_ENTITY[kind], quantity, None, self._unit(kind), self._measured[kind](value))
            for quantity, (kind, value) in values.items()
        )
        root = global_id(self.context.identity(owner), f"quantities/{name}/{key}")
        return self.rows.add(
            "IfcElementQuantity", root, self.context.owner, name, None, "BaseQuantities", parts
        )

    def _unit(self, kind: str) -> Ref | None:
        known = {"volume": self.context.volume_scale, "weight": self.context.mass_scale}
        if kind not in known or known[kind] is not None:
            return None
        if kind not in self._units:
            unit, prefix, name = _OWN_UNIT[kind]
            self._units[kind] = self.context.units.get(_OWN_UNIT[kind]) or self.rows.add(
                "IfcSIUnit", DERIVED, Enum(unit), None if prefix is None else Enum(prefix), Enum(name)
            )
        return self._units[kind]

    def relate(self, owner: str, key: str, objects: Sequence[Ref], definition: Ref) -> None:
        """Gives a set to objects; no objects, no relation."""
        if not objects:
            return
        root = global_id(self.context.identity(owner), f"defines/{key}")
        self.rows.add(
            "IfcRelDefinesByProperties", root, self.context.owner, None, None, tuple(objects), definition
        )
        self.related.append((objects, definition))
