"""Plans by column generation (Gilmore and Gomory, Operations Research 9, 1961), with HiGHS.

The linear program chooses how often each pattern is cut; its duals say what a part is
worth, the knapsack finds the pattern worth the most, and when none is worth more than a
bar the program's value is a bound that no plan can undercut. Before that Farley's bound
holds: the value over the best pattern's worth (Operations Research 38, 1990). The plan
itself comes from diving: whole numbers are fixed, the rest is solved again.

HiGHS is an extra; `find_solver` says whether it is there. No time limits, so that equal
jobs get equal plans everywhere.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.cutting.fill import Pattern, fill_bars
from ifcgrid.design.cutting.knapsack import best_pattern, quick_pattern
from ifcgrid.design.cutting.sorts import Instance
from ifcgrid.domain import tolerance

__all__ = ["find_solver", "improve_bars", "new_program"]

QUICK_PATTERNS = 12
"""So many further patterns are made greedily of sorts that the best one leaves out."""

MOST_ROUNDS = 400
"""After so many linear programs the bound is taken as it stands."""


def find_solver() -> Any | None:
    """The HiGHS module, or None where the extra `cutting` is not installed."""
    try:
        return import_module("highspy")
    except ImportError:
        return None


def new_program(solver: Any) -> Any:
    """An empty program of HiGHS that prints nothing, on one thread."""
    # The class for people prints a banner to stdout, where our JSON goes; the one under it does not.
    highs = solver.Highs.__base__()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    return highs


MORE_ROUNDS = 60
"""So many more linear programs are solved where the first patterns did not make a plan that is proved."""


class _Master:
    """The linear program over the patterns known so far."""

    def __init__(self, solver: Any, instance: Instance, counts: Sequence[int]) -> None:
        self.highs = new_program(solver)
        self.infinity = float(solver.kHighsInf)
        self.patterns: list[dict[int, int]] = []
        self.known: set[tuple[tuple[int, int], ...]] = set()
        self.instance = instance
        for count in counts:
            self.highs.addRow(float(count), self.infinity, 0, np.empty(0, np.int32), np.empty(0))

    def add(self, pattern: dict[int, int]) -> bool:
        name = tuple(sorted(pattern.items()))
        if name in self.known:
            return False
        self.known.add(name)
        self.patterns.append(pattern)
        rows = np.array([k for k, _ in name], dtype=np.int32)
        numbers = np.array([n for _, n in name], dtype=np.float64)
        self.highs.addCol(1.0, 0.0, self.infinity, len(rows), rows, numbers)
        return True

    def solve(self) -> tuple[float, NDArray[np.float64], NDArray[np.float64]]:
        """Value, how often each pattern is cut, and what each sort is worth."""
        self.highs.run()
        solution = self.highs.getSolution()
        value = float(self.highs.getInfo().objective_function_value)
        return value, np.array(solution.col_value), np.maximum(np.array(solution.row_dual), 0.0)

    def ask(self, counts: Sequence[int]) -> None:
        for row, count in enumerate(counts):
            self.highs.changeRowBounds(row, float(count), self.infinity)


def improve_bars(
    instance: Instance, counts: Sequence[int], first: list[Pattern], bound: int
) -> tuple[list[Pattern], int]:
    """A plan at least as good as the first one, and a bound at least as good as the given one.

    Raises:
        ModuleNotFoundError: HiGHS is not installed.
    """
    solver = find_solver()
    if solver is None:
        raise ModuleNotFoundError("highspy is not installed; pip install ifcgrid[cutting]")
    master = _Master(solver, instance, counts)
    for index, sort in enumerate(instance.sorts):
        most = min(counts[index], instance.capacity // sort.cost, instance.end_parts if sort.ends else 10**9)
        if most:
            master.add({index: most})
    for bar in first:
        master.add(dict(Counter(bar)))
    bound = max(bound, _generate(master, instance, counts, bound, MOST_ROUNDS))
    plan = first if len(first) <= bound else _dive(master, instance, counts, first, bound)
    if len(plan) > bound:
        # The bound is met by the linear program, not by the plan: more patterns help it.
        _generate(master, instance, counts, 0, MORE_ROUNDS)
        plan = _dive(master, instance, counts, plan, bound)
    return plan, bound


def _generate(master: _Master, instance: Instance, counts: Sequence[int], bound: int, rounds: int) -> int:
    """Adds patterns until none is worth a bar or the given bound is met; the bound that this proves."""
    proved = 0.0
    master.ask(counts)
    for _ in range(rounds):
        value, _, worth = master.solve()
        if _whole(value) <= bound:
            break
        best, pattern = best_pattern(instance, worth, counts)
        proved = max(proved, value / max(best, 1.0))
        # Once the bound cannot grow by a bar, better patterns only make the plan, not the proof.
        if best <= 1.0 + tolerance.SCORE or _whole(proved) >= _whole(value):
            break
        if not master.add(pattern):
            break
        _add_quick(master, instance, worth, counts, pattern)
    return _whole(proved)


def _whole(value: float) -> int:
    return math.ceil(value - tolerance.SCORE)


def _add_quick(
    master: _Master,
    instance: Instance,
    worth: NDArray[np.float64],
    counts: Sequence[int],
    pattern: dict[int, int],
) -> None:
    """Further patterns worth more than a bar, each begun with a sort that no other one began with."""
    cost = np.array([sort.cost for sort in instance.sorts], dtype=np.float64)
    order = np.argsort(-worth / cost, kind="stable").tolist()
    rest = [k for k in order if k not in pattern]
    for first in rest[:QUICK_PATTERNS]:
        ordered = [first, *(k for k in order if k != first)]
        value, found = quick_pattern(instance, worth, counts, ordered)
        if value > 1.0 + tolerance.SCORE:
            master.add(found)


def _dive(
    master: _Master, instance: Instance, counts: Sequence[int], first: list[Pattern], bound: int
) -> list[Pattern]:
    """Fixes whole numbers of patterns step by step; the rest is filled after every step."""
    best, left = first, list(counts)
    fixed: list[Pattern] = []
    while any(left) and len(fixed) < len(best):
        master.ask(left)
        _, times, _ = master.solve()
        whole = np.floor(times + tolerance.SCORE).astype(int)
        if not whole.any():
            whole[int(np.argmax(times))] = 1
        for index in np.flatnonzero(whole).tolist():
            for _ in range(int(whole[index])):
                bar = [s for s, n in master.patterns[index].items() for _ in range(min(n, left[s]))]
                if bar:
                    fixed.append(tuple(bar))
                    for sort in bar:
                        left[sort] -= 1
        plan = fixed + fill_bars(instance, left)
        if len(plan) < len(best):
            best = plan
        if len(best) <= bound:
            break
    return best
