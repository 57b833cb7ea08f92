"""What a ceiling hangs by and is held by as rows: hangers, trapezes, braces, device wires, bars, anchors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import isnan

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.hanging import Braces, HangerKind, Trapezes, Wires
from ifcgrid.ifc.writing.bar_quantities import Bar, round_bar, square_bar
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.mapping import Part, find_names
from ifcgrid.ifc.writing.piece_rows import add_length_sets, add_pieces, lay_along, lean, upright
from ifcgrid.ifc.writing.rows import Ref, Typed
from ifcgrid.ifc.writing.shapes import same_length
from ifcgrid.ifc.writing.standard_sets import add_common, add_member_common

__all__ = ["NOMINAL_ROD", "POST_DIAMETER", "UNKNOWN", "WIRE_DIAMETER", "add_hanging"]

NOMINAL_ROD = 300.0
"""Length in mm of what hangs or stands where the model has no structure above (our choice)."""

UNKNOWN = "unknown"
"""What stands for a support where the model has no structure above."""

WIRE_DIAMETER = 2.68
"""mm of the wires of braces and devices: No. 12 steel wire gauge, 0.1055 in (published gauge table)."""

POST_DIAMETER = 25.0
"""mm at which posts are drawn; their section is for the engineer (our choice)."""

BAR_SIDE = 15.0
"""mm of the side at which bars that tie runners are drawn (our choice)."""

ANCHOR = (8.0, 40.0)
"""Diameter and length in mm at which anchors are drawn; the anchor is for the engineer (our choice)."""


@dataclass(slots=True)
class _Rods:
    """Rods of one part while they are gathered: keys, ends in the ceiling's axes, what carries them."""

    keys: list[str] = field(default_factory=list)
    starts: list[Sequence[float]] = field(default_factory=list)
    ends: list[Sequence[float]] = field(default_factory=list)
    supports: list[str] = field(default_factory=list)
    is_known: list[bool] = field(default_factory=list)

    def add(self, key: str, start: Sequence[float], end: Sequence[float], support: str) -> None:
        """One rod; an end whose z is NaN is not known, and the rod gets its nominal length.

        A support whose end is not known is structure that leaves no room above the main.
        """
        is_known = not isnan(end[2])
        top = end if is_known else (start[0], start[1], start[2] + NOMINAL_ROD)
        self.keys.append(key)
        self.starts.append(start)
        self.ends.append(top)
        self.supports.append(support)
        self.is_known.append(is_known)


def add_hanging(book: Book, ceiling: Ceiling, placement: Ref) -> list[Ref]:
    """Adds all that holds a ceiling; gives the elements, which are parts of its assembly."""
    rows = _Hanging(book, ceiling, placement)
    rows.add_hangers()
    if ceiling.trapezes is not None and len(ceiling.trapezes):
        rows.add_trapezes(ceiling.trapezes)
    if ceiling.braces is not None and len(ceiling.braces):
        rows.add_braces(ceiling.braces)
    if ceiling.wires is not None and len(ceiling.wires):
        rows.add_wires(ceiling.wires)
    if ceiling.stabilisers is not None and len(ceiling.stabilisers):
        rows.add_stabilisers()
    rows.add_anchors()
    return rows.elements


