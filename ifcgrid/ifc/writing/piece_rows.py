"""Elements by the thousand: each has its own place and shape, equal ones share what is drawn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.ifc.identity import global_ids
from ifcgrid.ifc.writing.bar_quantities import Bar
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.mapping import Part
from ifcgrid.ifc.writing.rows import Column, Own, Ref
from ifcgrid.ifc.writing.shapes import same_length

__all__ = ["Placing", "add_length_sets", "add_pieces", "lay_along", "lean", "upright"]

Placing = tuple[list[Ref | None], list[Ref | None]]
"""The directions of Z and X of each piece; None and None: not turned."""


def upright(count: int) -> Placing:
    """Pieces that are not turned."""
    return [None] * count, [None] * count


def lay_along(book: Book, along: NDArray[np.float64]) -> Placing:
    """Pieces whose X lies along directions (n, 2) in the ceiling's plane."""
    steps = list(map(tuple, along.tolist()))
    known = {
        (u, v): None if abs(u - 1.0) < 1e-12 else book.shapes.direction((u, v, 0.0))
        for u, v in dict.fromkeys(steps)
    }
    x = [known[step] for step in steps]
    return [None if d is None else book.shapes.up for d in x], x


def lean(book: Book, steps: NDArray[np.float64]) -> Placing:
    """Pieces whose Z goes along steps (n, 3); their X stays as near to the ceiling's plane as it can."""
    if np.hypot(steps[:, 0], steps[:, 1]).max() < 1e-9:
        return upright(len(steps))
    z: list[Ref | None] = []
    x: list[Ref | None] = []
    for step in (steps / np.linalg.norm(steps, axis=1)[:, None]).tolist():
        flat = np.hypot(step[0], step[1])
        if flat < 1e-9:
            z.append(None)
            x.append(None)
        else:
            z.append(book.shapes.direction(step))
            x.append(book.shapes.direction((-step[1] / flat, step[0] / flat, 0.0)))
    return z, x


def add_pieces(
    book: Book,
    owner: str,
    part: Part,
    keys: Sequence[str],
    points: Any,
    placing: Placing,
    items: list[Ref],
    placement: Ref,
) -> list[Ref]:
    """Elements of one part with their own placements and shapes; `points` (n, 3) in the ceiling's axes."""
    mapping = book.mapping(part)
    block = book.rows.add_block(
        [
            ("IfcCartesianPoint", (Column(book.context.coordinates(points)),)),
            ("IfcAxis2Placement3D", (Own(0), Column(placing[0]), Column(placing[1]))),
            ("IfcLocalPlacement", (placement, Own(1))),
            (
                "IfcShapeRepresentation",
                (book.shapes.view("Body"), "Body", "MappedRepresentation", (Column(items),)),
            ),
            ("IfcProductDefinitionShape", (None, None, (Own(3),))),
            (
                mapping.entity,
                (
                    *(
                        Column(global_ids(book.context.identity(owner), keys)),
                        book.context.owner,
                        mapping.name,
                        None,
                    ),
                    *(mapping.object_type, Own(2), Own(4), Column(list(keys)), *mapping.tail),
                ),
            ),
        ],
        len(keys),
    )
    elements = block.ids(5)
    book.counts[part] += len(keys)
    book.parts |= {f"{owner}/{k}": e for k, e in zip(keys, elements, strict=True)}
    book.note_places(owner, keys, points, placing)
    return elements


def add_length_sets(
    book: Book,
    owner: str,
    part: Part,
    lengths: Sequence[float],
    elements: Sequence[Ref],
    bar: Bar | None = None,
) -> None:
    """One quantity set for all pieces of a part that have the same length in mm.

    Without `bar` it holds the length alone: what pulls has no standard quantities.
    """
    by_length: dict[float, list[Ref]] = {}
    for length, element in zip(lengths, elements, strict=True):
        by_length.setdefault(same_length(length), []).append(element)
    _relate_lengths(book, owner, part, by_length, bar)


def _relate_lengths(
    book: Book, owner: str, part: Part, by_length: Mapping[float, Sequence[Ref]], bar: Bar | None
) -> None:
    name = book.mapping(part).quantities
    for length, elements in sorted(by_length.items()):
        key = f"{part}/{length:.3f}"
        values = {"Length": ("length", length)} if bar is None else bar.quantities(length)
        made = book.sets.quantities(owner, name, values, key)
        book.sets.relate(owner, f"length/{key}", elements, made)
