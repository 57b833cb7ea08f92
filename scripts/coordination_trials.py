"""Ways out and plenum studies on random rooms, taken and judged again: python scripts/coordination_trials.py.

Every way that is offered as clear is carried out here on the scene itself, with none of the
code that found it, and the ceiling is built and judged again: the cause has to be gone and
nothing else may fail. Every highest level has to be clear from above, and 1 mm more not.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely import affinity, box

from ifcgrid.checks.clash import find_clashes
from ifcgrid.checks.plenum import find_plenum
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import DEVICES, Kind, Obstacle
from ifcgrid.domain.room import CeilingHeight, HeightEvidence, HeightSource, Room, Zone
from ifcgrid.domain.way_out import WayKind, WayOut
from ifcgrid.pipeline.flow import hang_ceiling
from ifcgrid.pipeline.judging import judge_ceiling
from ifcgrid.pipeline.ways_out import add_ways_out
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

LEVEL, SOFFIT = 2700.0, 3500.0
SYSTEM, POLICY = read_system("lay-in-600x600"), read_policy("half-module")
FROM_ABOVE = {"service-in-ceiling", "structure-in-ceiling", "panel-tilt-in", "fixture-depth"}


def hang(_: Ceiling, zone: Zone, layout: Layout, near: Sequence[Obstacle]) -> Ceiling:
    """A ceiling built again."""
    return hang_ceiling(zone, SYSTEM, POLICY, near, shared=layout)


def make_zone(rng: np.random.Generator) -> Zone:
    """One rectangular room."""
    outline = box(0, 0, rng.uniform(3000, 9000), rng.uniform(2500, 7000))
    told = HeightEvidence(source=HeightSource.PLAN, value=LEVEL, where="trial")
    height = CeilingHeight(value=LEVEL, source=HeightSource.PLAN, candidates=(told,))
    room = Room(
        key="room",
        name="Room",
        number="1",
        storey="Storey",
        storey_key="storey",
        section=outline,
        outline=outline,
        floor=0.0,
        top=SOFFIT,
        height=height,
    )
    return Zone(key="room", rooms=(room,), outline=outline, level=LEVEL)


def make_things(rng: np.random.Generator, zone: Zone, layout: Layout) -> list[Obstacle]:
    """A slab, a few services and beams, lights and heads on and off the module."""
    width, depth = zone.outline.bounds[2:]
    things = [_thing(Kind.SLAB, box(-1000, -1000, width + 1000, depth + 1000), SOFFIT, SOFFIT + 200, "slab")]
    for k in range(int(rng.integers(0, 4))):
        kind = (Kind.DUCT, Kind.PIPE, Kind.TRAY, Kind.BEAM)[int(rng.integers(4))]
        x, y = rng.uniform(-500, width - 500), rng.uniform(-500, depth - 200)
        along, across = rng.uniform(500, 5000), rng.uniform(50, 900)
        plan = box(x, y, x + along, y + across) if k % 2 else box(x, y, x + across, y + along)
        bottom = rng.choice([rng.uniform(2600, 2850), rng.uniform(2800, 3200)])
        top = SOFFIT if kind is Kind.BEAM else min(bottom + rng.uniform(50, 400), SOFFIT)
        things.append(_thing(kind, plan, bottom, top, f"body {k}"))
    for k in range(int(rng.integers(0, 6))):
        i, j = int(rng.integers(1, max(layout.columns - 1, 2))), int(rng.integers(1, max(layout.rows - 1, 2)))
        u, v = layout.frame.to_world([((i + 0.5) * 600, (j + 0.5) * 600)])[0].tolist()
        if rng.random() < 0.4:
            u, v = u + rng.uniform(-80, 80), v + rng.uniform(-80, 80)
        if k % 3 == 2:
            u += 300 if rng.random() < 0.5 else 0
            plan = box(u - 35, v - 35, u + 35, v + 35)
            things.append(_thing(Kind.SPRINKLER, plan, LEVEL - 60, LEVEL + 150, f"head {k}"))
        else:
            plan = box(u - 297.5, v - 297.5, u + 297.5, v + 297.5)
            things.append(_thing(Kind.LIGHT, plan, LEVEL, LEVEL + rng.uniform(60, 140), f"light {k}"))
    return things


def _thing(kind: Kind, plan: object, bottom: float, top: float, key: str) -> Obstacle:
    return Obstacle(key=key, kind=kind, name=key, outline=plan, bottom=bottom, top=top)  # type: ignore[arg-type]


def taken(way: WayOut, ceiling: Ceiling, things: Sequence[Obstacle]) -> tuple[Ceiling, list[Obstacle]] | None:
    """The ceiling and the things after a way was taken; None for other mains, which it does not tell."""
    zone, layout, moved = ceiling.zone, ceiling.layout, list(things)
    steps = {step.key: step for step in way.steps}
    if way.kind in (WayKind.LOWER_CEILING, WayKind.RAISE_CEILING):
        rise = way.steps[0].vector[2]
        zone = replace(zone, level=zone.level + rise)
        moved = [
            replace(o, bottom=o.bottom + rise, top=o.top + rise) if o.kind in DEVICES else o for o in things
        ]
    elif way.kind in (WayKind.MOVE_DEVICE, WayKind.MOVE_OBSTACLE):
        moved = [_moved(o, *steps[o.key].vector) if o.key in steps else o for o in things]
    elif way.kind is WayKind.SHIFT_GRID:
        x, y, _ = way.steps[0].vector
        if (x, y) == (0.0, 0.0):
            return None
        frame = replace(layout.frame, x=layout.frame.x + x, y=layout.frame.y + y)
        layout = replace(layout, frame=frame)
    return hang(ceiling, zone, layout, moved), moved


def _moved(obstacle: Obstacle, x: float, y: float, z: float) -> Obstacle:
    outline = affinity.translate(obstacle.outline, x, y)
    return replace(obstacle, outline=outline, bottom=obstacle.bottom + z, top=obstacle.top + z)


def failing(ceiling: Ceiling, things: Sequence[Obstacle]) -> list[Finding]:
    """What fails."""
    return [f for f in find_clashes(ceiling, things) if f.verdict is Verdict.FAIL]


def _pairs(findings: Sequence[Finding]) -> set[tuple[str, str]]:
    return {(f.rule, s) for f in findings for s in f.subjects if "/" not in s}


def check_ways(seed: int, count: Counter[str]) -> list[str]:
    """What is wrong with the ways out of one scene."""
    rng = np.random.default_rng(seed)
    zone = make_zone(rng)
    free = hang_ceiling(zone, SYSTEM, POLICY, [])
    things = make_things(rng, zone, free.layout)
    ceiling = hang_ceiling(zone, SYSTEM, POLICY, things, shared=free.layout)
    before = failing(ceiling, things)
    told = add_ways_out(judge_ceiling(ceiling, things), [ceiling], things, hang=hang, judge=judge_ceiling)
    wrong = []
    for finding in told:
        if finding.verdict is not Verdict.FAIL:
            continue
        count["causes"] += 1
        count["causes with a clear way"] += any(way.is_clear for way in finding.ways_out)
        for way in finding.ways_out:
            count[f"{way.kind.value}, {'clear' if way.is_clear else 'not clear'}"] += 1
            made = taken(way, ceiling, things) if way.is_clear else None
            if made is None:
                continue
            after = failing(*made)
            same = _pairs([f for f in after if f.rule == finding.rule]) & _pairs([finding])
            if same or _pairs(after) - _pairs(before):
                wrong.append(f"scene {seed}: {finding.rule}: {way.text}: {[f.rule for f in after]}")
    return wrong


def check_plenum(seed: int, count: Counter[str]) -> list[str]:
    """What is wrong with the plenum study of one scene."""
    rng = np.random.default_rng(seed)
    zone = make_zone(rng)
    free = hang_ceiling(zone, SYSTEM, POLICY, [])
    things = make_things(rng, zone, free.layout)
    ceiling = hang_ceiling(zone, SYSTEM, POLICY, things, shared=free.layout)
    found = find_plenum(ceiling, things)
    if found.highest is None or found.through:
        count["plenums without a usable level"] += 1
        return []
    count["plenums"] += 1
    clear, more = (_from_above(ceiling, things, found.highest - LEVEL + mm) for mm in (0.0, 1.0))
    return [] if not clear and more else [f"scene {seed}: plenum {found.highest}: {clear}, then {more}"]


def _from_above(ceiling: Ceiling, things: Sequence[Obstacle], rise: float) -> set[str]:
    zone = replace(ceiling.zone, level=ceiling.zone.level + rise)
    moved = [replace(o, bottom=o.bottom + rise, top=o.top + rise) if o.kind in DEVICES else o for o in things]
    return {f.rule for f in failing(hang(ceiling, zone, ceiling.layout, moved), moved)} & FROM_ABOVE


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the trials; 1 when something is wrong."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--scenes", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    chosen = parser.parse_args(arguments)
    count: Counter[str] = Counter()
    wrong: list[str] = []
    start = time.perf_counter()
    for seed in range(chosen.first, chosen.first + chosen.scenes):
        wrong += check_ways(seed, count) + check_plenum(seed, count)
    print(f"{chosen.scenes} scenes in {time.perf_counter() - start:.0f} s")
    for word, number in sorted(count.items()):
        print(f"  {number:6d} {word}")
    print("\n".join(wrong) if wrong else "Every clear way is clear, every highest level is the highest.")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
