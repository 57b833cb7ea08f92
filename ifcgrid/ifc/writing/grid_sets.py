"""Sets that say of members and panels how they are cut, and of wall angles how the grid ends there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ifcgrid.domain.bracing import PerimeterWall
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.hanging import Pieces
from ifcgrid.domain.marks import mark_panels
from ifcgrid.domain.parts import MemberPart, find_parts
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.rows import Ref, Typed

__all__ = ["PERIMETER_SET", "PIECE_SET", "add_panel_sets", "add_perimeter_sets", "add_piece_sets"]

PERIMETER_SET = "IfcGrid_Perimeter"
"""The property set of wall angles: by part between joints, attached or free, and the free gap."""

PIECE_SET = "IfcGrid_Piece"
"""The property set of what is cut: the marks of its parts, the same as on sheets and in the cut list."""

_PLACES = 3
"""Digits of a length in mm to which pieces are equal."""


def add_piece_sets(book: Book, ceiling: Ceiling, elements: Mapping[str, Ref]) -> None:
    """One set for all members that are cut alike: marks, lengths, first holes and stock in order."""
    keys, pieces = ceiling.members.keys(), ceiling.pieces
    by_member: dict[int, list[MemberPart]] = {}
    for part in sorted(find_parts(ceiling), key=lambda p: (p.member, p.number)):
        by_member.setdefault(part.member, []).append(part)
    alike: dict[tuple[_Facts, ...], tuple[list[MemberPart], list[Ref]]] = {}
    cuts = [] if pieces is None else _cuts(pieces)
    for member, own in by_member.items():
        facts = tuple([_facts(part) if part.piece is None else cuts[part.piece] for part in own])
        alike.setdefault(facts, (own, []))[1].append(elements[f"{ceiling.key}/{keys[member]}"])
    for own, group in alike.values():
        chosen = [part.piece for part in own if part.piece is not None]
        if pieces is not None and len(chosen) == len(own):
            values = _piece_values(book, pieces, chosen)
        else:
            values = _part_values(book, own)
        key = keys[own[0].member]
        made = book.sets.properties(ceiling.key, PIECE_SET, values, key)
        book.sets.relate(ceiling.key, f"piece/{key}", group, made)


def add_panel_sets(book: Book, ceiling: Ceiling, elements: Mapping[str, Ref]) -> None:
    """One set for all panels of one mark in the model, with the sides of their bounds along u and v."""
    panels = ceiling.panels
    alike: dict[str, tuple[int, list[Ref]]] = {}
    for k, (key, mark) in enumerate(zip(panels.keys(), mark_panels(panels), strict=True)):
        element = elements.get(f"{ceiling.key}/{key}")
        if element is not None:
            alike.setdefault(mark, (k, []))[1].append(element)
    for mark, (k, group) in alike.items():
        sides = (panels.bounds[k, 2:] - panels.bounds[k, :2]).tolist()
        values = {"Mark": (Typed("IfcLabel", mark),), "CutSize": _lengths(book, sides)}
        made = book.sets.properties(ceiling.key, PIECE_SET, values, f"panel/{mark}")
        book.sets.relate(ceiling.key, f"piece/panel/{mark}", group, made)


def _lengths(book: Book, values: Sequence[float]) -> tuple[Typed, ...]:
    return tuple(Typed("IfcLengthMeasure", book.context.length(round(float(v), _PLACES))) for v in values)


def _part_values(book: Book, own: Sequence[MemberPart]) -> dict[str, tuple[Typed, ...]]:
    return {
        "Mark": tuple(Typed("IfcLabel", part.mark) for part in own),
        "CutLength": _lengths(book, [part.length for part in own]),
        "StockLength": _lengths(book, [part.stock for part in own]),
    }


_Facts = tuple[object, ...]
"""What is written of one part: parts of which it is the same share a set."""


def _facts(part: MemberPart) -> _Facts:
    return (part.mark, round(part.length, _PLACES), round(part.stock, _PLACES))


def _cuts(pieces: Pieces) -> list[_Facts]:
    """The facts of each stock piece."""
    lengths = [pieces.end - pieces.start, np.nan_to_num(pieces.first_hole, nan=-1.0)]
    if pieces.stock_start is not None and pieces.stock_length is not None:
        lengths += [pieces.stock_start, pieces.stock_length]
    columns = np.round(np.column_stack([*lengths, pieces.is_factory]), _PLACES)
    return list(zip(pieces.mark, map(tuple, columns.tolist()), strict=True))


def _piece_values(book: Book, pieces: Pieces, own: Sequence[int]) -> dict[str, tuple[Typed, ...]]:
    values: dict[str, tuple[Typed, ...]] = {
        "Mark": tuple(Typed("IfcLabel", pieces.mark[k]) for k in own),
        "CutLength": _lengths(book, [pieces.end[k] - pieces.start[k] for k in own]),
        "IsStartCut": tuple(Typed("IfcBoolean", not pieces.is_factory[k, 0]) for k in own),
        "IsEndCut": tuple(Typed("IfcBoolean", not pieces.is_factory[k, 1]) for k in own),
    }
    holes = [float(pieces.first_hole[k]) for k in own]
    if not np.isnan(holes).any():
        values["FirstHole"] = _lengths(book, holes)
    if pieces.stock_length is not None and pieces.stock_start is not None:
        stock, start = pieces.stock_length[list(own)], pieces.stock_start[list(own)]
        cut = pieces.end[list(own)] - pieces.start[list(own)]
        values["StockLength"] = _lengths(book, stock.tolist())
        values["CutFromStart"] = _lengths(book, start.tolist())
        values["CutFromEnd"] = _lengths(book, (stock - start - cut).tolist())
    return values


def add_perimeter_sets(book: Book, ceiling: Ceiling, elements: Mapping[str, Ref]) -> None:
    """Says of each wall angle how the grid of each part ends there; equal ones share a set."""
    if not ceiling.perimeter:
        return
    by_edge: dict[tuple[int, int], list[PerimeterWall]] = {}
    for wall in ceiling.perimeter:
        by_edge.setdefault((wall.ring, wall.edge), []).append(wall)
    alike: dict[tuple[tuple[int, bool, float], ...], list[Ref]] = {}
    for (ring, edge), walls in sorted(by_edge.items()):
        angle = elements.get(f"{ceiling.key}/{Role.WALL_ANGLE.word}/{ring}/{edge}")
        if angle is not None:
            alike.setdefault(tuple((w.part, w.is_attached, w.gap) for w in walls), []).append(angle)
    for facts, group in sorted(alike.items(), key=lambda item: item[0]):
        values = {
            "Part": tuple(Typed("IfcInteger", part) for part, _, _ in facts),
            "IsAttached": tuple(Typed("IfcBoolean", attached) for _, attached, _ in facts),
            "FreeGap": tuple(Typed("IfcLengthMeasure", book.context.length(gap)) for *_, gap in facts),
        }
        key = "/".join(f"{part}:{attached}:{gap:.3f}" for part, attached, gap in facts)
        made = book.sets.properties(ceiling.key, PERIMETER_SET, values, key)
        book.sets.relate(ceiling.key, f"perimeter/{key}", group, made)
