"""Where along a main hangers have to be: beside splices, notches and the corners of devices.

At splices: one within the system's reach, or one on each side (NAVEDTRA 14044 p. 5-17: on
each side of all splices). At notches that weaken a main: one on each side. At corners of
lay-in devices that lie on a main: one within the reach (City of Daly City: within 3 in).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ifcgrid.design.covering import Window
from ifcgrid.design.stretches import Stretch, unite
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Members, Opening, Role
from ifcgrid.domain.hanging import Pieces
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.scheme import HangerRules
from ifcgrid.domain.system import GridSystem

__all__ = ["Demands", "find_demands"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Demands:
    """What one main asks for besides spacing and ends, in local u: windows, and where none can be."""

    windows: tuple[Window, ...] = ()
    shut: tuple[Stretch, ...] = ()


def find_demands(
    system: GridSystem,
    layout: Layout,
    members: Members,
    pieces: Pieces | None,
    devices: Sequence[Opening],
) -> dict[int, Demands]:
    """Demands by index of the main; mains that ask for nothing are left out."""
    rules = system.hanging
    windows: dict[int, list[Window]] = {}
    shut: dict[int, list[Stretch]] = {}
    for main, place, sides in _joints(system, members, pieces):
        windows.setdefault(main, []).extend(_beside(place, sides, rules))
        shut.setdefault(main, []).append((place - rules.splice_gap, place + rules.splice_gap))
    if rules.corner_reach > 0:
        for main, place in _corners(layout, members, devices):
            window = (place - rules.corner_reach, place + rules.corner_reach)
            windows.setdefault(main, []).append(window)
    demands = {}
    for main, wanted in windows.items():
        low, high = float(members.start[main, 0]), float(members.end[main, 0])
        clipped = sorted({(max(a, low), min(b, high)) for a, b in wanted})
        demands[main] = Demands(
            windows=tuple(w for w in clipped if w[0] < w[1]), shut=tuple(unite(shut.get(main, [])))
        )
    return demands


def _beside(place: float, sides: int, rules: HangerRules) -> list[Window]:
    if sides == 1:
        return [(place - rules.splice_reach, place + rules.splice_reach)]
    before = (place - rules.splice_reach, place - rules.splice_gap)
    return [before, (place + rules.splice_gap, place + rules.splice_reach)]


def _joints(system: GridSystem, members: Members, pieces: Pieces | None) -> list[tuple[int, float, int]]:
    """Splices and notches of all mains: which main, where in local u, on how many sides it wants hangers."""
    if pieces is None:
        return []
    of_main = members.role[pieces.member] == Role.MAIN_RUNNER
    start = members.start[pieces.member, 0] + pieces.start
    found: list[tuple[int, float, int]] = []
    if system.hanging.splice_sides:
        for k in np.flatnonzero(of_main & (pieces.number > 0)).tolist():
            found.append((int(pieces.member[k]), float(start[k]), system.hanging.splice_sides))
    if system.cutting and system.cutting.notches and pieces.stock_start is not None:
        for k in np.flatnonzero(of_main).tolist():
            for notch in system.cutting.notches:
                at = notch - float(pieces.stock_start[k])
                if tolerance.LENGTH < at < pieces.length[k] - tolerance.LENGTH:
                    found.append((int(pieces.member[k]), float(start[k]) + at, 2))
    return found


def _corners(layout: Layout, members: Members, devices: Sequence[Opening]) -> list[tuple[int, float]]:
    """Corners of lay-in devices on mains: which main, and where in local u."""
    places: dict[int, set[float]] = {}
    for cells in (device.cells for device in devices if device.is_lay_in):
        if cells is None:
            continue
        column, row, columns, rows = cells
        for line in (row, row + rows):
            if line % layout.main_every == layout.main_phase % layout.main_every:
                places.setdefault(line, set()).update(
                    (column * layout.along, (column + columns) * layout.along)
                )
    found = []
    for main in np.flatnonzero(members.role == Role.MAIN_RUNNER).tolist():
        low, high = float(members.start[main, 0]), float(members.end[main, 0])
        found += [
            (main, place) for place in sorted(places.get(int(members.line[main]), ())) if low <= place <= high
        ]
    return found
