"""Separation joints as set-out: a line on the ceiling's plane each, with what it says."""

from __future__ import annotations

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.context import Container
from ifcgrid.ifc.writing.mapping import Part
from ifcgrid.ifc.writing.rows import Ref, Typed
from ifcgrid.ifc.writing.shapes import frame_matrix

__all__ = ["JOINT_SET", "add_joints"]

JOINT_SET = "IfcGrid_Joint"
"""The property set of a joint: its axis, its line, its number on the line and its free gap."""


def add_joints(book: Book, ceiling: Ceiling, home: Container) -> list[Ref]:
    """One annotation a joint in a space, in the ceiling's axes; its curve is the joint's line."""
    mapping, shapes, made = book.mapping(Part.JOINT), book.shapes, []
    matrix = frame_matrix(ceiling.layout.frame, ceiling.zone.level)
    for joint in ceiling.joints:
        # IFC2X3 lets no two products share a placement.
        placement = shapes.placement(home, matrix)
        shape = shapes.product_shape(shapes.marking([shapes.polyline([joint.start, joint.end])]))
        element = book.root(
            mapping.entity,
            ceiling.key,
            joint.key,
            *(mapping.name, None, mapping.object_type, placement, shape, *mapping.tail),
        )
        values = {
            "Axis": Typed("IfcLabel", joint.axis),
            "Line": Typed("IfcInteger", joint.line),
            "Number": Typed("IfcInteger", joint.number),
            "Gap": Typed("IfcLengthMeasure", book.context.length(joint.gap)),
        }
        made_set = book.sets.properties(ceiling.key, JOINT_SET, values, joint.key)
        book.sets.relate(ceiling.key, joint.key, [element], made_set)
        book.counts[Part.JOINT] += 1
        book.parts[f"{ceiling.key}/{joint.key}"] = element
        made.append(element)
    return made
