"""The best plan of a small job, by looking at every way to share its parts out.

For every set of parts the least length of bar that it takes from the left is known from
the sets with one part less, for an earlier end is never worse than a later one; so the
order, the turns and the phase of holes are searched in full, not approximated by slots.
"""

from __future__ import annotations

import math
from bisect import bisect_right, insort
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ifcgrid.domain import tolerance
from ifcgrid.domain.cutting import Bar, Part, Placed, Stock

__all__ = ["MOST_PARTS", "MOST_TRIED", "fill_by_holes", "lay_in_bar", "share_out"]

MOST_PARTS = 9
"""So many parts have 512 sets; every set is shared out in at most as many ways."""


MOST_TRIED = 2000
"""Jobs of more parts are not filled by trying how each part lies in each bar."""


@dataclass(frozen=True, slots=True)
class _Reach:
    """Where a set of parts ends with its last cut, and how it came to: the set before and the last part."""

    end: float
    before: int
    last: Placed


def share_out(stock: Stock, parts: Sequence[Part], chosen: Sequence[int]) -> list[Bar]:
    """The fewest bars that give the chosen parts, at most MOST_PARTS of them."""
    bars = _bars(stock, parts, chosen)
    everything = (1 << len(chosen)) - 1
    best: list[tuple[int, int]] = [(0, 0)] + [(len(chosen) + 1, 0)] * everything
    for left in range(1, everything + 1):
        first = left & -left
        rest = more = left ^ first
        while True:
            taken = first | more
            if taken in bars and best[left ^ taken][0] + 1 < best[left][0]:
                best[left] = (best[left ^ taken][0] + 1, taken)
            if not more:
                break
            more = (more - 1) & rest
    plan = []
    left = everything
    while left:
        taken = best[left][1]
        plan.append(bars[taken])
        left ^= taken
    return plan


def fill_by_holes(stock: Stock, parts: Sequence[Part], chosen: Sequence[int]) -> list[Bar]:
    """Best fit decreasing by how parts really lie: each goes into the fullest bar that still takes it."""
    known: dict[tuple[object, ...], bool] = {}

    def fits(bar: Sequence[int]) -> bool:
        if len(bar) > MOST_PARTS:
            return False
        name = tuple(sorted((parts[k].length, parts[k].is_factory, repr(parts[k].first_hole)) for k in bar))
        if name not in known:
            known[name] = (1 << len(bar)) - 1 in _bars(stock, parts, bar)
        return known[name]

    held: list[tuple[float, tuple[int, ...]]] = []  # bars by the length that is taken
    for part in sorted(chosen, key=lambda k: (-parts[k].length, k)):
        length = parts[part].length
        at = bisect_right(held, stock.length - length, key=lambda bar: bar[0])
        home = next((k for k in range(at - 1, -1, -1) if fits((*held[k][1], part))), None)
        taken, bar = (0.0, ()) if home is None else held.pop(home)
        insort(held, (taken + length, (*bar, part)))
    return [_bars(stock, parts, bar)[(1 << len(bar)) - 1] for _, bar in held]


def lay_in_bar(stock: Stock, parts: Sequence[Part], chosen: Sequence[int]) -> Bar | None:
    """Where the chosen parts lie in one bar; None when no order and turn of them fits."""
    return _bars(stock, parts, chosen).get((1 << len(chosen)) - 1)


def _bars(stock: Stock, parts: Sequence[Part], chosen: Sequence[int]) -> dict[int, Bar]:
    """The sets of parts, as bits, that one bar gives, each with where its parts lie."""
    reached: dict[int, _Reach | None] = {0: None}
    bars: dict[int, Bar] = {}
    ended = sum(1 << k for k, index in enumerate(chosen) if parts[index].ends)
    for held in range(1 << len(chosen)):
        if held and (best := _reach(stock, parts, chosen, reached, held)) is not None:
            reached[held] = best
            bars[held] = _lay(reached, held)
        for k, index in enumerate(chosen):
            before = held & ~(1 << k)
            if not held >> k & 1 or held in bars or not ended >> k & 1 or before not in reached:
                continue
            turned = parts[index].is_factory[0]
            at = stock.length - parts[index].length
            if (turned and not stock.is_reversible) or (before & ended and stock.end_parts < 2):
                continue
            came = reached[before]
            if not tolerance.is_greater(came.end if came else 0.0, at):
                bars[held] = (*_lay(reached, before), Placed(part=index, at=at, is_turned=turned))
    return bars


def _reach(
    stock: Stock,
    parts: Sequence[Part],
    chosen: Sequence[int],
    reached: dict[int, _Reach | None],
    held: int,
) -> _Reach | None:
    """The set laid from the left so that it ends as early as it can; None when no bar is so long."""
    best: _Reach | None = None
    for k, index in enumerate(chosen):
        before = held & ~(1 << k)
        if not held >> k & 1 or before not in reached:
            continue
        came = reached[before]
        for at, turned in _spots(stock, parts[index], came.end if came else 0.0):
            end = at + parts[index].length + stock.kerf
            if tolerance.is_greater(end - stock.kerf, stock.length) or (best and end >= best.end):
                continue
            best = _Reach(end, before, Placed(part=index, at=at, is_turned=turned))
    return best


def _spots(stock: Stock, part: Part, at: float) -> Iterator[tuple[float, bool]]:
    """Where a part may begin at the earliest, straight and turned, when the bar is taken up to `at`."""
    if part.ends:
        turned = part.is_factory[1]
        if at == 0.0 and (not turned or stock.is_reversible):
            yield 0.0, turned
    elif not stock.has_holes or not math.isfinite(part.first_hole):
        yield at, False
    else:
        for turned in (False, True) if stock.is_reversible else (False,):
            ahead = part.length - part.first_hole if turned else part.first_hole
            steps = math.ceil((at + ahead - stock.first_hole - tolerance.LENGTH) / stock.pitch)
            yield stock.first_hole + steps * stock.pitch - ahead, turned


def _lay(reached: dict[int, _Reach | None], held: int) -> Bar:
    laid: list[Placed] = []
    while (came := reached[held]) is not None:
        laid.append(came.last)
        held = came.before
    return tuple(reversed(laid))
