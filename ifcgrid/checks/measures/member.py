"""Members against the lattice: are they on their lines, do their ends lie on something, is an edge bare?

Each member is measured against the line that it belongs to, not against its neighbours, so
that one that somebody moved does not make its neighbours look wrong.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.checks.case import Case
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.tributary import Runs

__all__ = [
    "BareEdges",
    "Ends",
    "find_bare_edges",
    "find_ends",
    "find_hanger_offsets",
    "find_offsets",
    "runs_of",
]

_Floats = NDArray[np.float64]


def _axis(case: Case) -> NDArray[np.int64]:
    """Along which local axis (m,) each member runs: 1 for cross tees."""
    return np.where(case.ceiling.members.role == Role.CROSS_TEE, 1, 0)


def _line_at(case: Case) -> _Floats:
    """Where across (m,) the line of each member lies; tee lines are those of the tee's row."""
    members, layout = case.ceiling.members, case.ceiling.layout
    is_tee = members.role == Role.CROSS_TEE
    at = members.line * np.where(is_tee, layout.along, layout.across)
    row = np.floor((members.start[:, 1] + members.end[:, 1]) / 2 / layout.across).astype(np.int64)
    return np.asarray(at + np.where(is_tee, _row_offsets(case, row), 0.0), dtype=np.float64)


def _row_offsets(case: Case, row: NDArray[np.int64]) -> _Floats:
    """How far the tee lines of rows (n,) are shifted along u."""
    offsets = np.array(case.ceiling.layout.row_offsets)
    return np.asarray(offsets[row % len(offsets)])


def _on_lattice(case: Case) -> NDArray[np.int64]:
    return np.flatnonzero(case.ceiling.members.role != Role.WALL_ANGLE)


def find_offsets(case: Case) -> tuple[NDArray[np.int64], _Floats]:
    """Members on the lattice, and how far (n,) the farther of their ends is off their line, in mm."""
    chosen = _on_lattice(case)
    members, across = case.ceiling.members, 1 - _axis(case)[chosen]
    row = np.arange(len(chosen))
    line = _line_at(case)[chosen]
    off = [np.abs(ends[chosen][row, across] - line) for ends in (members.start, members.end)]
    return chosen, np.maximum(*off)


def find_hanger_offsets(case: Case) -> _Floats:
    """How far (h,) each hanger is off the line of its main, in mm."""
    hangers = case.ceiling.hangers
    off: _Floats = np.abs(hangers.point[:, 1] - hangers.line * case.ceiling.layout.across)
    return off


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ends:
    """Ends of members: `member` (n,) index, `point` (n, 2) local, `gap` (n,) mm to what holds them."""

    member: NDArray[np.int64]
    point: _Floats
    gap: _Floats


def find_ends(case: Case) -> Ends:
    """How far each end of a main, cross tee or second tee is from what it can rest on.

    A main rests on the wall angle; a cross tee on mains, on cross tees of its own line (a
    piece that goes on) and the wall angle; a second tee on cross tees and the wall angle.
    An end within the angle's face of the wall lies on it: its gap is 0.
    """
    members, layout = case.ceiling.members, case.ceiling.layout
    chosen, axis = _on_lattice(case), _axis(case)
    member = np.concatenate([chosen, chosen])
    point = np.concatenate([members.start[chosen], members.end[chosen]])
    # The end as it would lie if the member were on its line.
    point[np.arange(len(member)), 1 - axis[member]] = _line_at(case)[member]
    wall = shapely.distance(case.outline.boundary, shapely.points(point))
    gap = np.maximum(wall - case.ceiling.system.angle.face, 0.0)
    for roles, holders, module, along in (
        ((Role.CROSS_TEE,), (Role.MAIN_RUNNER, Role.SECOND_TEE), layout.across, 1),
        ((Role.SECOND_TEE, Role.MAIN_RUNNER), (Role.CROSS_TEE,), layout.along, 0),
    ):
        ends = np.flatnonzero(np.isin(members.role[member], roles))
        held = _held(case, point[ends], holders, module, along)
        if roles[0] is Role.SECOND_TEE:
            held[members.role[member[ends]] == Role.MAIN_RUNNER] = np.inf
        gap[ends] = np.minimum(gap[ends], held)
    return Ends(member=member, point=point, gap=gap)


