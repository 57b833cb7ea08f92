"""Marks of equal pieces: one set for the model, the set-out sheet, the cut list and the take-off.

This module alone decides which pieces are equal and what they are called. Mains, tees of
both ranks, wall angles and cut panels are marked M, T, S, A and P with a number, in the
order in which kinds first occur in the ceiling's arrays. P0 is a whole panel; A0 (and M0,
T0, S0 where a system does not say how mains and tees are cut) is a whole bar.

Marks are a ceiling's: M1 names the same piece in all rooms of one zone, and another piece
in another zone. So a list of a storey or a job names the room beside the mark, and room and
mark together name the piece; the full key (`zone key/part key`) tells its zone too.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Panels, Role

__all__ = ["mark_lengths", "mark_panels", "mark_pieces"]

_LETTERS = {Role.MAIN_RUNNER: "M", Role.CROSS_TEE: "T", Role.SECOND_TEE: "S", Role.WALL_ANGLE: "A"}


def _classes(values: NDArray[np.float64]) -> NDArray[np.int64]:
    """A number for each value, rising with it; equal ones share one. NaN has one of its own.

    A class reaches a cut's tolerance from its least value, so no chain of small steps joins
    what differs by more.
    """
    order = np.argsort(values, kind="stable")
    rank, least = -1, -np.inf
    ranks = []
    for value in np.nan_to_num(values[order], nan=np.finfo(float).max).tolist():
        if value > least + tolerance.CUT:
            rank, least = rank + 1, value
        ranks.append(rank)
    classes = np.empty(len(values), dtype=np.int64)
    classes[order] = ranks
    return classes


def _number(kinds: Iterable[Hashable]) -> list[int]:
    """1 for the first kind that occurs, 2 for the next new one ..."""
    seen: dict[Hashable, int] = {}
    return [seen.setdefault(kind, len(seen) + 1) for kind in kinds]


def mark_pieces(
    role: NDArray[np.int32],
    length: NDArray[np.float64],
    first_hole: NDArray[np.float64],
    is_factory: NDArray[np.bool_],
    pitch: float,
) -> tuple[str, ...]:
    """One mark a stock piece of a main or tee: M1, M2 ..., T1 ..., S1 ...

    Pieces of one role are equal when their lengths, first holes and cut ends are; a tee
    turned end for end is the same piece.

    Args:
        role: (n,) as in `Members`.
        length: (n,) in mm.
        first_hole: (n,) in mm from the start, NaN where there is none.
        is_factory: (n, 2) whether start and end are factory ends.
        pitch: mm between holes of tees, to which a turned tee's first hole lies from its
            factory end.
    """
    turned = (role != Role.MAIN_RUNNER) & ~is_factory[:, 0] & is_factory[:, 1]
    hole = np.where(turned & ~np.isnan(first_hole), pitch, first_hole)
    ends = np.where(turned[:, None], is_factory[:, ::-1], is_factory)
    facts = np.column_stack([_classes(length), _classes(hole), ends])
    return _by_role(role, facts)


def mark_lengths(
    role: NDArray[np.int32], length: NDArray[np.float64], is_whole: NDArray[np.bool_]
) -> tuple[str, ...]:
    """One mark a part (n,) of which only the length counts, as of wall angles: A0 whole, A1, A2 ... cut."""
    cut = np.flatnonzero(~is_whole)
    marks = [f"{_LETTERS[Role(own)]}0" for own in role.tolist()]
    for k, mark in zip(cut.tolist(), _by_role(role[cut], _classes(length[cut])[:, None]), strict=True):
        marks[k] = mark
    return tuple(marks)


def _by_role(role: NDArray[np.int32], facts: NDArray[np.int64]) -> tuple[str, ...]:
    marks, kinds = [""] * len(role), list(map(tuple, facts.tolist()))
    for own, letter in _LETTERS.items():
        chosen = np.flatnonzero(role == own).tolist()
        for k, number in zip(chosen, _number(kinds[k] for k in chosen), strict=True):
            marks[k] = f"{letter}{number}"
    return tuple(marks)


def mark_panels(panels: Panels) -> tuple[str, ...]:
    """One mark a panel: P0 for whole ones, P1, P2 ... for cut ones of one shape.

    Rectangles are told apart by their sides along u and v, others by their outlines.
    """
    cut = np.flatnonzero(~panels.is_full).tolist()
    size = panels.bounds[:, 2:] - panels.bounds[:, :2]
    shaped = {k: panels.outlines[k] for k in cut if k in panels.outlines}
    points = [shapely.get_coordinates(shape) - panels.bounds[k, :2] for k, shape in shaped.items()]
    # Ranks keep the order of coordinates, so outlines of ranks are normalised as those of mm are.
    every = np.concatenate([size, *points])
    ranks = np.column_stack([_classes(every[:, 0]), _classes(every[:, 1])])
    kinds: dict[int, Hashable] = {k: tuple(ranks[k].tolist()) for k in cut}
    at = len(size)
    for (k, shape), own in zip(shaped.items(), points, strict=True):
        outline = shapely.set_coordinates(shapely.from_wkb(shape.wkb), ranks[at : at + len(own)])
        kinds[k] = tuple(map(tuple, shapely.get_coordinates(shapely.normalize(outline)).tolist()))
        at += len(own)
    marks = ["P0"] * len(panels)
    for k, number in zip(cut, _number(kinds[k] for k in cut), strict=True):
        marks[k] = f"P{number}"
    return tuple(marks)
