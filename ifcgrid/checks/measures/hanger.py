"""Hangers along their mains: gaps, ends, slopes, and the pieces that they hold."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ifcgrid.checks.case import Case
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.hanging import HangerKind

__all__ = [
    "Gaps",
    "end_tees",
    "find_ends",
    "find_gaps",
    "find_level_steps",
    "find_slopes",
    "find_splices",
    "is_countered",
]

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gaps:
    """Distances along mains: `main` (n,) index into the members, `value` (n,) mm, `point` (n, 2) local."""

    main: NDArray[np.int64]
    value: _Floats
    point: _Floats

    def __len__(self) -> int:
        return len(self.main)


def _gather(main: list[int], value: list[float], point: list[tuple[float, float]]) -> Gaps:
    return Gaps(
        main=np.array(main, dtype=np.int64),
        value=np.array(value, dtype=float),
        point=np.array(point, dtype=float).reshape(-1, 2),
    )


def _places(case: Case) -> dict[int, _Floats]:
    """The hangers of each main by their place along it, ascending."""
    at = case.ceiling.hangers.point[:, 0]
    return {main: np.sort(at[case.hanger_main == main]) for main in case.mains.tolist()}


def _reach(case: Case, main: int) -> tuple[float, float, float]:
    """Low and high end of a main along u, and its place across."""
    start, end = case.ceiling.members.start[main], case.ceiling.members.end[main]
    return float(min(start[0], end[0])), float(max(start[0], end[0])), float((start[1] + end[1]) / 2)


def find_gaps(case: Case) -> Gaps:
    """Distances between neighbouring hangers; a main without hangers has its whole length as one gap."""
    mains, values, points = [], [], []
    for main, places in _places(case).items():
        low, high, across = _reach(case, main)
        stops = [low, high] if len(places) == 0 else places.tolist()
        for a, b in pairwise(stops):
            mains.append(main)
            values.append(b - a)
            points.append(((a + b) / 2, across))
    return _gather(mains, values, points)


def find_ends(case: Case) -> Gaps:
    """Distances from both ends of each main to its nearest hanger; its length where it has none."""
    mains, values, points = [], [], []
    for main, places in _places(case).items():
        low, high, across = _reach(case, main)
        for end, first in ((low, places[:1]), (high, places[-1:])):
            mains.append(main)
            values.append(abs(float(first[0]) - end) if len(first) else high - low)
            points.append((end, across))
    return _gather(mains, values, points)


def end_tees(case: Case, ends: Gaps) -> _Floats:
    """Length (n,) of the border tee at each main's end: from the wall to the first cross-tee line."""
    along = case.ceiling.layout.along
    lengths = []
    for main, (u, _) in zip(ends.main.tolist(), ends.point.tolist(), strict=True):
        low, high, _ = _reach(case, main)
        first = np.floor(low / along + tolerance.RELATIVE) + 1
        last = np.ceil(high / along - tolerance.RELATIVE) - 1
        lengths.append(abs((first if u == low else last) * along - u))
    return np.array(lengths, dtype=float)


def find_slopes(case: Case) -> _Floats:
    """Run over rise (h,) of each hanger; NaN where it leans and its top is not known."""
    hangers = case.ceiling.hangers
    run = np.hypot(*(hangers.top_points - hangers.point).T)
    rise = hangers.top - hangers.bottom
    rise = np.where(rise > tolerance.LENGTH, rise, np.nan)
    return np.where(run <= tolerance.LENGTH, np.where(np.isnan(rise), np.nan, 0.0), run / rise)


def is_countered(case: Case) -> NDArray[np.bool_]:
    """Which hangers (h,) have one on the same main nearby that leans the other way."""
    hangers = case.ceiling.hangers
    lean = hangers.top_points - hangers.point
    reach = case.ceiling.system.hanging.counter_reach
    found = np.zeros(len(hangers), dtype=bool)
    leaning = np.isin(hangers.kinds, (HangerKind.SPLAYED, HangerKind.COUNTER))
    for k in np.flatnonzero(leaning).tolist():
        near = leaning & (hangers.line == hangers.line[k])
        near &= np.abs(hangers.point[:, 0] - hangers.point[k, 0]) <= reach + tolerance.LENGTH
        found[k] = bool((near & (lean @ lean[k] < 0)).any())
    return found


def find_level_steps(case: Case, length: float) -> Gaps:
    """By how much the hangers of a main differ in height within `length` mm along it."""
    hangers = case.ceiling.hangers
    mains, values, points = [], [], []
    for main in case.mains.tolist():
        on = np.flatnonzero(case.hanger_main == main)
        on = on[np.argsort(hangers.point[on, 0], kind="stable")]
        for k in on.tolist():
            near = on[np.abs(hangers.point[on, 0] - hangers.point[k, 0]) <= length + tolerance.LENGTH]
            mains.append(main)
            values.append(float(np.ptp(hangers.bottom[near])))
            points.append((float(hangers.point[k, 0]), float(hangers.point[k, 1])))
    return _gather(mains, values, points)


def find_splices(case: Case) -> Gaps | None:
    """Distance from each splice of a main to its nearest hanger; None where pieces are not known."""
    pieces, members = case.ceiling.pieces, case.ceiling.members
    if pieces is None:
        return None
    mains, values, points = [], [], []
    at = case.ceiling.hangers.point[:, 0]
    on_main = members.role[pieces.member] == Role.MAIN_RUNNER
    for k in np.flatnonzero(on_main & (pieces.number > 0)).tolist():
        main = int(pieces.member[k])
        start, end = members.start[main], members.end[main]
        spot = start + (end - start) * pieces.start[k] / max(float(members.length[main]), tolerance.LENGTH)
        places = at[case.hanger_main == main]
        mains.append(main)
        values.append(float(np.abs(places - spot[0]).min()) if len(places) else float(members.length[main]))
        points.append((float(spot[0]), float(spot[1])))
    return _gather(mains, values, points)
