"""Panels as parts of their ceiling, and openings where devices sit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, box
from shapely.affinity import translate

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Opening
from ifcgrid.ifc.identity import global_ids
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.mapping import Part
from ifcgrid.ifc.writing.rows import Column, Own, Ref, Typed
from ifcgrid.ifc.writing.sets import Value
from ifcgrid.ifc.writing.standard_sets import add_common

__all__ = ["OPENING_SET", "PANEL_QUANTITIES", "add_openings", "add_panels", "opening_values"]

PANEL_QUANTITIES = "IfcGrid_PanelQuantities"
"""The quantity set of a panel, before openings are cut into it; areas to a mm²."""

OPENING_SET = "IfcGrid_Opening"
"""The property set of an opening: which device it is for, and whether that stands in this model."""

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
            ("IfcCartesianPoint", (Column(book.context.coordinates(corners)),)),
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
                    *(
                        Column(global_ids(book.context.identity(ceiling.key), tags)),
                        book.context.owner,
                        mapping.name,
                        None,
                    ),
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
    add_common(book, owner, Part.PANEL, ceiling.system.id, elements)
    _add_panel_quantities(book, ceiling, owner, chosen, elements)
    return dict(zip(chosen.tolist(), zip(elements, places, strict=True), strict=True))


def _add_panel_quantities(
    book: Book, ceiling: Ceiling, owner: str, chosen: NDArray[np.intp], elements: Sequence[Ref]
) -> None:
    """One set of our own for all panels of one area; the schemas have none for parts."""
    weights, thickness = ceiling.system.weights, ceiling.system.panel_thickness
    by_area: dict[float, list[Ref]] = {}
    for area, element in zip(ceiling.panels.area[chosen].tolist(), elements, strict=True):
        by_area.setdefault(round(area), []).append(element)
    for area, group in sorted(by_area.items()):
        values = {
            "Area": ("area", area),
            "Width": ("length", thickness),
            "Volume": ("volume", area * thickness),
        }
        if weights is not None:
            values["Weight"] = ("weight", area / 1e6 * weights.panel_kg_per_m2)
        made = book.sets.quantities(owner, PANEL_QUANTITIES, values, f"{area:.0f}")
        book.sets.relate(owner, f"{PANEL_QUANTITIES}/{area:.0f}", group, made)


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
        taken = sum(opening.outline.intersection(part).area for part in outline)
        holes += taken
        targets: list[_Target] = [("", covering, (0.0, 0.0), taken)]
        if panels and not opening.is_lay_in:
            targets = _met_panels(ceiling, opening, panels) or targets
        made = [_add_opening(book, ceiling, opening, *target) for target in targets]
        _fill(book, ceiling, opening, made[0])
        _describe(book, ceiling, opening, made)
    return holes


_Target = tuple[str, Placed, tuple[float, float], float]
"""What an opening is cut into: the end of its key, element and placement, its corner, the area cut out."""


def _met_panels(ceiling: Ceiling, opening: Opening, panels: Mapping[int, Placed]) -> list[_Target]:
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
            met.append((f"/{keys[index]}", panels[index], (low_u, low_v), taken))
    return met


def _add_opening(
    book: Book,
    ceiling: Ceiling,
    opening: Opening,
    suffix: str,
    whole: Placed,
    corner: tuple[float, float],
    taken: float,
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
    width, height = (b - a for a, b in (opening.outline.bounds[0::2], opening.outline.bounds[1::2]))
    values = {
        "Width": ("length", width),
        "Height": ("length", height),
        "Depth": ("length", thickness),
        "Area": ("area", taken),
        "Volume": ("volume", taken * thickness),
    }
    measured = book.sets.quantities(ceiling.key, mapping.quantities, values, key)
    book.sets.relate(ceiling.key, f"quantities/{key}", [made], measured)
    return made


def _describe(book: Book, ceiling: Ceiling, opening: Opening, made: Sequence[Ref]) -> None:
    """What the openings of one device are for; one in another model cannot fill them here."""
    purpose: dict[str, Value] = {"Purpose": Typed("IfcLabel", "Device in the ceiling")}
    reference = "lay-in" if opening.is_lay_in else "cut-in"
    add_common(book, ceiling.key, Part.OPENING, reference, made, purpose, f"opening/{opening.key}")
    told = book.sets.properties(ceiling.key, OPENING_SET, opening_values(book, opening), opening.key)
    book.sets.relate(ceiling.key, f"{OPENING_SET}/{opening.key}", made, told)


def _fill(book: Book, ceiling: Ceiling, opening: Opening, made: Ref) -> None:
    key = opening.key
    if key not in book.context.fillable or key in book.filled:
        return
    book.relation("IfcRelFillsElement", ceiling.key, f"fills/{key}", made, book.context.elements[key])
    book.filled.add(key)
    book.counts["filled"] += 1


def opening_values(book: Book, opening: Opening) -> dict[str, Value]:
    """Which device an opening or a provision is for, and whether that stands in this model."""
    return {
        "Device": Typed("IfcText", opening.key),
        "IsDeviceInThisModel": Typed("IfcBoolean", opening.key in book.context.elements),
        "IsLayIn": Typed("IfcBoolean", opening.is_lay_in),
    }
