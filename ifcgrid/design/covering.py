"""The fewest supports along one run of a main: a covering problem, solved exactly.

A run asks for a support near both ends, for no gap between neighbours above the spacing, and
for a support in every window of a list (beside splices, at corners of fixtures).
Supports may stand where their kind is possible; kinds cost differently, in lexicographic
order. Why the search is exact: when a support stands at x, all windows that begin at or
before x are served (one that ended before x had to be served earlier), so what is still to
be done depends on x alone, and the greater x the less it is. Of two partial answers the
cheaper one that reaches as far is therefore never worse, and each support of a kind is set
as far along as the spacing and the nearest unserved window allow. Only where no kind is possible
within the spacing a gap stays, as short as can be.
"""

from __future__ import annotations

import heapq
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count, pairwise
from typing import Protocol

from ifcgrid.domain import tolerance

__all__ = ["Answer", "Cost", "Kind", "Run", "Window", "cover", "keeps", "settle", "spread"]

_SWEEPS = 8
"""Supports are drawn to the middle so often."""

Window = tuple[float, float]
"""Where along the run at least one support has to be."""

Cost = tuple[int, int, int, int]
"""Supports that are missing or should not be; trapezes; splayed supports; supports."""


class Kind(Protocol):
    """A kind of support: where it is possible along the run."""

    @property
    def cost(self) -> Cost:
        """What one costs."""
        ...

    def last(self, after: float, limit: float) -> float | None:
        """The last possible place in (after, limit]."""
        ...

    def first(self, after: float) -> float | None:
        """The first possible place after one."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What a run from `low` to `high` asks for: spacing, distance of the ends, windows.

    All in mm on one line; windows lie within the run. Of `spacing` and `end` only a `share`
    may be used up.
    """

    low: float
    high: float
    spacing: float
    end: float
    windows: tuple[Window, ...] = ()
    share: float = 1.0

    def missing(self, low: float, high: float) -> int:
        """How many supports a gap lacks, of the full spacing and end distance."""
        length = high - low
        if low <= self.low:
            length += self.spacing - self.end
        if high >= self.high:
            length += self.spacing - self.end
        return max(tolerance.ceil_div(length, self.spacing) - 1, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Places of supports in order with the number of their kind, the cost, and what was not met.

    `unmet` holds windows in which no kind is possible, `gaps` the stretches between
    supports (or ends of the run) that are longer than allowed.
    """

    places: tuple[tuple[float, int], ...]
    cost: Cost
    unmet: tuple[Window, ...]
    gaps: tuple[Window, ...]


@dataclass(frozen=True, slots=True)
class _Step:
    place: float
    kind: int
    before: _Step | None
    gap: Window | None = None


def cover(run: Run, kinds: Sequence[Kind]) -> Answer:
    """The cheapest supports of a run, by kinds of which the cheapest comes first."""
    able = [w for w in run.windows if any(_can(kind, w) for kind in kinds)]
    unmet = tuple(w for w in run.windows if w not in able)
    ticket = count()
    queue: list[tuple[Cost, float, int, _Step | None]] = [((0, 0, 0, 0), 0.0, next(ticket), None)]
    best = run.low - 1.0
    while queue:
        cost, _, _, step = heapq.heappop(queue)
        if step and step.place <= best:
            continue
        best = step.place if step else best
        reach = step.place if step else run.low - 1.0
        pending = [w[1] for w in able if w[0] > reach + tolerance.LENGTH]
        if step and not pending and reach >= run.high - run.end * run.share - tolerance.LENGTH:
            return _answer(step, cost, unmet)
        highest = min(pending, default=run.high)
        for more, further in _next(run, kinds, step, highest):
            total = (cost[0] + more[0], cost[1] + more[1], cost[2] + more[2], cost[3] + more[3])
            heapq.heappush(queue, (total, -further.place, next(ticket), further))
    raise AssertionError("a run can always be ended with a gap")


def _can(kind: Kind, window: Window) -> bool:
    return kind.last(window[0] - 2 * tolerance.LENGTH, window[1]) is not None


def _next(
    run: Run, kinds: Sequence[Kind], step: _Step | None, highest: float
) -> Iterator[tuple[Cost, _Step]]:
    """The supports that may follow, each kind's as far along as it can be, or the shortest gaps."""
    reach = step.place if step else run.low - 1.0
    limit = reach + run.spacing * run.share if step else run.low + run.end * run.share
    limit = min(limit, highest)
    has_cheapest = False
    for number, kind in enumerate(kinds):
        place = kind.last(reach, limit)
        if place is not None:
            has_cheapest |= number == 0
            yield kind.cost, _Step(place, number, step)
    if has_cheapest:  # a gap cannot be better than the cheapest support
        return
    low, is_ended = max(reach, run.low), True
    for number, kind in enumerate(kinds):
        place = kind.first(limit)
        if place is not None and place <= highest:
            is_ended = False
            missing, *others = kind.cost
            cost = (missing + run.missing(low, place), *others)
            yield cost, _Step(place, number, step, (low, place))  # type: ignore[misc]
    if is_ended:
        yield (run.missing(low, run.high), 0, 0, 0), _Step(run.high, -1, step, (low, run.high))


def _answer(step: _Step | None, cost: Cost, unmet: tuple[Window, ...]) -> Answer:
    places, gaps = [], []
    while step:
        if step.kind >= 0:
            places.append((step.place, step.kind))
        if step.gap:
            gaps.append(step.gap)
        step = step.before
    return Answer(places=tuple(places[::-1]), cost=cost, unmet=unmet, gaps=tuple(gaps[::-1]))


def spread(run: Run, kinds: Sequence[Kind]) -> Answer:
    """Supports as cheap as the cheapest, set as evenly as that allows.

    The spacing and the end distance are tightened by one share as far as the cost stays the
    same, so that supports use up the same part of both limits; then those of the first kind
    are drawn to the middle between their neighbours.
    """
    answer = cover(run, kinds)
    low = (run.high - run.low) / (2 * run.end + max(answer.cost[3] - 1, 0) * run.spacing)
    low, high = min(low + tolerance.LENGTH / run.spacing, 1.0), 1.0
    even = cover(replace(run, share=low), kinds)
    if even.cost == answer.cost and even.unmet == answer.unmet:
        return settle(run, kinds, even)
    while (high - low) * run.spacing > tolerance.EVEN:
        middle = (low + high) / 2
        tighter = cover(replace(run, share=middle), kinds)
        if tighter.cost == answer.cost and tighter.unmet == answer.unmet:
            answer, high = tighter, middle
        else:
            low = middle
    return settle(run, kinds, answer)


def settle(run: Run, kinds: Sequence[Kind], answer: Answer) -> Answer:
    """The same supports with those of the first kind drawn to the middle between their neighbours.

    Each stays in the windows that it serves; supports at a gap keep to it.
    """
    places = [place for place, _ in answer.places]
    bands = [(run.low, run.high)] * len(places)
    for low, high in (w for w in run.windows if w not in answer.unmet):
        k = bisect_left(places, low - tolerance.LENGTH)
        if k == len(places):  # a place a hair before the window made it able, and none serves it
            continue
        bands[k] = (max(bands[k][0], low), min(bands[k][1], high))
    held = {end for gap in answer.gaps for end in gap}
    free = [i for i, (p, kind) in enumerate(answer.places) if kind == 0 and p not in held]
    for _ in range(_SWEEPS):
        for i in free:
            low, high = bands[i]
            target = min(max(_middle(run, places, i), low), high)
            spot = kinds[0].last(target - 2 * tolerance.LENGTH, target)
            if spot is not None and spot >= low:
                places[i] = spot
    moved = tuple((place, kind) for place, (_, kind) in zip(places, answer.places, strict=True))
    return replace(answer, places=moved)


def _serves(windows: Sequence[Window], places: Sequence[float]) -> bool:
    hair = tolerance.LENGTH
    return all(any(low - hair <= p <= high + hair for p in places) for low, high in windows)


def keeps(run: Run, answer: Answer, places: Sequence[float]) -> bool:
    """Whether supports at other places keep all that an answer without gaps keeps."""
    stops = [run.low + run.end - run.spacing, *places, run.high - run.end + run.spacing]
    served = [w for w in run.windows if w not in answer.unmet]
    is_near = all(b - a <= run.spacing + tolerance.LENGTH for a, b in pairwise(stops))
    return is_near and _serves(served, places)


def _middle(run: Run, places: Sequence[float], i: int) -> float:
    share = run.end / (run.end + run.spacing)
    if len(places) == 1:
        return (run.low + run.high) / 2
    if i == 0:
        return run.low + (places[1] - run.low) * share
    if i == len(places) - 1:
        return run.high - (run.high - places[i - 1]) * share
    return (places[i - 1] + places[i + 1]) / 2
