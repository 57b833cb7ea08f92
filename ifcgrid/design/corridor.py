"""Corridors: everyone sees their long axis, so their two lanes are made equal before all else."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from ifcgrid.design.layout.walls import find_chords, read_edges
from ifcgrid.domain import tolerance
from ifcgrid.domain.building import HeldLine
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Layout

__all__ = ["corridor_axis", "lies_on_axis"]

LEAST_RATIO = 4.0
"""A room at least this many times as long as wide is a corridor (default of this project)."""

LEAST_SHARE = 0.5
"""At least this share of a corridor's length has its two long walls the same distance apart."""


def corridor_axis(outline: Polygon) -> HeldLine | None:
    """The line midway between the long walls of a corridor; None when a room is none.

    Niches and cross passages do not move it: it is the middle of those facing walls that
    run along most of the length.
    """
    envelope = shapely.oriented_envelope(outline)
    if not isinstance(envelope, Polygon):
        return None
    corners = np.asarray(envelope.exterior.coords)[:3, :2]
    sides = np.diff(corners, axis=0)
    lengths = np.hypot(*sides.T)
    if lengths.min() <= 0 or tolerance.is_less(lengths.max(), LEAST_RATIO * lengths.min()):
        return None
    dx, dy = sides[int(np.argmax(lengths))].tolist()
    angle = round(float(np.degrees(np.arctan2(dy, dx))), 9) % 180.0
    frame = Frame(x=float(corners[0, 0]), y=float(corners[0, 1]), angle_deg=angle)
    edges = read_edges(outline)
    chords = find_chords(frame.to_local(edges.start), frame.to_local(edges.end), 1)
    middle = (chords.left_s + chords.right_s) / 2
    is_even = np.abs(chords.width[:, 1] - chords.width[:, 0]) <= tolerance.LENGTH
    is_even &= np.abs(middle[:, 1] - middle[:, 0]) <= tolerance.LENGTH
    if not is_even.any():
        return None
    _, index = np.unique((middle[is_even, 0] / tolerance.LENGTH).round(), return_inverse=True)
    run = np.bincount(index.ravel(), weights=chords.height[is_even])
    if run.max() < LEAST_SHARE * lengths.max():
        return None
    chosen = middle[is_even, 0][index.ravel() == int(np.argmax(run))]
    x, y = frame.to_world([[0.0, float(chosen[0])]])[0].tolist()
    return HeldLine(name="the corridor's axis", point=(x, y), angle_deg=angle)


def lies_on_axis(layout: Layout, axis: HeldLine) -> str:
    """What of a grid lies on an axis along it: "joint", "panel" (its middle), or "" for neither."""
    turn = (axis.angle_deg - layout.frame.angle_deg + 45.0) % 180.0 - 45.0
    place = layout.frame.to_local([axis.point])[0]
    if abs(turn) <= tolerance.ANGLE_DEG:
        at, module = float(place[1]), layout.across
    elif abs(turn - 90.0) <= tolerance.ANGLE_DEG:
        at, module = float(place[0]), layout.along
    else:
        return ""
    away = abs(at / module - round(at / module)) * module
    if away <= 2 * tolerance.LENGTH:
        return "joint"
    return "panel" if abs(away - module / 2) <= 2 * tolerance.LENGTH else ""
