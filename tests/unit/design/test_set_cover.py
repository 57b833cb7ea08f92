"""Fewest covers against an exhaustive search."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ifcgrid.design.set_cover import fewest_candidates, independent_demands

MASKS = st.lists(st.integers(min_value=1, max_value=2**9 - 1), min_size=1, max_size=14)


def _fewest(demands: list[int]) -> int:
    return next(
        size
        for size in range(10)
        for chosen in combinations(range(9), size)
        if all(any(d >> c & 1 for c in chosen) for d in demands)
    )


@settings(max_examples=150, deadline=None)
@given(MASKS)
def test_no_smaller_cover_exists_and_every_demand_is_met(demands: list[int]):
    chosen = fewest_candidates(demands)
    assert all(any(d >> c & 1 for c in chosen) for d in demands)
    assert len(chosen) == _fewest(demands)
    assert independent_demands(demands) <= len(chosen)


def test_a_known_cover_is_kept_where_none_is_smaller():
    assert fewest_candidates([0b011, 0b110], known=[1]) == [1]
    assert fewest_candidates([0b0011, 0b1100], known=[1, 3]) == [1, 3]
    assert fewest_candidates([0b0011, 0b0110], known=[0, 2]) == [1]


@pytest.mark.parametrize("demands", [[], [0, 0]])
def test_what_nobody_can_meet_asks_for_nothing(demands):
    assert fewest_candidates(demands) == []
