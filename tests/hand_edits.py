"""Edits as people make them in other programs, done to the entities themselves."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import ifcopenshell
from ceilings import guid


def by_tag(file: ifcopenshell.file, room: str | None = None) -> Mapping[str, Any]:
    """Elements by tag; of the assembly of one room's zone where a room is named."""
    if room is None:
        return {e.Tag: e for e in file.by_type("IfcElement") if e.Tag}
    (assembly,) = [
        r.RelatingObject
        for r in file.by_type("IfcRelAggregates")
        if r.RelatingObject.is_a("IfcElementAssembly") and _is_in(r.RelatingObject, room)
    ]
    return {p.Tag: p for p in assembly.IsDecomposedBy[0].RelatedObjects}


def _is_in(assembly: Any, room: str) -> bool:
    return bool(assembly.ContainedInStructure[0].RelatingStructure.GlobalId == guid(room))


def move(element: Any, x: float, y: float, z: float = 0.0) -> None:
    """Moves an element in the axes of what it hangs on, in the file's unit."""
    point = element.ObjectPlacement.RelativePlacement.Location
    moved = tuple(a + b for a, b in zip(point.Coordinates, (x, y, z), strict=True))
    point.Coordinates = moved


def delete(file: ifcopenshell.file, element: Any) -> None:
    """Deletes an element with its place and shape; relations lose it."""
    for relation in file.get_inverse(element):
        for place, value in enumerate(relation):
            if isinstance(value, tuple) and element in value:
                left = [v for v in value if v != element]
                if left:
                    relation[place] = left
                else:
                    file.remove(relation)
                break
    placement, shape = element.ObjectPlacement, element.Representation
    file.remove(element)
    for view in shape.Representations if shape else ():
        file.remove(view)
    for rest in (shape, placement.RelativePlacement.Location, placement.RelativePlacement, placement):
        if rest is not None:
            file.remove(rest)


def describe(file: ifcopenshell.file, element: Any, name: str = "Site check") -> Any:
    """Gives an element a property set of somebody else's."""
    owner = file.by_type("IfcProject")[0].OwnerHistory
    value = file.create_entity("IfcBoolean", True)
    prop = file.create_entity("IfcPropertySingleValue", "Checked", None, value, None)
    pset = file.create_entity("IfcPropertySet", guid(name), owner, name, None, [prop])
    file.create_entity("IfcRelDefinesByProperties", guid(f"r {name}"), owner, None, None, [element], pset)
    return pset


def make_of(file: ifcopenshell.file, element: Any, material: str) -> None:
    """Gives an element a material of its own."""
    owner = file.by_type("IfcProject")[0].OwnerHistory
    made = file.create_entity("IfcMaterial", material)
    file.create_entity("IfcRelAssociatesMaterial", guid(material), owner, None, None, [element], made)


def copy(file: ifcopenshell.file, element: Any) -> Any:
    """A copy of a part beside it in the same whole, under another GlobalId."""
    values = list(element)
    values[0] = guid(f"copy of {element.Tag}")
    old = element.ObjectPlacement
    point = file.create_entity("IfcCartesianPoint", (50.0, 50.0, 0.0))
    axes = file.create_entity("IfcAxis2Placement3D", point)
    values[5] = file.create_entity("IfcLocalPlacement", old.PlacementRelTo, axes)
    view = element.Representation.Representations[0]
    shown = file.create_entity("IfcShapeRepresentation", *view)
    values[6] = file.create_entity("IfcProductDefinitionShape", None, None, [shown])
    made = file.create_entity(element.is_a(), *values)
    (relation,) = element.Decomposes
    relation.RelatedObjects = [*relation.RelatedObjects, made]
    return made