def _held(case: Case, point: _Floats, holders: tuple[Role, ...], module: float, along: int) -> _Floats:
    """Distance (n,) along `along` from points to the nearest line that holds them there, inf where none."""
    line = np.rint(point[:, along] / module).astype(np.int64)
    runs = runs_of(case, holders)
    passes = runs.covering(line, point[:, 1 - along]) >= 0
    return np.where(passes, np.abs(point[:, along] - line * module), np.inf)


def runs_of(case: Case, roles: tuple[Role, ...]) -> Runs:
    """Members of some roles as runs on their lines; they must all run along one axis."""
    members = case.ceiling.members
    chosen = np.flatnonzero(np.isin(members.role, roles))
    axis = 1 if Role.CROSS_TEE in roles else 0
    start, end = members.start[chosen, axis], members.end[chosen, axis]
    return Runs(
        line=members.line[chosen].astype(np.int64),
        at=_line_at(case)[chosen],
        start=np.minimum(start, end),
        end=np.maximum(start, end),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BareEdges:
    """Panel edges on grid lines: `panel` (n,) index, `point` (n, 2) their middle, `is_bare` (n,)."""

    panel: NDArray[np.int64]
    point: _Floats
    is_bare: NDArray[np.bool_]


def find_bare_edges(case: Case) -> BareEdges:
    """Edges of panels on grid lines inside the room, and whether no member passes their middle."""
    parts = [
        _edges(case, 0, (Role.MAIN_RUNNER, Role.SECOND_TEE)),
        _edges(case, 1, (Role.CROSS_TEE,)),
    ]
    panel, point, is_bare = (np.concatenate(column) for column in zip(*parts, strict=True))
    return BareEdges(panel=panel, point=point, is_bare=is_bare)


def _edges(
    case: Case, axis: int, roles: tuple[Role, ...]
) -> tuple[NDArray[np.int64], _Floats, NDArray[np.bool_]]:
    """Edges along one axis. Of a panel that is no rectangle, those that its polygon has there."""
    panels, layout = case.ceiling.panels, case.ceiling.layout
    module = layout.across if axis == 0 else layout.along
    owner = np.tile(np.arange(len(panels)), 2)
    across = np.concatenate([panels.bounds[:, 1 - axis], panels.bounds[:, 3 - axis]])
    along = np.tile((panels.bounds[:, axis] + panels.bounds[:, 2 + axis]) / 2, 2)
    shift = _row_offsets(case, panels.row[owner].astype(np.int64)) if axis == 1 else np.zeros(len(owner))
    line = np.rint((across - shift) / module).astype(np.int64)
    point = np.empty((len(owner), 2))
    point[:, axis], point[:, 1 - axis] = along, across
    on_line = np.abs(across - shift - line * module) <= tolerance.LENGTH
    odd = np.isin(owner, np.array(sorted(panels.outlines), dtype=np.int64))
    spots = shapely.points(point)
    # An edge along a wall lies on the wall angle.
    away = np.asarray(shapely.distance(case.outline.boundary, spots)) > tolerance.LENGTH
    inside = np.asarray(shapely.contains(case.outline, spots)) & away
    for k in np.flatnonzero(on_line & odd & inside).tolist():
        edge = panels.outlines[int(owner[k])].boundary
        on_line[k] = bool(shapely.dwithin(edge, shapely.Point(point[k]), tolerance.LENGTH))
    chosen = on_line & inside
    held = runs_of(case, roles).covering(line[chosen], along[chosen]) >= 0
    return owner[chosen], point[chosen], ~held
