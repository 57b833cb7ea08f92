"""Control lines as set-out: the strings that the sheet shows, each a line on the ceiling's plane."""

from __future__ import annotations

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.control_line import SetOutLine
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.context import Container
from ifcgrid.ifc.writing.mapping import Part
from ifcgrid.ifc.writing.rows import Ref, Typed
from ifcgrid.ifc.writing.sets import Value
from ifcgrid.ifc.writing.shapes import frame_matrix

__all__ = ["CONTROL_SET", "add_control_lines"]

CONTROL_SET = "IfcGrid_ControlLine"
"""The property set of a control line: its number, where it runs, and its distances from walls."""

_DIGITS = 3


def add_control_lines(book: Book, ceiling: Ceiling, home: Container) -> list[Ref]:
    """One annotation a line in a space, in the ceiling's axes."""
    return [_add_line(book, ceiling, home, line) for line in ceiling.control_lines]


def _add_line(book: Book, ceiling: Ceiling, home: Container, line: SetOutLine) -> Ref:
    mapping, shapes = book.mapping(Part.CONTROL_LINE), book.shapes
    # IFC2X3 lets no two products share a placement.
    placement = shapes.placement(home, frame_matrix(ceiling.layout.frame, ceiling.zone.level))
    shape = shapes.product_shape(shapes.marking([shapes.polyline([line.start, line.end])]))
    element = book.root(
        mapping.entity,
        ceiling.key,
        line.key,
        *(f"{mapping.name} {line.number}", None, mapping.object_type, placement, shape, *mapping.tail),
    )
    values: dict[str, Value] = {
        "Number": Typed("IfcInteger", line.number),
        "Runs": Typed("IfcText", line.runs),
    }
    if line.ties:
        length = book.context.length
        values["Places"] = tuple(Typed("IfcText", place) for place, _, _ in line.ties)
        for name, k in (("AtStart", 1), ("AtEnd", 2)):
            values[name] = tuple(
                Typed("IfcLengthMeasure", length(round(float(tie[k]), _DIGITS))) for tie in line.ties
            )
    made = book.sets.properties(ceiling.key, CONTROL_SET, values, line.key)
    book.sets.relate(ceiling.key, line.key, [element], made)
    book.counts[Part.CONTROL_LINE] += 1
    return element
