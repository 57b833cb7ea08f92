"""Provisions for voids: where devices need holes in a ceiling that somebody else modelled.

That ceiling stays as it is, so no opening is cut into it. The schemas have an element that
asks its author for one: a proxy in IFC2X3 (by its object type) and IFC4, an
IfcVirtualElement since IFC4X3.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.ceiling import Ceiling, Opening
from ifcgrid.domain.room import Room
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.mapping import Part
from ifcgrid.ifc.writing.panel_rows import OPENING_SET, opening_values
from ifcgrid.ifc.writing.rows import Ref, Typed

__all__ = ["add_provisions"]


def add_provisions(book: Book, ceiling: Ceiling, index: int, matrix: NDArray[np.float64]) -> list[Ref]:
    """One provision a device in a room whose ceiling was adopted, as thick as that ceiling.

    A device that fills an opening already needs none.
    """
    room = ceiling.zone.rooms[index]
    made = []
    for opening in ceiling.openings:
        has_hole = opening.key in book.context.elements and opening.key not in book.context.fillable
        if opening.room == index and not has_hole:
            made.append(_add_provision(book, ceiling, room, opening, matrix))
    return made


def _add_provision(
    book: Book, ceiling: Ceiling, room: Room, opening: Opening, matrix: NDArray[np.float64]
) -> Ref:
    assert room.covering is not None
    shapes, mapping = book.shapes, book.mapping(Part.PROVISION)
    depth = max(room.covering.top - room.covering.underside, ceiling.system.panel_thickness)
    solid = shapes.extrusion(shapes.profile(opening.outline), 0.0, depth)
    key = f"provision/{opening.key}"
    placement = shapes.placement(book.context.spaces[room.key], matrix)
    element = book.root(
        mapping.entity,
        ceiling.key,
        key,
        *(mapping.name, None, mapping.object_type, placement),
        *(shapes.product_shape(shapes.body([solid])), key, *mapping.tail),
    )
    book.counts[Part.PROVISION] += 1
    _add_sets(book, ceiling, opening, element, depth)
    return element


def _add_sets(book: Book, ceiling: Ceiling, opening: Opening, element: Ref, depth: float) -> None:
    key = f"provision/{opening.key}"
    told = book.sets.properties(ceiling.key, OPENING_SET, opening_values(book, opening), key)
    book.sets.relate(ceiling.key, f"{OPENING_SET}/{key}", [element], told)
    if book.context.schema != "IFC4X3":
        return
    u_min, v_min, u_max, v_max = opening.outline.bounds
    sizes = {"Width": u_max - u_min, "Height": v_max - v_min, "Depth": depth}
    values = {
        name: Typed("IfcPositiveLengthMeasure", book.context.length(size)) for name, size in sizes.items()
    }
    made = book.sets.properties(ceiling.key, "Pset_ProvisionForVoid", values, key)
    book.sets.relate(ceiling.key, f"Pset_ProvisionForVoid/{key}", [element], made)
