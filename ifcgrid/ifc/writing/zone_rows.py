"""One zone's ceiling as rows: coverings, grid, hangers, set-out lines and sets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.room import Room
from ifcgrid.ifc.identity import MARKER_SET, global_ids
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.mapping import MEMBER_PARTS, Part, find_names
from ifcgrid.ifc.writing.panel_rows import add_openings, add_panels
from ifcgrid.ifc.writing.provenance import provenance_values
from ifcgrid.ifc.writing.room_parts import room_parts
from ifcgrid.ifc.writing.rows import Block, Column, Own, Ref, Typed
from ifcgrid.ifc.writing.shapes import frame_matrix, same_length, section_name, section_of

__all__ = ["NOMINAL_ROD", "add_zone"]

NOMINAL_ROD = 300.0
"""Length in mm of a hanger where the model has no structure above to hang it from (our choice)."""

_SETOUT_LETTER = {True: "M", False: "S"}


def add_zone(
    book: Book,
    ceiling: Ceiling,
    *,
    replace: bool,
    provenance: Mapping[str, str],
    earlier: Mapping[str, Mapping[str, str]],
) -> None:
    """Adds all rows of one ceiling in the detail of the book."""
    zone = _Zone(book, ceiling)
    for index, part in enumerate(room_parts(ceiling.zone)):
        room = ceiling.zone.rooms[index]
        if room.covering is not None and not replace and room.covering.key in book.context.elements:
            zone.adopt(room)
        else:
            zone.add_covering(index, room, part)
    if book.detail != "ceiling":
        zone.add_assembly()
        zone.add_setout()
    zone.contain()
    zone.support()
    zone.add_sets(provenance, earlier)


class _Zone:
    """The rows of one zone while they are made."""

    def __init__(self, book: Book, ceiling: Ceiling) -> None:
        self.book = book
        self.ceiling = ceiling
        self.key = ceiling.key
        self.matrix = frame_matrix(ceiling.layout.frame, ceiling.zone.level)
        self.home = ceiling.zone.rooms[0].key
        self.contained: dict[str, list[Ref]] = {}
        self.coverings: dict[str, Ref] = {}
        self.adopted: dict[str, Ref] = {}
        self.assembly: Ref | None = None
        self.setout: Ref | None = None
        self.hung: list[Ref] = []

    def adopt(self, room: Room) -> None:
        """Takes over the architect's ceiling; it keeps its GlobalId, body and place."""
        assert room.covering is not None
        key = room.covering.key
        self.adopted[key] = self.book.context.elements[key]
        self.book.coverings.setdefault(room.key, (key, self.adopted[key]))

    def add_covering(self, index: int, room: Room, parts: Sequence[Polygon]) -> None:
        """The room's part of the ceiling with its openings, and at the finest detail its panels."""
        book, ceiling, shapes = self.book, self.ceiling, self.book.shapes
        mapping = book.mapping(Part.COVERING)
        local = [ceiling.layout.frame.shape_to_local(p) for p in parts]
        thickness = ceiling.system.panel_thickness
        placement = shapes.placement(book.context.spaces[room.key], self.matrix)
        outlines = [shapes.rings(p) for p in local]
        views = [shapes.foot_print([ring for rings in outlines for ring in rings])]
        if book.detail != "panels":
            solids = [shapes.extrusion(shapes.ring_profile(r), 0.0, thickness) for r in outlines]
            views.insert(0, shapes.body(solids, "panels"))
        covering = book.root(
            mapping.entity,
            room.key,
            "covering",
            *(f"{mapping.name} {room.number}".rstrip(), None, mapping.object_type, placement),
            *(shapes.product_shape(*views), "covering", *mapping.tail),
        )
        book.counts[Part.COVERING] += 1
        book.typed(Part.COVERING, ceiling.system.id, ceiling.system.title, [covering])
        book.coverings[room.key] = (f"{room.key}/covering", covering)
        self.coverings[room.key] = covering
        self.contained.setdefault(room.key, []).append(covering)
        panels = {}
        if book.detail == "panels":
            panels = add_panels(book, ceiling, index, covering, placement)
        holes = 0.0
        if book.detail != "ceiling":
            holes = add_openings(book, ceiling, index, (covering, placement), panels, local)
        self._add_quantities(room, covering, sum(p.area for p in local), holes)

    def _add_quantities(self, room: Room, covering: Ref, area: float, holes: float) -> None:
        sets, name = self.book.sets, self.book.mapping(Part.COVERING).quantities
        values = {
            "GrossArea": ("area", area),
            "NetArea": ("area", area - holes),
            "Width": ("length", self.ceiling.system.panel_thickness),
        }
        sets.relate(room.key, "covering/quantities", [covering], sets.quantities(room.key, name, values))

    def add_assembly(self) -> None:
        """Members and hangers, made parts of one assembly that stands at the frame's origin."""
        ceiling, book = self.ceiling, self.book
        if not len(ceiling.members) and not len(ceiling.hangers):
            return
        mapping = book.mapping(Part.ASSEMBLY)
        placement = book.shapes.placement(book.context.spaces[self.home], self.matrix)
        self.assembly = book.root(
            mapping.entity,
            self.key,
            "assembly",
            *(mapping.name, None, mapping.object_type, placement, None, "assembly", *mapping.tail),
        )
        book.counts[Part.ASSEMBLY] += 1
        self.contained.setdefault(self.home, []).append(self.assembly)
        pieces = self._add_members(placement)
        self.hung = self._add_hangers(placement)
        book.relation("IfcRelAggregates", self.key, "assembly/parts", self.assembly, (*pieces, *self.hung))

    def _add_members(self, placement: Ref) -> list[Ref]:
        members, pieces = self.ceiling.members, []
        lengths = np.array([same_length(x) for x in members.length])
        by_length: dict[float, list[Ref]] = {}
        keys = members.keys()
        for role in Role:
            chosen = np.flatnonzero(members.role == role)
            if not len(chosen):
                continue
            part = MEMBER_PARTS[role]
            block = self._add_role(part, chosen, lengths[chosen], [keys[i] for i in chosen], placement)
            elements = block.ids(5)
            pieces += elements
            for length, element in zip(lengths[chosen].tolist(), elements, strict=True):
                by_length.setdefault(length, []).append(element)
        self._add_length_sets(Part.MAIN_RUNNER, by_length)
        return pieces

    def _add_role(
        self,
        part: Part,
        chosen: NDArray[np.intp],
        lengths: NDArray[np.float64],
        keys: list[str],
        placement: Ref,
    ) -> Block:
        shapes, members = self.book.shapes, self.ceiling.members
        section = section_of(part, self.ceiling.system)
        start, end = members.start[chosen], members.end[chosen]
        along = (end - start) / np.hypot(*(end - start).T)[:, None]
        turned = [None if abs(u - 1.0) < 1e-12 else shapes.direction((u, v, 0.0)) for u, v in along.tolist()]
        items = [shapes.member_item(part, section, length) for length in lengths.tolist()]
        points = np.column_stack([start, 0.0 * lengths])
        block = self._add_pieces(part, keys, points, turned, items, placement)
        name = f"{self.book.mapping(part).name} {section_name(part, section)}"
        elements = block.ids(5)
        self.book.typed(part, section_name(part, section), name, elements)
        sets = self.book.sets
        reference = Typed("IfcIdentifier", section_name(part, section))
        common = sets.properties(self.key, "Pset_MemberCommon", {"Reference": reference}, part.value)
        sets.relate(self.key, f"common/{part}", elements, common)
        return block

    def _add_pieces(
        self,
        part: Part,
        keys: list[str],
        points: Any,
        turned: list[Ref | None],
        items: list[Ref],
        placement: Ref,
    ) -> Block:
        """Elements that own their placement and shape and share the mapped item of their size."""
        book, mapping = self.book, self.book.mapping(part)
        up = [None if t is None else book.shapes.up for t in turned]
        block = book.rows.add_block(
            [
                ("IfcCartesianPoint", (Column(book.context.points(points)),)),
                ("IfcAxis2Placement3D", (Own(0), Column(up), Column(turned))),
                ("IfcLocalPlacement", (placement, Own(1))),
                (
                    "IfcShapeRepresentation",
                    (book.shapes.view("Body"), "Body", "MappedRepresentation", (Column(items),)),
                ),
                ("IfcProductDefinitionShape", (None, None, (Own(3),))),
                (
                    mapping.entity,
                    (
                        *(Column(global_ids(self.key, keys)), book.context.owner, mapping.name, None),
                        *(mapping.object_type, Own(2), Own(4), Column(keys), *mapping.tail),
                    ),
                ),
            ],
            len(keys),
        )
        book.counts[part] += len(keys)
        book.parts |= {f"{self.key}/{k}": e for k, e in zip(keys, block.ids(5), strict=True)}
        return block

    def _add_length_sets(self, part: Part, by_length: Mapping[float, Sequence[Ref]]) -> None:
        sets, name = self.book.sets, self.book.mapping(part).quantities
        for length, elements in sorted(by_length.items()):
            key = f"{part}/{length:.3f}"
            made = sets.quantities(self.key, name, {"Length": ("length", length)}, key)
            sets.relate(self.key, f"length/{key}", elements, made)

    def _add_hangers(self, placement: Ref) -> list[Ref]:
        hangers, level = self.ceiling.hangers, self.ceiling.zone.level
        if not len(hangers):
            return []
        is_known = np.isfinite(hangers.top)
        lengths = [
            same_length(x) for x in np.where(is_known, hangers.top - hangers.bottom, NOMINAL_ROD).tolist()
        ]
        diameter = self.ceiling.system.hanger_diameter
        items = [self.book.shapes.rod_item(diameter, length) for length in lengths]
        points = np.column_stack([hangers.point, hangers.bottom - level])
        block = self._add_pieces(Part.HANGER, hangers.keys(), points, [None] * len(hangers), items, placement)
        rods = block.ids(5)
        self.book.typed(Part.HANGER, f"{diameter:g}", f"Drop rod {diameter:g} mm", rods)
        by_length: dict[float, list[Ref]] = {}
        by_support: dict[str, list[Ref]] = {}
        for i, rod in enumerate(rods):
            by_length.setdefault(lengths[i], []).append(rod)
            by_support.setdefault(hangers.support[i] if is_known[i] else "", []).append(rod)
        self._add_length_sets(Part.HANGER, by_length)
        self._add_supports(by_support)
        return rods

    def _add_supports(self, by_support: Mapping[str, Sequence[Ref]]) -> None:
        sets = self.book.sets
        for support, rods in sorted(by_support.items()):
            note = "" if support else f"no structure above in the model; drawn {NOMINAL_ROD:g} mm long"
            values = {
                "IsSoffitKnown": Typed("IfcBoolean", bool(support)),
                "Support": Typed("IfcText", support or "unknown"),
                "Note": Typed("IfcText", note),
            }
            made = sets.properties(self.key, "IfcGrid_Hanger", values, support)
            sets.relate(self.key, f"hanger/{support}", rods, made)

    def add_setout(self) -> None:
        """The lines of the lattice inside the zone, as a grid: M mains, S second-rank, T cross tees."""
        book, layout, shapes = self.book, self.ceiling.layout, self.book.shapes
        local = layout.frame.shape_to_local(self.ceiling.zone.outline)
        u_min, v_min, u_max, v_max = local.bounds
        parallel = [
            (_parallel_tag(j, self.ceiling), [(u_min, j * layout.across), (u_max, j * layout.across)])
            for j in _inside(layout.rows)
        ]
        crossing = [(tag, [(u, v_min), (u, v_max)]) for tag, u in _crossing_lines(layout, u_min, u_max)]
        curves: list[Ref] = []
        axes: list[tuple[Ref, ...]] = []
        for lines in (parallel, crossing):
            drawn = [(tag, shapes.polyline(points)) for tag, points in lines]
            curves += [curve for _, curve in drawn]
            axes.append(tuple(book.rows.add("IfcGridAxis", tag, curve, True) for tag, curve in drawn))
        mapping = book.mapping(Part.SETOUT)
        placement = shapes.placement(book.context.spaces[self.home], self.matrix)
        self.setout = book.root(
            mapping.entity,
            self.key,
            "setout",
            *(mapping.name, None, mapping.object_type, placement),
            *(shapes.product_shape(shapes.foot_print(curves)), *axes, None, *mapping.tail),
        )
        book.counts[Part.SETOUT] += 1
        self.contained.setdefault(self.home, []).append(self.setout)

    def contain(self) -> None:
        """Puts what was made into its spaces."""
        for key, elements in self.contained.items():
            self.book.relation(
                "IfcRelContainedInSpatialStructure",
                self.key,
                f"contains/{key}",
                tuple(elements),
                self.book.context.spaces[key].id,
            )

    def support(self) -> None:
        """Says that the grid supports each ceiling of the zone."""
        if self.assembly is None:
            return
        for key, covering in (self.coverings | self.adopted).items():
            self.book.root(
                "IfcRelConnectsElements",
                self.key,
                f"supports/{key}",
                *("supports", None, None, self.assembly, covering),
            )

    def add_sets(self, provenance: Mapping[str, str], earlier: Mapping[str, Mapping[str, str]]) -> None:
        """Module, reference and provenance of what was made and what was adopted."""
        book, sets = self.book, self.book.sets
        if self.coverings:
            for name, values in self._common_sets().items():
                made = sets.properties(self.key, name, values)
                sets.relate(self.key, name, tuple(self.coverings.values()), made)
        told = earlier.get(self.key, {})
        ours = [e for e in (*self.coverings.values(), self.assembly, self.setout) if e is not None]
        if ours:
            replaced = [
                r.covering.key if r.covering is not None and r.key in self.coverings else None
                for r in self.ceiling.zone.rooms
            ]
            values = provenance_values(self.ceiling, book.context, provenance, told, False, replaced)
            sets.relate(self.key, MARKER_SET, ours, sets.properties(self.key, MARKER_SET, values))
        for key, covering in self.adopted.items():
            if key not in book.adopted:
                values = provenance_values(self.ceiling, book.context, provenance, told, True)
                sets.relate(key, MARKER_SET, [covering], sets.properties(key, MARKER_SET, values))
                book.adopted[key] = covering

    def _common_sets(self) -> dict[str, dict[str, Typed]]:
        system, context = self.ceiling.system, self.book.context
        names = find_names(context.schema)
        common = {"Reference": Typed("IfcIdentifier", system.id)}
        if names.has_external:
            common["IsExternal"] = Typed("IfcBoolean", False)
        longer, shorter = max(system.along, system.across), min(system.along, system.across)
        tiling = {
            "TileLength": Typed("IfcPositiveLengthMeasure", context.length(longer)),
            "TileWidth": Typed("IfcPositiveLengthMeasure", context.length(shorter)),
        }
        return {"Pset_CoveringCommon": common, names.tiling: tiling}


def _inside(count: int) -> range:
    """Lines that cross the zone; where it is narrower than a module, the one before it: a grid needs one."""
    return range(1, count) if count > 1 else range(1)


def _crossing_lines(layout: Layout, u_min: float, u_max: float) -> list[tuple[str, float]]:
    """Tags and places of the tee lines; of shifted rows T1, T2 ... are row 0's, T1b, T2b ... row 1's.

    Row 0 and every p-th row after it have the plain tags, where the pattern has p rows.
    """
    lines = [(f"T{i}", i * layout.along) for i in _inside(layout.columns)]
    for number, shift in enumerate(layout.row_offsets[1:], start=1):
        letter = chr(ord("a") + number)
        for i in range(-1, layout.columns + 1):
            at = i * layout.along + shift
            if u_min + tolerance.LENGTH < at < u_max - tolerance.LENGTH:
                lines.append((f"T{i}{letter}", at))
    return sorted(lines, key=lambda line: line[1])


def _parallel_tag(j: int, ceiling: Ceiling) -> str:
    is_main = j % ceiling.layout.main_every == ceiling.layout.main_phase
    return f"{_SETOUT_LETTER[is_main]}{j}"
