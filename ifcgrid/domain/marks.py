"""Marks of equal pieces, the same in the model, on sheets, in the cut list and in the take-off.

Mains and tees bear theirs in `Pieces.mark` (M, T, S and a number); wall angles are marked
A1, A2 ... and cut panels P1, P2 ... here, in the order in which sizes first occur. P0 is a
whole panel, A0 a whole bar in a wall that is longer than one.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable

import numpy as np
import shapely

from ifcgrid.domain.ceiling import Members, Panels, Role

__all__ = ["PRECISION_DIGITS", "mark_members", "mark_panels"]

PRECISION_DIGITS = 1
"""Pieces whose lengths agree to a tenth of a millimetre are equal."""

_LETTERS = {Role.MAIN_RUNNER: "M", Role.CROSS_TEE: "T", Role.SECOND_TEE: "S", Role.WALL_ANGLE: "A"}


def _number(kinds: Iterable[Hashable]) -> list[int]:
    """1 for the first kind that occurs, 2 for the next new one ..."""
    seen: dict[Hashable, int] = {}
    return [seen.setdefault(kind, len(seen) + 1) for kind in kinds]


def mark_members(members: Members) -> tuple[str, ...]:
    """One mark a member: A1, A2 ... for wall angles; uncut, mains and tees are M, T and S by length."""
    lengths = np.round(members.length, PRECISION_DIGITS).tolist()
    roles = [Role(role) for role in members.role.tolist()]
    marks = [""] * len(members)
    for role in Role:
        chosen = [k for k, own in enumerate(roles) if own is role]
        for k, number in zip(chosen, _number(lengths[k] for k in chosen), strict=True):
            marks[k] = f"{_LETTERS[role]}{number}"
    return tuple(marks)


def mark_panels(panels: Panels) -> tuple[str, ...]:
    """One mark a panel: P0 for whole ones, P1, P2 ... for cut ones of one shape and place in their cell."""
    cut = np.flatnonzero(~panels.is_full).tolist()
    marks = ["P0"] * len(panels)
    bounds = np.round(panels.bounds[:, 2:] - panels.bounds[:, :2], PRECISION_DIGITS).tolist()
    kinds: list[Hashable] = []
    for k in cut:
        if k in panels.outlines:
            points = shapely.get_coordinates(panels.outlines[k].normalize()) - panels.bounds[k, :2]
            kinds.append(tuple(map(tuple, np.round(points, PRECISION_DIGITS).tolist())))
        else:
            kinds.append(tuple(bounds[k]))
    for k, number in zip(cut, _number(kinds), strict=True):
        marks[k] = f"P{number}"
    return tuple(marks)
