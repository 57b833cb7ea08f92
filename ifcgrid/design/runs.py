"""Runs: the parts of parallel lines that lie in a room, all lines at once.

A run is a line's number, a start and an end along it. Runs are found, joined and cut by
sweeping along every line over sorted events, so nothing loops over lines or edges.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.field import Field
from ifcgrid.domain import tolerance

__all__ = ["Runs", "find_nodes", "find_runs", "no_runs"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Parts of lines: `line` (n,) int, `start` and `end` (n,) mm along it, sorted."""

    line: NDArray[np.int32]
    start: NDArray[np.float64]
    end: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.line)

    def pick(self, chosen: NDArray[np.bool_]) -> Runs:
        """The runs that are chosen (n,)."""
        return Runs(line=self.line[chosen], start=self.start[chosen], end=self.end[chosen])

    def common(self, other: Runs) -> Runs:
        """What lies in both; runs that touch are one."""
        return _sweep(self, other, both=True)

    def without(self, other: Runs) -> Runs:
        """What lies in these runs and not in the other."""
        return _sweep(self, other, both=False) if len(other) else self

    def cut(self, line: NDArray[np.int32], at: NDArray[np.float64]) -> Runs:
        """These runs cut at places (m,) on lines (m,); places outside of runs do nothing."""
        lines = np.concatenate([self.line, self.line, line])
        places = np.concatenate([self.start, self.end, at])
        step = np.repeat([1, -1, 0], [len(self), len(self), len(at)])
        order = np.lexsort((-step, places, lines))
        lines, places, depth = lines[order].astype(np.int32), places[order], np.cumsum(step[order])
        piece = np.flatnonzero((depth[:-1] > 0) & (places[1:] > places[:-1]))
        return Runs(line=lines[piece], start=places[piece], end=places[piece + 1])


def no_runs() -> Runs:
    """No runs at all."""
    return Runs(line=np.empty(0, dtype=np.int32), start=np.empty(0), end=np.empty(0))


def _sweep(first: Runs, second: Runs, *, both: bool) -> Runs:
    lines = np.concatenate([first.line, first.line, second.line, second.line])
    places = np.concatenate([first.start, first.end, second.start, second.end])
    counts = [len(first), len(first), len(second), len(second)]
    in_first = np.repeat([1, -1, 0, 0], counts)
    in_second = np.repeat([0, 0, 1, -1], counts)
    # At one place what starts comes before what ends: runs that touch stay one.
    order = np.lexsort((-(in_first + in_second), places, lines))
    lines, places = lines[order], places[order]
    depth, other = np.cumsum(in_first[order]), np.cumsum(in_second[order])
    inside = np.concatenate([[False], (depth > 0) & ((other > 0) if both else (other == 0))])
    starts = np.flatnonzero(~inside[:-1] & inside[1:])
    ends = np.flatnonzero(inside[:-1] & ~inside[1:])
    found = Runs(line=lines[starts], start=places[starts], end=places[ends])
    return found.pick(found.end > found.start)


def _crossings(field: Field, axis: int, level: NDArray[np.float64], *, above: bool) -> Runs:
    """What of each line lies in the room, seen a hair above or below it."""
    a, b = field.start[:, 1 - axis, None], field.end[:, 1 - axis, None]
    crosses = (a > level) != (b > level) if above else (a >= level) != (b >= level)
    line, edge = np.nonzero(crosses.T)
    a, b, c = a[edge, 0], b[edge, 0], level[line]
    p, q = field.start[edge, axis], field.end[edge, axis]
    # An end that lies on the line gives its own coordinate, exact to the last bit.
    place = np.where(b == c, q, p + (c - a) / (b - a) * (q - p))
    order = np.lexsort((place, line))
    number, place = line[order].astype(np.int32), place[order]
    return Runs(line=number[0::2], start=place[0::2], end=place[1::2])


def find_runs(field: Field, axis: int, module: float) -> Runs:
    """The parts of the lattice's lines that lie in the open room.

    `axis` 0 asks for the lines along u, which lie at v = line * module; 1 for the lines
    along v. A line that runs along a wall has the room on one side only and is no run
    there; a vertex that only touches a line does not cut it. Runs shorter than
    `tolerance.SHORTEST_MEMBER` are left out.
    """
    across = field.start[:, 1 - axis]
    first = int(np.floor((across.min() + tolerance.LENGTH) / module)) + 1
    last = int(np.ceil((across.max() - tolerance.LENGTH) / module)) - 1
    number = np.arange(first, last + 1, dtype=np.int32)
    if len(number) == 0:
        return no_runs()
    level: NDArray[np.float64] = number * np.float64(module)
    runs = _crossings(field, axis, level, above=True)
    # Both views differ only on lines on which a vertex lies.
    if np.isin(level, across).any():
        runs = runs.common(_crossings(field, axis, level, above=False))
    runs = Runs(line=number[runs.line], start=runs.start, end=runs.end)
    return runs.pick(runs.end - runs.start >= tolerance.SHORTEST_MEMBER)


def find_nodes(runs: Runs, module: float, margin: float) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """The crossings of runs with the lattice's other lines, as (line, other line), (m,) each.

    A run counts only where it goes on for `margin` mm past the other line on both sides.
    """
    first = np.ceil((runs.start + margin) / module).astype(np.int32)
    last = np.floor((runs.end - margin) / module).astype(np.int32)
    count = np.maximum(last - first + 1, 0)
    begin = np.cumsum(count) - count
    other = np.arange(int(count.sum()), dtype=np.int32) - np.repeat(begin - first, count).astype(np.int32)
    return np.repeat(runs.line, count), other
