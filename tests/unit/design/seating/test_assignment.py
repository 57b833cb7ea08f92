"""Distinct places at the least cost in all."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ifcgrid.design.seating.assignment import assign


def brute(cost: np.ndarray) -> tuple[int, float]:
    """Most rows with a column, and the least sum of that many, by trying every order."""
    count, places = cost.shape
    wide = np.hstack([cost, np.full((count, count), np.inf)])
    best = (0, 0.0)
    for chosen in permutations(range(places + count), count):
        values = wide[np.arange(count), chosen]
        values = values[np.isfinite(values)]
        best = min(best, (-len(values), float(values.sum())))
    return -best[0], best[1]


def test_two_rows_do_not_get_one_column_though_both_want_it():
    assert assign(np.array([[1.0, 5.0], [1.0, 100.0]])).tolist() == [1, 0]


def test_a_row_that_may_go_nowhere_gets_none_and_harms_nobody():
    assert assign(np.array([[np.inf, np.inf], [4.0, 3.0]])).tolist() == [-1, 1]


def test_as_many_as_possible_get_a_place_though_that_costs_more():
    # Row 0 alone would take column 0 for 1; then row 1 would have nothing.
    assert assign(np.array([[1.0, 900.0], [2.0, np.inf]])).tolist() == [1, 0]


@pytest.mark.parametrize("shape", [(0, 0), (0, 3)])
def test_nobody_needs_nothing(shape):
    assert assign(np.zeros(shape)).tolist() == []


def test_without_places_nobody_gets_one():
    assert assign(np.zeros((2, 0))).tolist() == [-1, -1]


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_no_other_choice_seats_more_or_costs_less(data):
    count, places = data.draw(st.integers(1, 4)), data.draw(st.integers(1, 4))
    entry = st.one_of(st.just(np.inf), st.integers(0, 50).map(float))
    cost = np.array(data.draw(st.lists(entry, min_size=count * places, max_size=count * places)))
    cost = cost.reshape(count, places)
    chosen = assign(cost)
    got = chosen[chosen >= 0].tolist()
    assert len(set(got)) == len(got)
    values = cost[np.flatnonzero(chosen >= 0), got]
    assert np.isfinite(values).all()
    assert (len(got), float(values.sum())) == brute(cost)
