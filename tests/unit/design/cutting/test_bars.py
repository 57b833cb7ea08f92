"""Plans of bars: exact where brute force can say so, within a hair of the bound where it cannot."""

from __future__ import annotations

import math
import random

import pytest
from cutting_jobs import ANGLE, INCH, least_bars, parts_of, random_job

from ifcgrid.checks.cutting import find_bar_faults
from ifcgrid.design.cutting import columns
from ifcgrid.design.cutting.bars import cut_bars
from ifcgrid.domain.cutting import Stock
from ifcgrid.domain.errors import SystemDataError

TEE = Stock(item="tee", section="", length=1200.0, kerf=3.0)
MAIN = Stock(item="main runner", section="", length=3600.0, kerf=3.0, first_hole=75.0, pitch=150.0)


@pytest.fixture
def no_solver(monkeypatch):
    monkeypatch.setattr("ifcgrid.design.cutting.bars.find_solver", lambda: None)


@pytest.mark.parametrize("seed", range(60))
def test_small_jobs_get_the_fewest_bars_that_brute_force_finds(seed):
    rnd = random.Random(seed)
    lengths = [float(rnd.randrange(150, 2400)) for _ in range(rnd.randrange(2, 9))]
    ends = [rnd.choice((0, 0, 1, -1)) for _ in lengths]
    stock = Stock(item="wall angle", section="", length=3000.0, kerf=3.0)
    parts = parts_of(lengths, ends)
    plan = cut_bars(stock, parts)
    assert find_bar_faults(plan) == ()
    best = least_bars(stock, parts)
    assert len(plan.bars) == best
    assert plan.bound <= best


@pytest.mark.parametrize("seed", range(40))
def test_parts_that_keep_a_phase_of_holes_get_plans_that_hold(seed):
    rnd = random.Random(seed)
    lengths = [float(rnd.randrange(400, 3000)) for _ in range(rnd.randrange(2, 6))]
    ends = [rnd.choice((0, 0, 1, -1)) for _ in lengths]
    holes = [
        75.0 if end == 1 else (length - 75.0) % 150.0 if end == -1 else float(rnd.randrange(0, 150))
        for length, end in zip(lengths, ends, strict=True)
    ]
    parts = parts_of(lengths, ends, holes)
    plan = cut_bars(MAIN, parts)
    assert find_bar_faults(plan) == ()
    best = least_bars(MAIN, parts)
    assert len(plan.bars) == best
    assert plan.bound <= best


@pytest.mark.parametrize("seed", [0, 4, 8])
def test_large_jobs_are_within_one_percent_of_the_proved_bound(seed):
    plan = cut_bars(ANGLE, random_job(seed))
    assert find_bar_faults(plan) == ()
    assert plan.gap <= 0.01


def test_best_fit_that_meets_the_bound_is_kept_without_a_linear_program(monkeypatch):
    monkeypatch.setattr(columns, "find_solver", lambda: pytest.fail("no solver is needed"))
    plan = cut_bars(TEE, parts_of([600.0, 590.0, 500.0, 690.0]))
    assert (len(plan.bars), plan.bound, plan.method) == (2, 2, "best fit decreasing")


@pytest.mark.usefixtures("no_solver")
def test_without_the_extra_the_quick_plan_stands_with_its_bound_and_a_note():
    plan = cut_bars(ANGLE, random_job(0))
    assert find_bar_faults(plan) == ()
    assert len(plan.bars) > plan.bound
    assert "not installed" in plan.notes[0]


def test_the_linear_program_finds_what_best_fit_misses():
    parts = random_job(0)
    quick, plan = cut_bars(ANGLE, parts, use_solver=False), cut_bars(ANGLE, parts)
    assert len(plan.bars) < len(quick.bars)
    assert (plan.method, find_bar_faults(plan)) == ("column generation", ())


def test_no_more_than_two_border_tees_come_from_one_tee():
    # NAVEDTRA 14044 p. 5-17: no more than two border tees from one cross tee.
    plan = cut_bars(TEE, parts_of([300.0] * 8, [1] * 8))
    assert len(plan.bars) == 4
    assert {len(bar) for bar in plan.bars} == {2}


def test_one_border_tee_a_tee_can_be_asked_for():
    stock = Stock(item="tee", section="", length=1200.0, kerf=3.0, end_parts=1)
    plan = cut_bars(stock, parts_of([300.0] * 8, [1] * 8))
    assert (len(plan.bars), plan.bound) == (8, 8)
    assert find_bar_faults(plan) == ()


@pytest.mark.parametrize(("second", "bars"), [(597.0, 1), (597.5, 2)])
def test_a_cut_takes_its_kerf(second, bars):
    assert len(cut_bars(TEE, parts_of([600.0, second], [1, -1])).bars) == bars


def test_whole_bars_are_not_cut():
    plan = cut_bars(MAIN, parts_of([3600.0] * 5, [2] * 5))
    assert (len(plan.bars), plan.bound, plan.waste) == (5, 5, 0.0)


def test_an_off_cut_starts_another_line_at_the_far_end():
    # Two runs of 163 in, first tee line at 21 1/2 in, holes at 3 + 6 k in: 5 1/2 in are cut off
    # the first main (derived); the two rests of 24 1/2 in share one more.
    stock = Stock(
        item="main runner", section="", length=144 * INCH, kerf=0, first_hole=3 * INCH, pitch=6 * INCH
    )
    lengths = [138.5 * INCH, 24.5 * INCH] * 2
    holes = [3.5 * INCH, 3 * INCH] * 2
    plan = cut_bars(stock, parts_of(lengths, [-1, 1] * 2, holes))
    assert len(plan.bars) == 3
    assert find_bar_faults(plan) == ()


@pytest.mark.parametrize(
    ("length", "ends", "words"), [(1300.0, 0, "cannot be cut"), (900.0, 2, "both factory ends")]
)
def test_parts_that_no_bar_gives_are_refused_by_name(length, ends, words):
    with pytest.raises(SystemDataError, match=rf"part 0.*{words}"):
        cut_bars(TEE, parts_of([length], [ends]))


def test_bars_whose_holes_lie_otherwise_from_the_far_end_are_never_turned():
    stock = Stock(item="main runner", section="", length=3600.0, first_hole=50.0, pitch=150.0)
    assert not stock.is_reversible
    lengths, ends, holes = [700.0, 800.0, 900.0], [1, -1, 0], [50.0, 100.0, 20.0]
    plan = cut_bars(stock, parts_of(lengths, ends, holes))
    assert find_bar_faults(plan) == ()
    assert not any(placed.is_turned for bar in plan.bars for placed in bar)


def test_nothing_to_cut_needs_no_bar():
    plan = cut_bars(TEE, [])
    assert (plan.bars, plan.bound, plan.gap) == ((), 0, 0.0)


def test_the_same_job_gets_the_same_plan():
    assert cut_bars(ANGLE, random_job(7, 300)).bars == cut_bars(ANGLE, random_job(7, 300)).bars
    assert math.isnan(random_job(7, 1)[0].first_hole)
