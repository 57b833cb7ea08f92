"""Measures the layout search, and lets slow judges look for layouts that it missed.

python scripts/bench.py layout              rooms per second, and the ratio to a plain scan
python scripts/bench.py referee --rooms N   brute force against the exact layouts of N rooms
python scripts/bench.py polygons --rooms N  a scan every 5 mm against the searched layouts of N polygons,
                                            and how often turning the grid by whole degrees would win
python scripts/bench.py build               the way from file to file against the least that it can take
python scripts/bench.py clash               2,000 fixtures in 5,000 members, against all pairs in the kernel
python scripts/bench.py report --rooms 200  the floor report: how long to write, how large, how fast it opens

Times are those of this machine and this run; only ratios within one run mean anything.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterable, Sequence

import bench_build
import bench_clash
import bench_report
import numpy as np
import shapely
from brute_force import BruteForce, beats, random_room
from numpy.typing import NDArray
from polygon_trials import random_polygon, scan
from shapely import Polygon, box

from ifcgrid.design.layout import solve_layout, solve_layouts
from ifcgrid.design.layout.batch import decide
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.domain.system import GridSystem
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

__all__ = ["compare_exact", "compare_searched", "main", "mixed_rooms", "scan_room"]

SYSTEMS = ("lay-in-600x600", "lay-in-600x1200", "lay-in-300x1200", "lay-in-2x2-ft", "lay-in-2x4-ft")
POLICIES = ("half-module", "equal-and-largest", "six-inch", "fewest-cuts")


def mixed_rooms(count: int, seed: int = 1) -> list[Polygon]:
    """Rectangles, L and U rooms and rooms with two columns, in turn; sizes to 0.01 mm."""
    rng = np.random.default_rng(seed)

    def pick(low: float, high: float) -> float:
        return round(float(rng.uniform(low, high)), 2)

    rooms: list[Polygon] = []
    room: shapely.Geometry
    while len(rooms) < count:
        length, width = pick(2500, 9500), pick(2500, 7500)
        room = box(0, 0, length, width)
        kind = len(rooms) % 4
        if kind == 1:
            corner = box(length - pick(800, length / 2), width - pick(800, width / 2), length + 1, width + 1)
            room = room.difference(corner)
        elif kind == 2:
            left = pick(800, length / 3)
            room = room.difference(
                box(left, width - pick(800, width / 2), left + pick(700, length / 3), width + 1)
            )
        elif kind == 3:
            for share in (1 / 3, 2 / 3):
                x, y, half = round(length * share, 2), round(width / 2, 2), pick(100, 250)
                room = room.difference(box(x - half, y - half, x + half, y + half))
        if isinstance(room, Polygon):
            rooms.append(room)
    return rooms


def scan_room(room: Polygon, module: tuple[float, float], offsets: NDArray[np.float64]) -> int:
    """The least number of cut panels at offsets (n, 2), cells clipped by shapely in one call an offset."""
    (a, c), (x0, y0, x1, y1) = module, room.bounds
    shapely.prepare(room)
    best = sys.maxsize
    for x, y in offsets.tolist():
        low_x, low_y = np.meshgrid(
            np.arange(x0 - (x0 - x) % a, x1, a), np.arange(y0 - (y0 - y) % c, y1, c), indexing="ij"
        )
        cells = shapely.box(low_x.ravel(), low_y.ravel(), low_x.ravel() + a, low_y.ravel() + c)
        area = shapely.area(shapely.intersection(room, cells))
        best = min(best, int(((area >= 100.0) & (area < a * c - 1.0)).sum()))
    return best


def _best_time(run: object, repeats: int) -> float:
    assert callable(run)
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        run()
        times.append(time.perf_counter() - begin)
    return min(times)


def _layout(rooms: int, policy: Policy, system: GridSystem) -> None:
    """One line for the decision, one for whole layouts, and what the scan takes for the same rooms."""
    outlines = mixed_rooms(rooms)
    count = len(outlines)
    deciding = _best_time(lambda: decide(outlines, system, policy), 5) / count
    layouts = _best_time(lambda: solve_layouts(outlines, system, policy), 3) / count
    alone = _best_time(lambda: [solve_layout(o, system, policy) for o in outlines[:100]], 2) / min(count, 100)
    # A scan is as good as its step; 15 x 15 offsets a module are one every 40 mm of 600.
    steps = np.arange(15) / 15
    grid = np.stack(np.meshgrid(steps * system.along, steps * system.across), axis=-1).reshape(-1, 2)
    sample = outlines[:: max(count // 20, 1)]
    module = (system.along, system.across)
    scan = _best_time(lambda: [scan_room(o, module, grid) for o in sample], 1) / len(sample)
    print(f"{count} rooms (rectangles, L, U, with columns), {system.id}, {policy.id}, one core")
    print(
        f"  decided, all at once             {1 / deciding:10,.0f} rooms/s   {deciding * count:.3f} s in all"
    )
    print(f"  with borders and certificates    {1 / layouts:10,.0f} rooms/s")
    print(f"  one room at a time, the same     {1 / alone:10,.0f} rooms/s")
    print(f"  scan of {len(grid)} offsets with shapely {1 / scan:10,.1f} rooms/s   ({len(sample)} rooms)")
    print(f"  ratio to the scan: {scan / deciding:,.0f} decided, {scan / layouts:,.0f} whole layouts")
    exact = sum(layout.certificate.method == "exact" for layout in solve_layouts(outlines, system, policy))
    print(f"  proved exact: {exact} of {count}")


def compare_exact(seeds: Iterable[int]) -> tuple[list[str], int]:
    """What brute force has against the layouts of random rooms, and how many of them claim to be exact."""
    complaints, exact = [], 0
    for seed in seeds:
        room, system = random_room(seed), read_system(SYSTEMS[seed % len(SYSTEMS)])
        policy = read_policy(POLICIES[seed // len(SYSTEMS) % len(POLICIES)])
        layout = solve_layout(room, system, policy, angles=[0.0, 90.0])
        exact += layout.certificate.method == "exact"
        rng = np.random.default_rng(seed)
        judges = [BruteForce(room, system, policy, way) for way in (0, 1)]
        place = (layout.frame.x, layout.frame.y)
        own = judges[int(layout.frame.angle_deg == 90.0)].measure(*place)
        for name, score in layout.scores:
            if abs(own[Term(name)] - score) > (1.0 if name == Term.MAINS else 1e-5):
                complaints.append(f"room {seed}: {name} is {own[Term(name)]:g}, not {score:g}")
        for judge in judges:
            lost = (beats(rival, layout, policy) for rival in judge.candidates(rng, place))
            if beaten := next((term for term in lost if term), None):
                complaints.append(f"room {seed}, {system.id}, {policy.id}: beaten on {beaten}")
    return complaints, exact


def compare_searched(
    seeds: Iterable[int], step: float, *, turns: Sequence[float] = ()
) -> tuple[list[str], list[str], int]:
    """Complaints of a scan about layouts of random polygons, leads that the gap allows, and turned wins.

    The last value counts the rooms in which the grid turned by one of `turns` degrees from
    the walls would be better on the policy's terms.
    """
    system, policy = read_system(SYSTEMS[0]), read_policy(POLICIES[0])
    complaints: list[str] = []
    allowed: list[str] = []
    turned = 0
    for seed in seeds:
        room = random_polygon(seed)
        layout = solve_layout(room, system, policy)
        for angle in sorted({round(c.angle_deg % 90.0, 9) for c in layout.certificate.best}):
            trial = scan(room, system, policy, layout, step, angle)
            if trial.term:
                words = f"polygon {seed}: better by {trial.lead:g} in {trial.term}"
                (allowed if trial.is_allowed else complaints).append(words)
        angle = layout.frame.angle_deg
        leads = (scan(room, system, policy, layout, 10 * step, angle + turn).lead for turn in turns)
        turned += any(lead > 0.0 for lead in leads)
    return complaints, allowed, turned


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one of the benchmarks; 1 when a judge found a better layout."""
    words = sys.argv[1:] if arguments is None else list(arguments)
    if words[:1] == ["clash"]:
        return bench_clash.main(words[1:])
    if words[:1] == ["build"]:
        return bench_build.main(words[1:])
    if words[:1] == ["report"]:
        return bench_report.main(words[1:])
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("what", choices=["build", "clash", "layout", "referee", "polygons", "report"])
    parser.add_argument("--rooms", type=int, default=1000)
    parser.add_argument("--system", default="lay-in-600x600")
    parser.add_argument("--policy", default="half-module")
    given = parser.parse_args(words)
    if given.what == "layout":
        _layout(given.rooms, read_policy(given.policy), read_system(given.system))
        return 0
    if given.what == "polygons":
        complaints, allowed, _ = compare_searched(range(given.rooms), 5.0)
        print("\n".join(complaints + allowed))
        print(f"{given.rooms} polygons, {len(complaints)} complaints, {len(allowed)} leads within the gap")
        few = min(given.rooms, 20)
        _, _, turned = compare_searched(range(few), 5.0, turns=np.arange(1.0, 90.0).tolist())
        print(f"turned by 1 to 89 degrees, offsets every 50 mm, a layout is better in {turned} of {few}")
        return 1 if complaints else 0
    complaints, exact = compare_exact(range(given.rooms))
    print("\n".join(complaints))
    print(f"{given.rooms} rooms, {exact} proved exact, {len(complaints)} complaints")
    return 1 if complaints else 0


if __name__ == "__main__":
    sys.exit(main())
