"""Sets that say of members what they are cut from, and of wall angles how the grid ends there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ifcgrid.domain.bracing import PerimeterWall
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.hanging import Pieces
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.rows import Ref, Typed

__all__ = ["PERIMETER_SET", "add_perimeter_sets", "add_piece_sets"]

PERIMETER_SET = "IfcGrid_Perimeter"
"""The property set of wall angles: by part between joints, attached or free, and the free gap."""

_PLACES = 3
"""Digits of a length in mm to which pieces are equal."""


def add_piece_sets(book: Book, ceiling: Ceiling, elements: Mapping[str, Ref]) -> None:
    """One set for all members that are cut alike: marks, lengths, first holes and stock in order."""
    pieces = ceiling.pieces
    if pieces is None or not len(pieces):
        return
    keys = ceiling.members.keys()
    order = np.lexsort((pieces.number, pieces.member))
    by_member: dict[int, list[int]] = {}
    for k in order.tolist():
        by_member.setdefault(int(pieces.member[k]), []).append(k)
    alike: dict[tuple[tuple[object, ...], ...], tuple[list[int], list[Ref]]] = {}
    for member, own in by_member.items():
        facts = tuple(_facts(pieces, k) for k in own)
        alike.setdefault(facts, (own, []))[1].append(elements[f"{ceiling.key}/{keys[member]}"])
    for own, group in alike.values():
        values = _piece_values(book, pieces, own)
        key = keys[int(pieces.member[own[0]])]
        made = book.sets.properties(ceiling.key, "IfcGrid_Piece", values, key)
        book.sets.relate(ceiling.key, f"piece/{key}", group, made)


def _facts(pieces: Pieces, k: int) -> tuple[object, ...]:
    lengths = [pieces.end[k] - pieces.start[k], np.nan_to_num(pieces.first_hole[k], nan=-1.0)]
    if pieces.stock_start is not None and pieces.stock_length is not None:
        lengths += [pieces.stock_start[k], pieces.stock_length[k]]
    return (pieces.mark[k], *map(bool, pieces.is_factory[k]), *(round(float(x), _PLACES) for x in lengths))


def _piece_values(book: Book, pieces: Pieces, own: Sequence[int]) -> dict[str, tuple[Typed, ...]]:
    def lengths(values: Sequence[float]) -> tuple[Typed, ...]:
        return tuple(Typed("IfcLengthMeasure", book.context.length(round(float(v), _PLACES))) for v in values)

    values: dict[str, tuple[Typed, ...]] = {
        "Mark": tuple(Typed("IfcLabel", pieces.mark[k]) for k in own),
        "CutLength": lengths([pieces.end[k] - pieces.start[k] for k in own]),
        "IsStartCut": tuple(Typed("IfcBoolean", not pieces.is_factory[k, 0]) for k in own),
        "IsEndCut": tuple(Typed("IfcBoolean", not pieces.is_factory[k, 1]) for k in own),
    }
    holes = [float(pieces.first_hole[k]) for k in own]
    if not np.isnan(holes).any():
        values["FirstHole"] = lengths(holes)
    if pieces.stock_length is not None and pieces.stock_start is not None:
        stock, start = pieces.stock_length[list(own)], pieces.stock_start[list(own)]
        cut = pieces.end[list(own)] - pieces.start[list(own)]
        values["StockLength"] = lengths(stock.tolist())
        values["CutFromStart"] = lengths(start.tolist())
        values["CutFromEnd"] = lengths((stock - start - cut).tolist())
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
