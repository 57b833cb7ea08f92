"""Panels as parts of their ceiling, and openings where devices sit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from shapely import Polygon, box
from shapely.affinity import translate

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Opening
from ifcgrid.ifc.identity import global_ids
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.mapping import Part
from ifcgrid.ifc.writing.rows import Column, Own, Ref

__all__ = ["add_openings", "add_panels"]

Placed = tuple[Ref, Ref]
"""An element and its placement."""


def add_panels(book: Book, ceiling: Ceiling, room: int, covering: Ref, placement: Ref) -> dict[int, Placed]:
    """Adds a room's panels as parts of its covering; gives each by its index in the arrays."""
    panels = ceiling.panels
    chosen = np.flatnonzero(panels.room == room)
    if not len(chosen):
        return {}
    keys = panels.keys()
    mapping, shapes = book.mapping(Part.PANEL), book.shapes
    bounds = panels.bounds[chosen]
    items = []
    for index, (width, depth) in zip(chosen.tolist(), (bounds[:, 2:] - bounds[:, :2]).tolist(), strict=True):
        if index in panels.outlines:
            items.append(_shaped(book, ceiling, panels.outlines[index], panels.bounds[index]))
        else:
            item = shapes.panel_item(width, depth, ceiling.system.panel_thickness)
            items.append(("MappedRepresentation", item))
    tags = [keys[i] for i in chosen.tolist()]
    corners = np.column_stack([bounds[:, :2], np.zeros(len(chosen))])
    block = book.rows.add_block(
        [
            ("IfcCartesianPoint", (Column(book.context.points(corners)),)),
            ("IfcAxis2Placement3D", (Own(0), None, None)),
            ("IfcLocalPlacement", (placement, Own(1))),
            (
                "IfcShapeRepresentation",
                (
                    shapes.view("Body"),
                    "Body",
                    Column([k for k, _ in items]),
                    (Column([i for _, i in items]),),
                ),
            ),
            ("IfcProductDefinitionShape", (None, None, (Own(3),))),
            (
                mapping.entity,
                (
                    *(Column(global_ids(ceiling.key, tags)), book.context.owner, mapping.name, None),
                    *(mapping.object_type, Own(2), Own(4), Column(tags), *mapping.tail),
                ),
            ),
        ],
        len(tags),
    )
    elements, places = block.ids(5), block.ids(2)
    book.counts[Part.PANEL] += len(tags)
    book.parts |= {f"{ceiling.key}/{k}": e for k, e in zip(tags, elements, strict=True)}
    book.typed(Part.PANEL, ceiling.system.id, f"Panel {ceiling.system.title}", elements)
    owner = ceiling.zone.rooms[room].key
    book.relation("IfcRelAggregates", owner, "covering/panels", covering, tuple(elements))
    return dict(zip(chosen.tolist(), zip(elements, places, strict=True), strict=True))


def _shaped(book: Book, ceiling: Ceiling, outline: Polygon, bounds: Sequence[float]) -> tuple[str, Ref]:
    """A panel that is no rectangle: its own solid, with the lower corner of its bounds at the origin."""
    shapes = book.shapes
    local = translate(outline, -bounds[0], -bounds[1])
    solid = shapes.extrusion(shapes.profile(local), 0.0, ceiling.system.panel_thickness)
    shapes.paint(solid, "panels")
    return "SweptSolid", solid


def add_openings(
    book: Book,
    ceiling: Ceiling,
    room: int,
    covering: Placed,
    panels: Mapping[int, Placed],
    outline: Sequence[Polygon],
) -> float:
    """Adds a room's openings and gives the area in mm² that they take from its ceiling.

    An opening is cut into the covering; at the finest detail one that is no lay-in is cut
    into each panel that it touches without taking it whole. The device fills the first of
    them if it stands in this model and fills nothing yet.
    """
    holes = 0.0
    for opening in ceiling.openings:
        if opening.room != room:
            continue
        holes += sum(opening.outline.intersection(part).area for part in outline)
        targets = [("", covering, (0.0, 0.0))]
        if panels and not opening.is_lay_in:
            targets = _met_panels(ceiling, opening, panels) or targets
        made = [_add_opening(book, ceiling, opening, *target) for target in targets]
        _fill(book, ceiling, opening, made[0])
    return holes


def _met_panels(
    ceiling: Ceiling, opening: Opening, panels: Mapping[int, Placed]
) -> list[tuple[str, Placed, tuple[float, float]]]:
    bounds, keys = ceiling.panels.bounds, ceiling.panels.keys()
    u_min, v_min, u_max, v_max = opening.outline.bounds
    met = []
    for index in panels:
        low_u, low_v, high_u, high_v = bounds[index].tolist()
        if low_u >= u_max or high_u <= u_min or low_v >= v_max or high_v <= v_min:
            continue
        shape = ceiling.panels.outlines.get(index, box(low_u, low_v, high_u, high_v))
        taken = shape.intersection(opening.outline).area
        # A part that its opening takes whole would have an empty shape: drawn uncut, or not at all.
        if taken > tolerance.AREA and shape.area - taken > tolerance.PIECE_AREA:
            met.append((f"/{keys[index]}", panels[index], (low_u, low_v)))
    return met


def _add_opening(
    book: Book, ceiling: Ceiling, opening: Opening, suffix: str, whole: Placed, corner: tuple[float, float]
) -> Ref:
    shapes, mapping = book.shapes, book.mapping(Part.OPENING)
    thickness = ceiling.system.panel_thickness
    element, whole_placement = whole
    u, v, *_ = opening.outline.bounds
    placement = shapes.offset_placement(whole_placement, u - corner[0], v - corner[1])
    # A thickness more on both sides: faces that coincide with the panel's would leave a skin.
    solid = shapes.extrusion(shapes.profile(translate(opening.outline, -u, -v)), -thickness, 3.0 * thickness)
    key = f"opening/{opening.key}{suffix}"
    made = book.root(
        mapping.entity,
        ceiling.key,
        key,
        *(mapping.name, None, mapping.object_type, placement),
        *(shapes.product_shape(shapes.body([solid])), key, *mapping.tail),
    )
    book.counts[Part.OPENING] += 1
    book.relation("IfcRelVoidsElement", ceiling.key, f"voids/{key}", element, made)
    return made


def _fill(book: Book, ceiling: Ceiling, opening: Opening, made: Ref) -> None:
    key = opening.key
    if key not in book.context.fillable or key in book.filled:
        return
    book.relation("IfcRelFillsElement", ceiling.key, f"fills/{key}", made, book.context.elements[key])
    book.filled.add(key)
    book.counts["filled"] += 1
