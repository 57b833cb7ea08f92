"""One zone's ceiling as rows: coverings, grid, hangers, set-out lines and sets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.room import Room
from ifcgrid.ifc.identity import MARKER_SET
from ifcgrid.ifc.writing.bar_quantities import bar_of_section, stated_weight
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.classification_rows import add_classification
from ifcgrid.ifc.writing.control_rows import add_control_lines
from ifcgrid.ifc.writing.grid_sets import add_panel_sets, add_perimeter_sets, add_piece_sets
from ifcgrid.ifc.writing.hanging_rows import add_hanging
from ifcgrid.ifc.writing.joint_rows import add_joints
from ifcgrid.ifc.writing.mapping import MEMBER_PARTS, Part, find_names
from ifcgrid.ifc.writing.panel_rows import add_openings, add_panels
from ifcgrid.ifc.writing.piece_rows import add_length_sets, add_pieces, lay_along
from ifcgrid.ifc.writing.provenance import provenance_values
from ifcgrid.ifc.writing.provision_rows import add_provisions
from ifcgrid.ifc.writing.room_parts import room_parts
from ifcgrid.ifc.writing.rows import Ref, Typed
from ifcgrid.ifc.writing.sets import Value
from ifcgrid.ifc.writing.shapes import frame_matrix, same_lengths, section_name, section_of
from ifcgrid.ifc.writing.standard_sets import add_common, add_member_common, status
from ifcgrid.ifc.writing.zone_quantities import add_zone_quantities

__all__ = ["add_zone"]

_SETOUT_LETTER = {True: "M", False: "S"}


def add_zone(
    book: Book,
    ceiling: Ceiling,
    *,
    replace: bool,
    provenance: Mapping[str, str],
    earlier: Mapping[str, Mapping[str, str]],
) -> list[Ref]:
    """Adds all rows of one ceiling in the detail of the book; gives what carries its provenance."""
    zone = _Zone(book, ceiling)
    for index, part in enumerate(room_parts(ceiling.zone)):
        room = ceiling.zone.rooms[index]
        # A soffit that got a grid stays: the room's own ceiling is the only one to be replaced.
        own = room.covering
        is_soffit = all(r.key != ceiling.key for r in ceiling.zone.rooms)
        if own is not None and (is_soffit or not replace) and own.key in book.context.elements:
            zone.adopt(index, room)
        else:
            zone.add_covering(index, room, part)
    if book.detail == "panels":
        add_panel_sets(book, ceiling, book.parts)
    if book.detail != "ceiling":
        zone.add_assembly()
        zone.add_setout()
        zone.add_joints()
    zone.contain()
    zone.support()
    return zone.add_sets(provenance, earlier)


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
        self.joints: list[Ref] = []
        self.provisions: list[Ref] = []

    def adopt(self, index: int, room: Room) -> None:
        """Takes over the architect's ceiling; it keeps its GlobalId, body and place."""
        assert room.covering is not None
        key = room.covering.key
        self.adopted[key] = self.book.context.elements[key]
        self.book.coverings.setdefault(room.key, (key, self.adopted[key]))
        if self.book.detail != "ceiling":
            made = add_provisions(self.book, self.ceiling, index, self.matrix)
            self.provisions += made
            if made:
                self.contained.setdefault(room.key, []).extend(made)

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
        add_common(book, self.key, Part.ASSEMBLY, ceiling.system.id, [self.assembly])
        add_zone_quantities(book, ceiling, self.assembly)
        book.counts[Part.ASSEMBLY] += 1
        self.contained.setdefault(self.home, []).append(self.assembly)
        pieces = self._add_members(placement)
        self.hung = add_hanging(book, ceiling, placement)
        add_piece_sets(book, ceiling, book.parts)
        add_perimeter_sets(book, ceiling, book.parts)
        book.relation("IfcRelAggregates", self.key, "assembly/parts", self.assembly, (*pieces, *self.hung))

    def _add_members(self, placement: Ref) -> list[Ref]:
        members, pieces = self.ceiling.members, []
        lengths, keys = same_lengths(members.length), members.keys()
        for role in Role:
            chosen = np.flatnonzero(members.role == role)
            if len(chosen):
                own = [keys[i] for i in chosen]
                pieces += self._add_role(MEMBER_PARTS[role], chosen, lengths[chosen], own, placement)
        return pieces

    def _add_role(
        self,
        part: Part,
        chosen: NDArray[np.intp],
        lengths: NDArray[np.float64],
        keys: list[str],
        placement: Ref,
    ) -> list[Ref]:
        shapes, members = self.book.shapes, self.ceiling.members
        section = section_of(part, self.ceiling.system)
        start, end = members.start[chosen], members.end[chosen]
        along = (end - start) / np.hypot(*(end - start).T)[:, None]
        items = shapes.member_items(part, section, lengths.tolist())
        points = np.column_stack([start, 0.0 * lengths])
        placing = lay_along(self.book, along)
        elements = add_pieces(self.book, self.key, part, keys, points, placing, items, placement)
        name = f"{self.book.mapping(part).name} {section_name(part, section)}"
        self.book.typed(part, section_name(part, section), name, elements)
        bar = bar_of_section(section, stated_weight(part, self.ceiling.system))
        stated = lengths.tolist()
        add_member_common(self.book, self.key, part, section_name(part, section), stated, elements)
        add_length_sets(self.book, self.key, part, stated, elements, bar)
        return elements

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

    def add_joints(self) -> None:
        """The lines at which the ceiling is parted, and those from which it is set out."""
        home = self.book.context.spaces[self.home]
        self.joints = add_joints(self.book, self.ceiling, home)
        self.joints += add_control_lines(self.book, self.ceiling, home)
        if self.joints:
            self.contained.setdefault(self.home, []).extend(self.joints)

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

    def add_sets(self, provenance: Mapping[str, str], earlier: Mapping[str, Mapping[str, str]]) -> list[Ref]:
        """Module, reference and provenance of what was made and what was adopted."""
        book, sets = self.book, self.book.sets
        if self.coverings:
            for name, values in self._common_sets().items():
                made = sets.properties(self.key, name, values)
                sets.relate(self.key, name, tuple(self.coverings.values()), made)
        add_classification(book, self.ceiling, self.coverings, self.assembly)
        told = earlier.get(self.key, {})
        made_here = (*self.coverings.values(), self.assembly, self.setout, *self.joints, *self.provisions)
        ours = [e for e in made_here if e is not None]
        if ours:
            replaced = [
                r.covering.key if r.covering is not None and r.key in self.coverings else None
                for r in self.ceiling.zone.rooms
            ]
            grounds = provenance_values(self.ceiling, book.context, provenance, told, False, replaced)
            sets.relate(self.key, MARKER_SET, ours, sets.properties(self.key, MARKER_SET, grounds))
        for key, covering in self.adopted.items():
            if key not in book.adopted:
                grounds = provenance_values(self.ceiling, book.context, provenance, told, True)
                sets.relate(key, MARKER_SET, [covering], sets.properties(key, MARKER_SET, grounds))
                book.adopted[key] = covering
        return ours

    def _common_sets(self) -> dict[str, dict[str, Value]]:
        system, context = self.ceiling.system, self.book.context
        names = find_names(context.schema)
        common: dict[str, Value] = {"Reference": Typed("IfcIdentifier", system.id), **status(self.book)}
        if names.has_status:
            common["IsExternal"] = Typed("IfcBoolean", False)
        else:
            thickness = context.length(system.panel_thickness)
            common["TotalThickness"] = Typed("IfcPositiveLengthMeasure", thickness)
        longer, shorter = max(system.along, system.across), min(system.along, system.across)
        tiling: dict[str, Value] = {
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
