"""Supports of one run: as few as an exhaustive search finds, and even where nothing stands against it."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from ifcgrid.design.covering import Answer, Kind, Run, cover, spread
from ifcgrid.design.stretches import Stretch, complement, holds
from ifcgrid.design.ways import Places

STRAIGHT = (0, 0, 0, 1)


def _straight(*stretches: Stretch) -> Places:
    return Places(cost=STRAIGHT, stretches=stretches)


def _places(answer: Answer) -> list[float]:
    return [place for place, _ in answer.places]


def _keeps(run: Run, places: list[float]) -> bool:
    return (
        bool(places)
        and places[0] - run.low <= run.end + 1e-6
        and run.high - places[-1] <= run.end + 1e-6
        and all(b - a <= run.spacing + 1e-6 for a, b in pairwise(places))
        and all(any(a - 1e-6 <= p <= b + 1e-6 for p in places) for a, b in run.windows)
    )


def _exhaustive(run: Run, kinds: list[Places]) -> tuple[int, ...] | None:
    """The least cost over all sets of whole places, or None where no set keeps every demand."""
    cheapest = {}
    for place in range(int(run.low), int(run.high) + 1):
        costs = [kind.cost for kind in kinds if holds(kind.stretches, place)]
        if costs:
            cheapest[place] = min(costs)
    best = None
    for count in range(1, len(cheapest) + 1):
        for chosen in combinations(sorted(cheapest), count):
            if _keeps(run, list(chosen)):
                cost = tuple(int(sum(column)) for column in zip(*(cheapest[p] for p in chosen), strict=True))
                best = cost if best is None else min(best, cost)
        if best is not None and best[1:3] == (0, 0):
            break
    return best


def _random_case(seed: int) -> tuple[Run, list[Places]]:
    random = np.random.default_rng(seed)
    length = int(random.integers(3, 12))

    def stretches(number: int) -> list[Stretch]:
        ends = np.sort(random.integers(0, length + 1, size=(number, 2)), axis=1)
        return [(float(a), float(b)) for a, b in ends if a < b]

    run = Run(
        low=0.0,
        high=float(length),
        spacing=float(random.integers(2, 5)),
        end=float(random.integers(1, 3)),
        windows=tuple(stretches(int(random.integers(0, 3)))),
    )
    kinds = [Places(cost=STRAIGHT, stretches=complement(stretches(int(random.integers(0, 4))), 0, length))]
    if random.integers(0, 2):
        kinds.append(Places(cost=(0, 0, 1, 2), stretches=complement(stretches(3), 0, length)))
        kinds.append(Places(cost=(0, 1, 0, 1), stretches=complement(stretches(2), 0, length)))
    return run, kinds


@pytest.mark.parametrize("part", range(8))
def test_the_cost_is_that_of_an_exhaustive_search(part: int) -> None:
    met = 0
    for seed in range(part * 25, part * 25 + 25):
        run, kinds = _random_case(seed)
        answer = cover(run, kinds)
        least = _exhaustive(run, kinds)
        if least is None:
            assert answer.cost[0] > 0 or answer.unmet
            continue
        met += 1
        assert answer.cost == least, (run, kinds)
        assert not answer.unmet
        assert _keeps(run, _places(answer))
        spread_out = spread(run, kinds)
        assert spread_out.cost == least
        assert _keeps(run, _places(spread_out))
        for place, kind in spread_out.places:
            assert holds(kinds[kind].stretches, place)
    assert met > 5


def test_without_obstacles_they_stand_even() -> None:
    run = Run(low=0.0, high=5000.0, spacing=1200.0, end=450.0)
    places = _places(spread(run, [_straight((0.0, 5000.0))]))
    steps = np.diff(places)
    assert steps == pytest.approx([steps[0]] * 4, abs=0.1)
    assert places[0] == pytest.approx(5000 - places[-1], abs=0.1)


def test_a_window_on_both_sides_of_a_splice_gets_two() -> None:
    run = Run(low=0.0, high=4000.0, spacing=1200.0, end=450.0, windows=((1925.0, 1975.0), (2025.0, 2075.0)))
    free = _straight(*complement([(1975.0, 2025.0)], 0.0, 4000.0))
    places = _places(spread(run, [free]))
    assert len(places) == 6
    assert len([p for p in places if 1925 <= p <= 2075]) == 2


def test_a_gap_that_nothing_can_close_is_as_short_as_can_be() -> None:
    run = Run(low=0.0, high=6000.0, spacing=1200.0, end=450.0)
    kinds: list[Kind] = [_straight((0.0, 2000.0), (4000.0, 6000.0))]
    answer = spread(run, kinds)
    assert answer.gaps == ((2000.0, 4000.0),)
    assert answer.cost[0] == 1
    places = _places(answer)
    assert 6000 - places[-1] > 100  # not driven against the wall
    assert _keeps(Run(low=0.0, high=2000.0, spacing=1200.0, end=450.0), [p for p in places if p <= 2000])


def test_a_window_without_any_place_is_named_and_does_not_stop_the_rest() -> None:
    run = Run(low=0.0, high=3000.0, spacing=1200.0, end=450.0, windows=((1400.0, 1500.0),))
    answer = spread(run, [_straight(*complement([(1300.0, 1600.0)], 0.0, 3000.0))])
    assert answer.unmet == ((1400.0, 1500.0),)
    assert answer.cost == (0, 0, 0, 3)


def test_a_run_that_is_wholly_barred_has_none() -> None:
    answer = spread(Run(low=0.0, high=3000.0, spacing=1200.0, end=450.0), [_straight()])
    assert answer.places == ()
    assert answer.gaps == ((0.0, 3000.0),)
    assert answer.cost[0] == 3  # as many as would have stood there


def test_a_window_that_is_missed_by_a_hair_stops_nothing() -> None:
    run = Run(low=0.0, high=1000.0, spacing=1200.0, end=450.0, windows=((500.0, 600.0),))
    answer = spread(run, [_straight((0.0, 499.985))])
    assert _places(answer)
    assert max(_places(answer)) <= 499.985