class _Hanging:
    def __init__(self, book: Book, ceiling: Ceiling, placement: Ref) -> None:
        self.book = book
        self.ceiling = ceiling
        self.key = ceiling.key
        self.level = ceiling.zone.level
        self.placement = placement
        self.elements: list[Ref] = []
        self.tops: list[tuple[str, Sequence[float]]] = []

    def add_hangers(self) -> None:
        """Rods along their true direction, with what each is fixed to."""
        hangers = self.ceiling.hangers
        if not len(hangers):
            return
        kinds, rods = hangers.kinds.tolist(), _Rods()
        starts = np.column_stack([hangers.point, hangers.bottom - self.level])
        tops = np.column_stack([hangers.top_points, hangers.top - self.level])
        keys = hangers.keys()
        for rod in zip(keys, starts.tolist(), tops.tolist(), hangers.support, strict=True):
            rods.add(*rod)
        elements = self._rods(Part.HANGER, rods, self.ceiling.system.hanger_diameter, "Drop rod")
        alike: dict[tuple[str, bool, int, str], list[Ref]] = {}
        for k, element in enumerate(elements):
            fixing = hangers.fixing[k] if hangers.fixing else ""
            facts = (rods.supports[k], rods.is_known[k], kinds[k], fixing)
            alike.setdefault(facts, []).append(element)
            if kinds[k] != HangerKind.TRAPEZE and rods.is_known[k]:
                self.tops.append((rods.keys[k], rods.ends[k]))
        for (support, is_known, kind, fixing), group in sorted(alike.items()):
            values = _support_values(support, is_known) | {
                "Kind": Typed("IfcLabel", HangerKind(kind).name.lower())
            }
            if fixing:
                values["Fixing"] = Typed("IfcLabel", fixing)
            why = "no room" if support and not is_known else ""
            words = (support, why, "" if kind == 0 else HangerKind(kind).name, fixing)
            name = "/".join(filter(None, words))
            self._set("IfcGrid_Hanger", name, values, group)

    def _rods(self, part: Part, rods: _Rods, diameter: float, name: str) -> list[Ref]:
        starts, ends = np.array(rods.starts), np.array(rods.ends)
        lengths = [same_length(x) for x in np.linalg.norm(ends - starts, axis=1).tolist()]
        known = {x: self.book.shapes.rod_item(diameter, x) for x in dict.fromkeys(lengths)}
        items = [known[x] for x in lengths]
        placing = lean(self.book, ends - starts)
        elements = add_pieces(self.book, self.key, part, rods.keys, starts, placing, items, self.placement)
        self.book.typed(part, f"{diameter:g}", f"{name} {diameter:g} mm", elements)
        self._sets(part, f"{name} {diameter:g} mm", lengths, elements, round_bar(diameter))
        self.elements += elements
        return elements

    def _sets(
        self, part: Part, reference: str, lengths: Sequence[float], elements: Sequence[Ref], bar: Bar
    ) -> None:
        """The standard sets of members; rods and wires have no standard quantities."""
        if self.book.mapping(part).entity == "IfcMember":
            add_member_common(self.book, self.key, part, reference, lengths, elements)
            add_length_sets(self.book, self.key, part, lengths, elements, bar)
        else:
            add_common(self.book, self.key, part, reference, elements)
            add_length_sets(self.book, self.key, part, lengths, elements)

    def _bars(
        self,
        part: Part,
        keys: Sequence[str],
        starts: NDArray[np.float64],
        ends: NDArray[np.float64],
        side: float,
    ) -> list[Ref]:
        """Level bars of square section whose underside runs from starts to ends (n, 3)."""
        lengths = [same_length(x) for x in np.linalg.norm(ends - starts, axis=1).tolist()]
        items = [self.book.shapes.bar_item(side, length) for length in lengths]
        along = (ends - starts)[:, :2] / np.array(lengths)[:, None]
        placing = lay_along(self.book, along)
        elements = add_pieces(self.book, self.key, part, keys, starts, placing, items, self.placement)
        name = f"{self.book.mapping(part).name} {side:g} x {side:g}"
        self.book.typed(part, f"{side:g}", name, elements)
        self._sets(part, name, lengths, elements, square_bar(side))
        self.elements += elements
        return elements

    def add_trapezes(self, trapezes: Trapezes) -> None:
        """Bars under what they go round, each on two rods."""
        z = trapezes.z - self.level
        starts, ends = (np.column_stack([trapezes.ends[:, k], z]) for k in (0, 1))
        keys = [f"trapeze/{k}" for k in range(len(trapezes))]
        bars = self._bars(Part.TRAPEZE_BAR, keys, starts, ends, self.ceiling.system.hanging.bar_depth)
        rods = _Rods()
        for k, key in enumerate(keys):
            for side, foot in enumerate((starts[k], ends[k])):
                top = (*foot[:2], trapezes.top[k, side] - self.level)
                rods.add(f"{key}/rod/{side}", foot, top, trapezes.support[k][side])
        elements = self._rods(Part.TRAPEZE_ROD, rods, self.ceiling.system.hanger_diameter, "Trapeze rod")
        self._supports(rods, elements)
        hung = self.ceiling.hangers.keys()
        for k, bar in enumerate(bars):
            carried = trapezes.carries[k] if trapezes.carries else (int(trapezes.hanger[k]),)
            values = {
                "Hangers": Typed("IfcText", " ".join(hung[h] for h in carried)),
                "Spans": Typed("IfcText", " ".join(trapezes.spans[k])),
            }
            self._set("IfcGrid_Trapeze", keys[k], values, [bar, *elements[2 * k : 2 * k + 2]])

    def add_braces(self, braces: Braces) -> None:
        """Posts, and the splay wires that found a way; a post without structure is drawn nominally."""
        foot_z = self.ceiling.system.main.height
        posts, wires = _Rods(), _Rods()
        owner: list[int] = []
        keys = [f"brace/{j}/{i}" for j, i in zip(braces.line.tolist(), braces.column.tolist(), strict=True)]
        for k, key in enumerate(keys):
            foot = (*braces.point[k], foot_z)
            top = (*braces.point[k], braces.post_top[k] - self.level)
            posts.add(f"{key}/post", foot, top, braces.support[k][0])
            for w in np.flatnonzero(~np.isnan(braces.wire_top[k, :, 2])).tolist():
                end = braces.wire_top[k, w] - (0.0, 0.0, self.level)
                wires.add(f"{key}/wire/{w}", foot, end.tolist(), braces.support[k][1 + w])
                owner.append(k)
        standing = self._rods(Part.BRACE_POST, posts, POST_DIAMETER, "Compression post")
        self._supports(posts, standing)
        splayed: list[Ref] = []
        if wires.keys:
            splayed = self._rods(Part.BRACE_WIRE, wires, WIRE_DIAMETER, "Splay wire")
            self._supports(wires, splayed)
        for k, key in enumerate(keys):
            own = [e for e, o in zip(splayed, owner, strict=True) if o == k]
            missing = 4 - len(own) + bool(np.isnan(braces.post_top[k]))
            values = {"Set": Typed("IfcLabel", key), "PartsMissing": Typed("IfcInteger", missing)}
            self._set("IfcGrid_Brace", key, values, [standing[k], *own])

    def add_wires(self, wires: Wires) -> None:
        """Wires of devices, straight up."""
        rods = _Rods()
        for k, device in enumerate(wires.device):
            foot = (*wires.point[k], wires.bottom[k] - self.level)
            top = (*wires.point[k], wires.top[k] - self.level)
            rods.add(f"wire/{device}/{wires.number[k]}", foot, top, wires.support[k])
        elements = self._rods(Part.DEVICE_WIRE, rods, WIRE_DIAMETER, "Device wire")
        self._supports(rods, elements)
        by_device: dict[str, list[int]] = {}
        for k, device in enumerate(wires.device):
            by_device.setdefault(device, []).append(k)
        for device, own in by_device.items():
            is_assumed = wires.is_assumed is not None and bool(wires.is_assumed[own[0]])
            values = {
                "Device": Typed("IfcLabel", device),
                "IsSlack": Typed("IfcBoolean", bool(wires.is_slack[own[0]])),
                "IsWeightAssumed": Typed("IfcBoolean", is_assumed),
            }
            self._set("IfcGrid_DeviceWire", device, values, [elements[k] for k in own])

    def add_stabilisers(self) -> None:
        """Bars on the mains' tops that tie the ends of runners."""
        bars = self.ceiling.stabilisers
        assert bars is not None
        z = np.full(len(bars), self.ceiling.system.main.height)
        starts, ends = np.column_stack([bars.start, z]), np.column_stack([bars.end, z])
        self._bars(Part.STABILISER, bars.keys(), starts, ends, BAR_SIDE)

    def add_anchors(self) -> None:
        """One anchor at each upper end that the model has structure for."""
        if not self.tops:
            return
        diameter, length = ANCHOR
        keys = [f"anchor/{key}" for key, _ in self.tops]
        points = np.array([top for _, top in self.tops])
        items = [self.book.shapes.rod_item(diameter, length)] * len(keys)
        elements = add_pieces(
            self.book, self.key, Part.ANCHOR, keys, points, upright(len(keys)), items, self.placement
        )
        self.book.typed(Part.ANCHOR, "top", "Anchor", elements)
        self._anchor_sets(elements)
        self.elements += elements

    def _anchor_sets(self, elements: Sequence[Ref]) -> None:
        """The sizes at which anchors are drawn, and that nobody has designed them yet."""
        diameter, length = ANCHOR
        add_common(self.book, self.key, Part.ANCHOR, "Anchor", elements)
        if find_names(self.book.context.schema).has_status:
            name, measure = "Pset_MechanicalFastenerAnchorBolt", self.book.context.length
            values = {
                "AnchorBoltLength": Typed("IfcPositiveLengthMeasure", measure(length)),
                "AnchorBoltDiameter": Typed("IfcPositiveLengthMeasure", measure(diameter)),
            }
            self._set(name, "anchors", values, elements)
        note = "drawn at a nominal size; the anchor and its strength are for the engineer"
        told = {"IsNominal": Typed("IfcBoolean", True), "Note": Typed("IfcText", note)}
        self._set("IfcGrid_Anchor", "anchors", told, elements)

    def _supports(self, rods: _Rods, elements: Sequence[Ref]) -> None:
        """Says what carries each rod, and remembers where it is fixed."""
        by_support: dict[tuple[str, bool], list[Ref]] = {}
        for k, element in enumerate(elements):
            by_support.setdefault((rods.supports[k], rods.is_known[k]), []).append(element)
            if rods.is_known[k]:
                self.tops.append((rods.keys[k], rods.ends[k]))
        kind = rods.keys[0].split("/")[0]
        if rods.keys[0].endswith("/post"):
            kind = "post"
        for (support, is_known), group in sorted(by_support.items()):
            name = f"{kind}/{support}" if is_known or not support else f"{kind}/{support}/no room"
            self._set("IfcGrid_Support", name, _support_values(support, is_known), group)

    def _set(self, name: str, key: str, values: dict[str, Typed], elements: Sequence[Ref]) -> None:
        made = self.book.sets.properties(self.key, name, values, key)
        self.book.sets.relate(self.key, f"{name}/{key}", elements, made)


def _support_values(support: str, is_known: bool) -> dict[str, Typed]:
    why = "structure above leaves no room" if support else "no structure above in the model"
    return {
        "IsSoffitKnown": Typed("IfcBoolean", is_known),
        "Support": Typed("IfcText", support or UNKNOWN),
        "Note": Typed("IfcText", "" if is_known else f"{why}; drawn {NOMINAL_ROD:g} mm long"),
    }
