"""Cuts random jobs of 2,000 parts and prints how far each plan is from its proved bound.

python scripts/bench_cutting.py [--jobs N]

Lengths are sixteenths of an inch from bars of 12 ft, a cut takes 1/8 in; jobs have 50, 150
or 300 different lengths, short, mixed or long. Every plan is measured again by the check.
Times are those of this machine and this run; only ratios within one run mean anything.
"""

from __future__ import annotations

import argparse
import random
import sys
import time

from ifcgrid.checks.cutting import find_bar_faults
from ifcgrid.design.cutting.bars import cut_bars
from ifcgrid.domain.cutting import Part, Stock

__all__ = ["main", "random_job"]

INCH = 25.4
STOCK = Stock(item="wall angle", section="", length=144 * INCH, kerf=INCH / 8)
RANGES = ((6, 24), (6, 60), (20, 140))
LENGTHS = (50, 150, 300)
PARTS = 2000


def random_job(seed: int) -> list[Part]:
    """Parts of one job; equal seeds give equal jobs."""
    rnd = random.Random(seed)
    low, high = RANGES[seed % 3]
    sizes = [rnd.randrange(low * 16, high * 16) * INCH / 16 for _ in range(LENGTHS[seed // 3 % 3])]
    return [Part(key=str(k), mark="", room="", length=rnd.choice(sizes)) for k in range(PARTS)]


def main(argv: list[str] | None = None) -> int:
    """Print one line a job and the worst gap; 1 when a plan does not hold or a gap is over 1 %."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--jobs", type=int, default=20)
    jobs = parser.parse_args(argv).jobs
    worst, longest, faults = 0.0, 0.0, 0
    print("job  lengths      quick  bars  bound    gap   seconds  ratio to quick  found by")
    for seed in range(jobs):
        parts = random_job(seed)
        started = time.perf_counter()
        quick = cut_bars(STOCK, parts, use_solver=False)
        between = time.perf_counter()
        plan = cut_bars(STOCK, parts)
        ended = time.perf_counter()
        faults += len(find_bar_faults(plan))
        worst, longest = max(worst, plan.gap), max(longest, ended - between)
        low, high = RANGES[seed % 3]
        name = f"{seed:>3}  {LENGTHS[seed // 3 % 3]:>3} of {low}-{high} in"
        took, ratio = ended - between, (ended - between) / (between - started)
        print(
            f"{name:<20}{len(quick.bars):>5} {len(plan.bars):>5} {plan.bound:>6}{plan.gap:>7.2%} {took:>9.2f}"
            f" {ratio:>15.0f}  {plan.method}"
        )
    print(f"worst gap {worst:.2%}, longest {longest:.2f} s, {faults} faults")
    return int(faults > 0 or worst > 0.01)


if __name__ == "__main__":
    sys.exit(main())
