"""Property and quantity sets as rows, and the relations that carry them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from ifcgrid.ifc.identity import global_id
from ifcgrid.ifc.writing.context import WriteContext
from ifcgrid.ifc.writing.rows import Ref, Rows, Typed

__all__ = ["Sets"]

_UNITLESS = {"length": "IfcQuantityLength", "area": "IfcQuantityArea", "count": "IfcQuantityCount"}


class Sets:
    """Adds sets to rows. Quantities in mm and mm²; values of properties are already in the file's units."""

    def __init__(self, rows: Rows, context: WriteContext) -> None:
        self.rows = rows
        self.context = context

    def properties(
        self, owner: str, name: str, values: Mapping[str, Typed | tuple[Typed, ...]], key: str = ""
    ) -> Ref:
        """A property set; its GlobalId comes from owner, name and key.

        A plain tuple of values of one type becomes a list value.
        """
        singles = tuple(
            self.rows.add(
                "IfcPropertySingleValue" if isinstance(value, Typed) else "IfcPropertyListValue",
                *(property_name, None, value, None),
            )
            for property_name, value in values.items()
        )
        root = global_id(owner, f"set/{name}/{key}")
        return self.rows.add("IfcPropertySet", root, self.context.owner, name, None, singles)

    def quantities(
        self, owner: str, name: str, values: Mapping[str, tuple[str, float]], key: str = ""
    ) -> Ref:
        """A quantity set; `values` gives for each name its kind (length, area, count) and value."""
        measured: dict[str, Callable[[float], float]] = {
            "length": self.context.length,
            "area": self.context.area,
            "count": float,
        }
        parts = tuple(
            self.rows.add(_UNITLESS[kind], quantity_name, None, None, measured[kind](value))
            for quantity_name, (kind, value) in values.items()
        )
        root = global_id(owner, f"quantities/{name}/{key}")
        return self.rows.add(
            "IfcElementQuantity", root, self.context.owner, name, None, "BaseQuantities", parts
        )

    def relate(self, owner: str, key: str, objects: Sequence[Ref], definition: Ref) -> None:
        """Gives a set to objects; no objects, no relation."""
        root = global_id(owner, f"defines/{key}")
        self.rows.add(
            "IfcRelDefinesByProperties", root, self.context.owner, None, None, tuple(objects), definition
        )
