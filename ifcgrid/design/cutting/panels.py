"""Cut panels paired so that the fewest whole ones are cut; one panel gives at most two pieces.

Pieces of one size and kind are one sort. Which sorts go together is a graph; the most
pairs are a largest b-matching in it. Where every sort has partners by length alone (strips
along one axis) the sorted two-pointer is exact; else HiGHS solves the matching as an
integer program, and without that extra a greedy one stands with the bound beside it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ifcgrid.design.cutting.columns import find_solver, new_program
from ifcgrid.design.cutting.fill import pair_ends
from ifcgrid.design.cutting.panel_fit import free_rects, turns_that_fit
from ifcgrid.domain import tolerance
from ifcgrid.domain.cutting import Direction, PanelDemand, PanelPlan, Side

__all__ = ["cut_panel_pairs"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sort:
    """Equal pieces: indices of the demands, size, and the factory sides."""

    members: tuple[int, ...]
    size: tuple[float, float]
    factory: frozenset[Side]


_Turns = Mapping[tuple[int, int], tuple[bool, int]]
"""Sorts i <= j that go together: whether j is laid first, and the quarter turns of the second."""


def cut_panel_pairs(
    demands: Sequence[PanelDemand],
    *,
    system: str,
    along: float,
    across: float,
    full: int = 0,
    kerf: float = 0.0,
    direction: Direction = Direction.FREE,
    scope: str = "",
    use_solver: bool = True,
) -> PanelPlan:
    """Pairs cut panels so that as few whole ones as can be found are cut.

    Args:
        demands: the cut panels, each in its own cell.
        system: whose panels these are.
        along: size of a whole panel along the mains.
        across: its size across them.
        full: whole panels that are hung uncut.
        kerf: what one cut takes.
        direction: how the pattern lets pieces be turned; by a quarter only square panels.
        scope: whose pieces are cut together, in words.
        use_solver: match by HiGHS where it is there.
    """
    if direction is Direction.FREE and not tolerance.is_equal(along, across):
        direction = Direction.HALF_TURN
    sorts = _sort(demands)
    turns = _compatible(demands, sorts, along, across, kerf, direction)
    pairs, bound, method = _match(sorts, turns, along, across, kerf, use_solver)
    sheets, quarter = _hand_out(sorts, turns, pairs)
    return PanelPlan(
        system=system,
        scope=scope,
        along=along,
        across=across,
        kerf=kerf,
        direction=direction,
        full=full,
        demands=tuple(demands),
        sheets=tuple(sheets),
        turns=tuple(quarter),
        bound=len(demands) - bound,
        method=method,
    )


def _sort(demands: Sequence[PanelDemand]) -> list[_Sort]:
    groups: dict[Any, list[int]] = {}
    for index, demand in enumerate(demands):
        rings = tuple(tuple((round(u, 1), round(v, 1)) for u, v in ring) for ring in demand.rings)
        groups.setdefault((tuple(sorted(demand.factory)), rings), []).append(index)
    sorts = []
    for _, members in sorted(groups.items(), key=lambda g: g[1][0]):
        ring = np.array(demands[members[0]].rings[0])
        width, depth = (ring.max(axis=0) - ring.min(axis=0)).tolist()
        sorts.append(_Sort(members=tuple(members), size=(width, depth), factory=demands[members[0]].factory))
    return sorts


def _compatible(
    demands: Sequence[PanelDemand],
    sorts: Sequence[_Sort],
    along: float,
    across: float,
    kerf: float,
    direction: Direction,
) -> _Turns:
    free = [free_rects(demands[sort.members[0]], along, across, kerf) for sort in sorts]
    found: dict[tuple[int, int], tuple[bool, int]] = {}
    for i, one in enumerate(sorts):
        for j in range(i, len(sorts)):
            other = sorts[j]
            if turns := turns_that_fit(free[i], other.size, other.factory, direction):
                found[i, j] = (False, turns[0])
            elif turns := turns_that_fit(free[j], one.size, one.factory, direction):
                found[i, j] = (True, turns[0])
    return found


def _match(
    sorts: Sequence[_Sort], turns: _Turns, along: float, across: float, kerf: float, use_solver: bool
) -> tuple[dict[tuple[int, int], int], int, str]:
    """How often each pair is cut, the most pairs that any plan can make, and how that is known."""
    counts = [len(sort.members) for sort in sorts]
    if not turns:
        return {}, 0, "no two pieces fit in one panel"
    greedy = _greedy(counts, turns)
    most = _cover_bound(counts, turns)
    if sum(greedy.values()) == most:
        return greedy, most, "pairs, exact"
    by_length = _two_pointer(sorts, turns, along, across, kerf)
    if by_length is not None:
        return by_length, sum(by_length.values()), "sorted pairs, exact"
    solver = find_solver() if use_solver else None
    if solver is None:
        return greedy, most, "greedy pairs"
    matched = _solve(solver, counts, turns)
    return matched, sum(matched.values()), "matching, exact"


def _greedy(counts: Sequence[int], turns: _Turns) -> dict[tuple[int, int], int]:
    """Pairs, the sorts with the fewest partners first."""
    left = list(counts)
    partners = [sum(k in pair for pair in turns) for k in range(len(counts))]
    made: dict[tuple[int, int], int] = {}
    for i, j in sorted(
        turns, key=lambda p: (min(partners[p[0]], partners[p[1]]), max(partners[p[0]], partners[p[1]]), p)
    ):
        number = left[i] // 2 if i == j else min(left[i], left[j])
        if number:
            made[i, j] = number
            left[i] -= number
            left[j] -= number
    return made


def _cover_bound(counts: Sequence[int], turns: _Turns) -> int:
    """No more pairs than half of the pieces that have a partner at all."""
    touched = {k for pair in turns for k in pair}
    return sum(counts[k] for k in touched) // 2


def _two_pointer(
    sorts: Sequence[_Sort], turns: _Turns, along: float, across: float, kerf: float
) -> dict[tuple[int, int], int] | None:
    """The sorted pairing, where whether two pieces fit is told by one length of each; else None."""
    touched = sorted({k for pair in turns for k in pair})
    strips = [_strip_length(sorts[k], along, across) for k in touched]
    if any(length is None for length in strips):
        return None
    lengths = {k: length for k, length in zip(touched, strips, strict=True) if length is not None}
    room = (
        max(along, across) if along == across else (along if sorts[touched[0]].size[1] == across else across)
    )
    room += tolerance.LENGTH - kerf
    for i in touched:
        for j in touched:
            if i <= j and ((i, j) in turns) != (lengths[i] + lengths[j] <= room):
                return None
    pieces = [k for k in touched for _ in sorts[k].members]
    made: dict[tuple[int, int], int] = {}
    for bar in pair_ends([lengths[k] for k in pieces], room):
        if len(bar) == 2:
            i, j = sorted(pieces[k] for k in bar)
            made[i, j] = made.get((i, j), 0) + 1
    return made


def _strip_length(sort: _Sort, along: float, across: float) -> float | None:
    """The short side of a piece that reaches across the whole panel."""
    width, depth = sort.size
    if tolerance.is_equal(depth, across):
        return width
    return depth if tolerance.is_equal(width, along) else None


def _solve(solver: Any, counts: Sequence[int], turns: _Turns) -> dict[tuple[int, int], int]:
    """The largest b-matching, as an integer program."""
    highs = new_program(solver)
    for count in counts:
        highs.addRow(-float(solver.kHighsInf), float(count), 0, np.empty(0, np.int32), np.empty(0))
    pairs = sorted(turns)
    for k, (i, j) in enumerate(pairs):
        rows = [i] if i == j else [i, j]
        most = counts[i] // 2 if i == j else min(counts[i], counts[j])
        numbers = np.array([2.0] if i == j else [1.0, 1.0])
        highs.addCol(-1.0, 0.0, float(most), len(rows), np.array(rows, dtype=np.int32), numbers)
        highs.changeColIntegrality(k, solver.HighsVarType.kInteger)
    highs.run()
    times = np.rint(highs.getSolution().col_value).astype(int).tolist()
    return {pair: number for pair, number in zip(pairs, times, strict=True) if number}


def _hand_out(
    sorts: Sequence[_Sort], turns: _Turns, pairs: Mapping[tuple[int, int], int]
) -> tuple[list[tuple[int, ...]], list[int]]:
    """Which piece shares its panel with which, in the order of the demands."""
    waiting = [list(reversed(sort.members)) for sort in sorts]
    made: list[tuple[tuple[int, ...], int]] = []
    for (i, j), number in sorted(pairs.items()):
        is_swapped, turn = turns[i, j]
        for _ in range(number):
            one, other = waiting[i].pop(), waiting[j].pop()
            made.append(((other, one) if is_swapped else (one, other), turn))
    made += [((k,), 0) for rest in waiting for k in rest]
    made.sort(key=lambda sheet: min(sheet[0]))
    return [sheet for sheet, _ in made], [turn for _, turn in made]
