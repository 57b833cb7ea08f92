"""The fewest sets that together cover everything: exact for what is small, near to it else.

Each demand is a whole number whose bits name the candidates that meet it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

__all__ = ["fewest_candidates", "independent_demands"]

MOST_STEPS = 4000
"""Branches of the search after which the best cover so far is taken (our choice)."""


def _bits(mask: int) -> list[int]:
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


def _needed(demands: Iterable[int]) -> list[int]:
    """Demands that are met as soon as another one is are left out; those no candidate meets too."""
    unique = sorted({d for d in demands if d}, key=lambda d: (d.bit_count(), d))
    kept: list[int] = []
    for demand in unique:
        if not any(k & demand == k for k in kept):
            kept.append(demand)
    return kept


def independent_demands(demands: Sequence[int]) -> int:
    """How many demands, taken in their order, share no candidate: so many candidates it takes at least."""
    taken = count = 0
    for demand in demands:
        if not demand & taken:
            taken |= demand
            count += 1
    return count


def _greedy(demands: Sequence[int]) -> list[int]:
    left, chosen = list(demands), []
    while left:
        score: dict[int, int] = {}
        for demand in left:
            for bit in _bits(demand):
                score[bit] = score.get(bit, 0) + 1
        best = min(score, key=lambda bit: (-score[bit], bit))
        chosen.append(best)
        left = [d for d in left if not d >> best & 1]
    return chosen


class _Search:
    """Branch and bound over the demand with the fewest candidates."""

    def __init__(self, best: list[int]) -> None:
        self.best = best
        self.steps = 0

    def run(self, demands: list[int], chosen: list[int]) -> None:
        self.steps += 1
        if not demands:
            if len(chosen) < len(self.best):
                self.best = list(chosen)
            return
        if self.steps > MOST_STEPS or len(chosen) + _bound(demands) >= len(self.best):
            return
        hardest = min(demands, key=lambda d: (d.bit_count(), d))
        gain = {bit: sum(d >> bit & 1 for d in demands) for bit in _bits(hardest)}
        for bit in sorted(gain, key=lambda b: (-gain[b], b)):
            self.run([d for d in demands if not d >> bit & 1], [*chosen, bit])


def _bound(demands: Sequence[int]) -> int:
    by_size = sorted(demands, key=lambda d: (d.bit_count(), d))
    return max(independent_demands(demands), independent_demands(by_size))


def fewest_candidates(demands: Sequence[int], known: Sequence[int] | None = None) -> list[int]:
    """The fewest candidates that meet every demand which any candidate meets, sorted.

    `demands` in an order in which neighbours stand near each other gives a sharper bound.
    `known` is a cover that somebody else found; it is kept where none is smaller. Within
    `MOST_STEPS` branches the answer is the least possible.
    """
    ordered = [d for d in demands if d]
    needed = _needed(ordered)
    best = _greedy(needed)
    if known is not None and len(known) <= len(best):
        best = list(known)
    least = max(independent_demands(ordered), _bound(needed))
    if len(best) > least:
        search = _Search(best)
        search.run(needed, [])
        best = search.best
    return sorted(best)
