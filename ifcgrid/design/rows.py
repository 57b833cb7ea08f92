"""Shifted rows as plain lattices: each is worked out whole, and only its own rows are kept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import affinity

from ifcgrid.domain.ceiling import Members, Opening, Panels, Role
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Layout

__all__ = ["join_members", "join_panels", "openings_in", "plain_layouts"]


def plain_layouts(layout: Layout) -> Iterator[tuple[int, float, Layout]]:
    """For each row of the pattern its number, its shift along u, and the plain lattice that it is part of."""
    for number, shift in enumerate(layout.row_offsets):
        x, y = layout.frame.to_world([[shift, 0.0]])[0].tolist()
        frame = Frame(x=x, y=y, angle_deg=layout.frame.angle_deg)
        yield number, shift, replace(layout, frame=frame, row_shift=0.0)


def openings_in(openings: Sequence[Opening], layout: Layout, number: int) -> list[Opening]:
    """The openings as one row of the pattern sees them: lay-in ones in its rows, all others moved."""
    shifts = layout.row_offsets
    return [
        o if o.cells is not None else replace(o, outline=affinity.translate(o.outline, -shifts[number], 0.0))
        for o in openings
        if o.cells is None or o.cells[1] % len(shifts) == number
    ]


def join_panels(layout: Layout, parts: Sequence[Panels]) -> Panels:
    """The panels of all rows, sorted by column, row and piece; `parts` as `plain_layouts` gives them."""
    shifts = layout.row_offsets
    kept = [np.flatnonzero(p.row % len(shifts) == number) for number, p in enumerate(parts)]
    column, row, piece = (
        np.concatenate([getattr(p, name)[rows] for p, rows in zip(parts, kept, strict=True)])
        for name in ("column", "row", "piece")
    )
    order = np.lexsort((piece, row, column))
    bounds = np.concatenate(
        [
            p.bounds[rows] + np.array([shift, 0.0, shift, 0.0])
            for p, rows, shift in zip(parts, kept, shifts, strict=True)
        ]
    )
    first = np.cumsum([0, *(len(rows) for rows in kept)])
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    outlines = {}
    for part, rows, shift, start in zip(parts, kept, shifts, first, strict=False):
        for k in np.flatnonzero(np.isin(rows, list(part.outlines))).tolist():
            moved = affinity.translate(part.outlines[int(rows[k])], shift, 0.0)
            outlines[int(place[start + k])] = moved
    return Panels(
        column=column[order],
        row=row[order],
        piece=piece[order],
        room=_joined(parts, kept, "room")[order],
        area=_joined(parts, kept, "area")[order],
        is_full=_joined(parts, kept, "is_full")[order],
        bounds=bounds[order],
        outlines=dict(sorted(outlines.items())),
    )


def join_members(layout: Layout, parts: Sequence[Members]) -> Members:
    """Mains and wall angles of the first part, and of each the cross tees of its own rows."""
    shifts = layout.row_offsets
    kept = []
    for number, part in enumerate(parts):
        row = np.floor((part.start[:, 1] + part.end[:, 1]) / 2 / layout.across).astype(np.int64)
        is_tee = part.role == Role.CROSS_TEE
        own = is_tee & (row % len(shifts) == number)
        kept.append(np.flatnonzero(own | ~is_tee if number == 0 else own))
    moved = [np.array([shift, 0.0]) for shift in shifts]
    start, end = (
        np.concatenate([getattr(p, name)[rows] + by for p, rows, by in zip(parts, kept, moved, strict=True)])
        for name in ("start", "end")
    )
    role, line, index = (_joined(parts, kept, name) for name in ("role", "line", "index"))
    order = np.lexsort((index, line, role))
    return Members(
        role=role[order],
        line=line[order],
        index=index[order],
        room=_joined(parts, kept, "room")[order],
        start=start[order],
        end=end[order],
    )


def _joined(parts: Sequence[Any], kept: Sequence[NDArray[np.int64]], name: str) -> NDArray[Any]:
    return np.concatenate([getattr(p, name)[rows] for p, rows in zip(parts, kept, strict=True)])
