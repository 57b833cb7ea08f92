"""Cutting jobs and what brute force says of them; shared by tests and the bench."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from functools import cache
from itertools import permutations, product

from ifcgrid.domain.cutting import Part, Stock

INCH = 25.4
ANGLE = Stock(item="wall angle", section="", length=144 * INCH, kerf=INCH / 8)
RANGES = ((6, 24), (6, 60), (20, 140))


def parts_of(
    lengths: Sequence[float], ends: Sequence[int] | None = None, holes: Sequence[float] | None = None
) -> list[Part]:
    ways = {0: (False, False), 1: (True, False), -1: (False, True), 2: (True, True)}
    return [
        Part(
            key=f"part {k}",
            mark="",
            room="",
            length=length,
            is_factory=ways[ends[k]] if ends else (False, False),
            first_hole=holes[k] if holes else math.nan,
        )
        for k, length in enumerate(lengths)
    ]


def random_job(seed: int, number: int = 2000) -> list[Part]:
    """Parts in sixteenths of an inch, of 50, 150 or 300 lengths, short, mixed or long."""
    rnd = random.Random(seed)
    low, high = RANGES[seed % 3]
    lengths = [rnd.randrange(low * 16, high * 16) * INCH / 16 for _ in range((50, 150, 300)[seed // 3 % 3])]
    return parts_of([rnd.choice(lengths) for _ in range(number)])


def least_bars(stock: Stock, parts: Sequence[Part]) -> int:
    """The fewest bars, by trying every way to share the parts out. Up to about nine parts."""
    everything = (1 << len(parts)) - 1

    @cache
    def fits(chosen: int) -> bool:
        return fits_in_bar(stock, [p for k, p in enumerate(parts) if chosen >> k & 1])

    @cache
    def least(left: int) -> int:
        if not left:
            return 0
        first = left & -left
        rest, best = left ^ first, 10**9
        more = rest
        while True:
            if fits(first | more):
                best = min(best, 1 + least(rest ^ more))
            if not more:
                return best
            more = (more - 1) & rest

    return least(everything)


def fits_in_bar(stock: Stock, parts: Sequence[Part]) -> bool:
    """Whether some order and turn of the parts fits one bar."""
    if sum(p.length for p in parts) + (len(parts) - 1) * stock.kerf > stock.length + 0.01:
        return False
    if sum(p.ends > 0 for p in parts) > stock.end_parts:
        return False
    for order in permutations(parts):
        for turns in product((False, True), repeat=len(order)):
            if _lies(stock, order, turns):
                return True
        if not stock.has_holes and all(p.ends == 0 for p in order):
            return False  # without holes and ends every order is alike
    return False


def _lies(stock: Stock, order: Sequence[Part], turns: Sequence[bool]) -> bool:
    """Whether the parts fit in this order, each as far to the left as it goes."""
    at = 0.0
    for place, (part, turned) in enumerate(zip(order, turns, strict=True)):
        starts, ends = part.is_factory[::-1] if turned else part.is_factory
        if (starts and place > 0) or (ends and place < len(order) - 1):
            return False
        if ends and not starts:
            if stock.length - part.length < at - 0.01:
                return False
            at = stock.length - part.length
        elif not starts and stock.has_holes and math.isfinite(part.first_hole):
            ahead = part.length - part.first_hole if turned else part.first_hole
            at += (stock.first_hole - ahead - at) % stock.pitch
            if at + 0.01 >= stock.pitch and abs((at % stock.pitch) - stock.pitch) < 0.005:
                at = round(at, 6)
        if at + part.length > stock.length + 0.01:
            return False
        at += part.length + stock.kerf
    return True
