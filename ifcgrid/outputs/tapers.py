"""Cut lengths along walls that run out of square: every border tee and panel has its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.layout import Border
from ifcgrid.domain.wall_runs import wall_runs

__all__ = ["TaperTee", "TaperedPanel", "TaperedWall", "find_tapers"]

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class TaperTee:
    """A member that ends on a tapering wall: its key, its role in words and its length in mm.

    `at` is how far along the wall it ends, from the wall's start.
    """

    key: str
    role: str
    at: float
    length: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TaperedPanel:
    """A panel at a tapering wall: its key and its two sides towards the wall in mm, in wall order."""

    key: str
    at: float
    first: float
    second: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TaperedWall:
    """A wall whose border tapers, with everything that is cut to it, in order along the wall."""

    border: Border
    tees: tuple[TaperTee, ...]
    panels: tuple[TaperedPanel, ...]


def find_tapers(ceiling: Ceiling) -> tuple[TaperedWall, ...]:
    """The straight walls whose border is wider at one end than at the other, in the order of borders.

    Oblique and curved walls have no border to taper; their pieces are in the cut list.
    """
    curved = _curved_edges(ceiling)
    return tuple(
        TaperedWall(
            border=border,
            tees=tuple(_tees(ceiling, border)),
            panels=tuple(_panels(ceiling, border)),
        )
        for border in ceiling.layout.borders
        if border.axis != "oblique"
        and (border.ring, border.edge) not in curved
        and tolerance.is_greater(border.greatest, border.least)
        and _runs_off(ceiling, border)
    )


def _curved_edges(ceiling: Ceiling) -> frozenset[tuple[int, int]]:
    """Edges, by ring and number, of walls that are curves made of many."""
    outline = ceiling.zone.outline
    return frozenset(
        (ring, edge)
        for ring, line in enumerate((outline.exterior, *outline.interiors))
        for edges, is_curve in wall_runs(np.asarray(line.coords)[:-1, :2])
        if is_curve
        for edge in edges
    )


def _ends(ceiling: Ceiling, border: Border) -> _Floats:
    """The wall's start and end (2, 2), local."""
    return ceiling.layout.frame.to_local([border.start, border.end])


def _runs_off(ceiling: Ceiling, border: Border) -> bool:
    """Whether the wall itself is out of square; shifted rows alone also give borders of two widths."""
    run = np.abs(np.diff(_ends(ceiling, border), axis=0)[0])
    return bool(run.min() > tolerance.LENGTH)


def _along_wall(ends: _Floats, points: _Floats) -> tuple[_Floats, NDArray[np.bool_]]:
    """Places (n,) of points along a wall, and which of them lie on it."""
    run = ends[1] - ends[0]
    length = float(np.hypot(*run))
    unit = run / length
    away = points - ends[0]
    at = away @ unit
    off = np.abs(away @ np.array([-unit[1], unit[0]]))
    hair = 2 * tolerance.LENGTH
    return at, (off <= hair) & (at >= -hair) & (at <= length + hair)


def _tees(ceiling: Ceiling, border: Border) -> Iterator[TaperTee]:
    members = ceiling.members
    ends = _ends(ceiling, border)
    at_start, on_start = _along_wall(ends, members.start)
    at_end, on_end = _along_wall(ends, members.end)
    at = np.where(on_start, at_start, at_end)
    chosen = np.flatnonzero((on_start | on_end) & (members.role != Role.WALL_ANGLE))
    keys = members.keys()
    for k in chosen[np.argsort(at[chosen], kind="stable")].tolist():
        yield TaperTee(
            key=keys[k],
            role=Role(int(members.role[k])).word.replace("_", " "),
            at=float(at[k]),
            length=float(members.length[k]),
        )


def _panels(ceiling: Ceiling, border: Border) -> Iterator[TaperedPanel]:
    """Panels with an edge on the wall: how wide they are at both ends of that edge."""
    panels, ends = ceiling.panels, _ends(ceiling, border)
    axis = 0 if border.axis == "u" else 1
    keys = panels.keys()
    found = []
    for k, shape in panels.outlines.items():
        points = shapely.get_coordinates(shape.exterior)[:-1]
        at, on = _along_wall(ends, points)
        if np.count_nonzero(on) < 2:
            continue
        order = np.argsort(at[on])[[0, -1]]
        places, corners = at[on][order], points[on][order]
        if places[1] - places[0] <= tolerance.SHORTEST_EDGE:
            continue
        low, high = panels.bounds[k][axis], panels.bounds[k][axis + 2]
        middle = points[:, axis].mean()
        far = low if corners[:, axis].mean() > middle else high
        found.append((float(places[0]), keys[k], np.abs(corners[:, axis] - far)))
    for place, key, sides in sorted(found, key=lambda entry: entry[:2]):
        yield TaperedPanel(key=key, at=place, first=float(sides[0]), second=float(sides[1]))
