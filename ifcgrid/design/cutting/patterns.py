"""The best plan of parts with holes where every pattern can be listed, with HiGHS.

Mains of one job come in few sorts and few fit a bar, so often all patterns that really lie
in a bar can be listed; which of them are cut how often is then a small integer program,
whose bound knows the phase of the holes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from ifcgrid.design.cutting.columns import new_program
from ifcgrid.design.cutting.exhaust import MOST_PARTS, lay_in_bar
from ifcgrid.domain import tolerance
from ifcgrid.domain.cutting import Bar, Part, Stock

__all__ = ["choose_patterns"]

MOST_TRIES = 1000
"""A job with more sets of sorts to look at than this is left to the quick plans."""

MOST_NODES = 500
"""After so many nodes the integer program's bound is taken as it stands."""


def choose_patterns(
    solver: Any, stock: Stock, parts: Sequence[Part], chosen: Sequence[int]
) -> tuple[list[Bar], int] | None:
    """The bars, and the least number that any plan needs; None when there are too many patterns."""
    groups: dict[tuple[float, int, str], list[int]] = {}
    for k in chosen:
        part = parts[k]
        # A part with an end is the same from either side, and its holes follow from that end.
        hole = "" if part.ends else repr(round(part.first_hole, 1))
        groups.setdefault((-round(part.length, 1), min(part.ends, 1), hole), []).append(k)
    sorts = [groups[name] for name in sorted(groups)]
    patterns = _every_pattern(stock, parts, sorts)
    if patterns is None:
        return None
    times, bound = _solve(solver, [len(sort) for sort in sorts], patterns)
    left = [list(reversed(sort)) for sort in sorts]
    bars = []
    for pattern, number in zip(patterns, times, strict=True):
        for _ in range(number):
            held = [left[sort].pop() for sort in pattern if left[sort]]
            bar = lay_in_bar(stock, parts, held) if held else None
            if bar:
                bars.append(bar)
    return bars, bound


def _every_pattern(
    stock: Stock, parts: Sequence[Part], sorts: Sequence[Sequence[int]]
) -> list[tuple[int, ...]] | None:
    """All sets of sorts that lie in one bar; what does not lie does not lie with one part more."""
    found: list[tuple[int, ...]] = []
    tries = 0
    open_ones: list[tuple[int, ...]] = [()]
    while open_ones:
        held = open_ones.pop()
        for sort in range(held[-1] if held else 0, len(sorts)):
            number = held.count(sort)
            if number == len(sorts[sort]) or len(held) == MOST_PARTS:
                continue
            members = [sorts[s][held[:place].count(s)] for place, s in enumerate(held)]
            members.append(sorts[sort][number])
            if math.fsum(parts[k].length for k in members) > stock.length + tolerance.LENGTH:
                continue
            tries += 1
            if tries > MOST_TRIES:
                return None
            if lay_in_bar(stock, parts, members) is not None:
                found.append((*held, sort))
                open_ones.append((*held, sort))
    return sorted(found)


def _solve(solver: Any, counts: Sequence[int], patterns: Sequence[tuple[int, ...]]) -> tuple[list[int], int]:
    highs = new_program(solver)
    highs.setOptionValue("mip_rel_gap", 0.0)
    highs.setOptionValue("mip_max_nodes", MOST_NODES)
    infinity = float(solver.kHighsInf)
    for count in counts:
        highs.addRow(float(count), infinity, 0, np.empty(0, np.int32), np.empty(0))
    for column, pattern in enumerate(patterns):
        rows = sorted(set(pattern))
        numbers = np.array([float(pattern.count(row)) for row in rows])
        highs.addCol(1.0, 0.0, infinity, len(rows), np.array(rows, dtype=np.int32), numbers)
        highs.changeColIntegrality(column, solver.HighsVarType.kInteger)
    highs.run()
    times = np.rint(highs.getSolution().col_value).astype(int).tolist()
    return times, math.ceil(float(highs.getInfo().mip_dual_bound) - tolerance.SCORE)
