"""Members: mains, cross tees of both ranks and the wall angle.

Mains run through from wall to wall. Cross tees span main to main on every line across
them, second tees span cross tee to cross tee on the lines between the mains (scheme of
NAVEDTRA 14044 p. 5-17: mains, then tees into the mains, then border tees cut to length).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.field import Field, rooms_at, see_field
from ifcgrid.design.rows import join_members, openings_in, plain_layouts
from ifcgrid.design.runs import Runs, find_nodes, find_runs, no_runs
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Members, Opening, Role
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.room import Zone
from ifcgrid.domain.system import GridSystem

__all__ = ["CROWDED", "place_members"]

CROWDED = 10_000
"""Added to a tee's index when another of its line begins in the same lattice step (beside a column)."""


def place_members(
    zone: Zone, system: GridSystem, layout: Layout, openings: Sequence[Opening] = ()
) -> Members:
    """All members of a zone's ceiling, sorted by role, line and place on the line.

    A main's index counts the runs of its line; a tee's index is the lattice step in which
    it begins, plus `CROWDED` for each earlier piece of the same line in that step. Tees
    inside a lay-in opening are left out, mains never. Where a cross tee ends in an opening,
    the second tee that it would have cut runs on. Between shifted rows every line is a main,
    and the cross tees of each row stand at its own places.
    """
    if (layout.along, layout.across) != (system.along, system.across):
        raise ValueError(
            f"zone {zone.key}: the layout's cells are {layout.along} x {layout.across} mm, "
            f"those of {system.id} {system.along} x {system.across} mm; they must be the same"
        )
    if layout.row_shift:
        return join_members(
            layout,
            [
                place_members(zone, system, plain, openings_in(openings, layout, number))
                for number, _, plain in plain_layouts(layout)
            ],
        )
    field = see_field(zone, layout)
    along, across = find_runs(field, 0, layout.across), find_runs(field, 1, layout.along)
    is_main = along.line % layout.main_every == layout.main_phase % layout.main_every
    mains, between = along.pick(is_main), along.pick(~is_main)
    crossing = across.without(_filled(openings, layout, axis=1))
    second = between.without(_filled(openings, layout, axis=0))
    j, i = find_nodes(mains, layout.along, 0.0)
    cross_tees = _long_enough(crossing.cut(i, j * np.float64(layout.across)))
    # A cross tee cuts a second tee only where it passes through; one that ends there is carried by it.
    i, j = find_nodes(crossing, layout.across, tolerance.SHORTEST_MEMBER)
    second_tees = _long_enough(second.cut(j, i * np.float64(layout.along)))
    return _gather(
        zone,
        layout,
        [
            _tees(Role.MAIN_RUNNER, mains, _order_on_line(mains.line), layout.across, axis=0),
            _tees(Role.CROSS_TEE, cross_tees, _steps(cross_tees, layout.across), layout.along, axis=1),
            _tees(Role.SECOND_TEE, second_tees, _steps(second_tees, layout.along), layout.across, axis=0),
            _wall_angles(field),
        ],
    )


def _filled(openings: Sequence[Opening], layout: Layout, axis: int) -> Runs:
    """The parts of lines that lie inside lay-in openings of several cells."""
    lines: list[int] = []
    spans: list[tuple[int, int]] = []
    for cells in (opening.cells for opening in openings if opening.is_lay_in):
        if cells is not None:
            first, count = cells[1 - axis], cells[3 - axis]
            inner = range(first + 1, first + count)
            lines += inner
            spans += [(cells[axis], cells[axis] + cells[axis + 2])] * len(inner)
    if not lines:
        return no_runs()
    ends = np.array(spans) * (layout.along if axis == 0 else layout.across)
    return Runs(line=np.array(lines, dtype=np.int32), start=ends[:, 0], end=ends[:, 1])


def _long_enough(runs: Runs) -> Runs:
    return runs.pick(runs.end - runs.start >= tolerance.SHORTEST_MEMBER)


def _order_on_line(group: NDArray[np.int32]) -> NDArray[np.int32]:
    """How many entries of the same group stand before each entry; groups are sorted."""
    first = np.flatnonzero(np.concatenate([[True], group[1:] != group[:-1]])) if len(group) else group
    counts = np.diff(np.append(first, len(group)))
    order: NDArray[np.int32] = (np.arange(len(group)) - np.repeat(first, counts)).astype(np.int32)
    return order


def _steps(runs: Runs, module: float) -> NDArray[np.int32]:
    """The lattice step in which each run begins, made unique on its line."""
    step = np.floor((runs.start + tolerance.LENGTH) / module).astype(np.int32)
    least, reach = int(step.min(initial=0)), int(np.ptp(step)) + 1 if len(step) else 1
    together = runs.line.astype(np.int64) * reach + (step - least)
    number: NDArray[np.int32] = step + CROWDED * _order_on_line(together)
    return number


_Part = tuple[
    NDArray[np.int32], NDArray[np.int32], NDArray[np.int32], NDArray[np.float64], NDArray[np.float64]
]


def _tees(role: Role, runs: Runs, index: NDArray[np.int32], module: float, axis: int) -> _Part:
    ends = np.empty((2, len(runs), 2))
    ends[:, :, 1 - axis] = runs.line * module
    ends[0, :, axis], ends[1, :, axis] = runs.start, runs.end
    return np.full(len(runs), role, dtype=np.int32), runs.line, index, ends[0], ends[1]


def _wall_angles(field: Field) -> _Part:
    long_enough = np.hypot(*(field.end - field.start).T) >= tolerance.SHORTEST_MEMBER
    ring = field.ring[long_enough]
    role = np.full(len(ring), Role.WALL_ANGLE, dtype=np.int32)
    return role, ring, field.edge[long_enough], field.start[long_enough], field.end[long_enough]


def _gather(zone: Zone, layout: Layout, parts: Sequence[_Part]) -> Members:
    role, line, index, start, end = (np.concatenate(column) for column in zip(*parts, strict=True))
    return Members(
        role=role,
        line=line,
        index=index,
        room=rooms_at(zone, layout, (start + end) / 2),
        start=start,
        end=end,
    )
