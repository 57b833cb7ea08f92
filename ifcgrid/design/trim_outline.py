"""The outline that a ceiling's wall angles go round: what a model itself says of the ceiling's extent."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Members, Role

__all__ = ["outline_of_angles"]


def outline_of_angles(members: Members) -> Polygon | None:
    """The local outline whose edges the wall angles are; None where they do not close up.

    Wall angles are numbered by ring and edge. Edges too short for an angle leave a gap of
    no more than `tolerance.SHORTEST_MEMBER` each; angles that somebody moved, cut or took
    away leave a wider one.
    """
    chosen = np.flatnonzero(members.role == Role.WALL_ANGLE)
    rings = []
    for number in sorted(set(members.line[chosen].tolist())):
        own = chosen[members.line[chosen] == number]
        order = own[np.argsort(members.index[own], kind="stable")]
        # Edges are numbered as the outline runs, which round a column may be against the angles.
        ring = _close(members, order) or _close(members, order[::-1])
        if ring is None:
            return None
        rings.append(ring)
    if not rings or 0 not in members.line[chosen]:
        return None
    outline = Polygon(rings[0], rings[1:])
    return outline if outline.is_valid and not outline.is_empty else None


def _close(members: Members, edges: NDArray[np.intp]) -> list[tuple[float, float]] | None:
    start, end = members.start[edges], members.end[edges]
    gap = np.hypot(*(np.roll(start, -1, axis=0) - end).T)
    if len(edges) < 3 or (gap > tolerance.SHORTEST_MEMBER + tolerance.LENGTH).any():
        return None
    points: list[tuple[float, float]] = []
    for a, b, left in zip(start.tolist(), end.tolist(), gap.tolist(), strict=True):
        points.append((a[0], a[1]))
        if left > tolerance.LENGTH:
            points.append((b[0], b[1]))
    return points
