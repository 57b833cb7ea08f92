"""Which ways are tried for which cause, and in which order they are offered."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from ifcgrid.checks.coordination import Coordination, read_coordination
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Severity, Verdict
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.way_out import WayOut
from ifcgrid.pipeline.nearby import Nearby
from ifcgrid.pipeline.ways_out.hangers import find_hanger_way
from ifcgrid.pipeline.ways_out.levels import find_level_ways, find_raised_obstacle
from ifcgrid.pipeline.ways_out.seats import find_device_ways, find_grid_ways
from ifcgrid.pipeline.ways_out.trial import Hang, Judge, Trial

__all__ = ["MOST_CAUSES", "add_ways_out"]

MOST_CAUSES = 200
"""For so many causes of one run ways out are tried, the gravest first: each takes a ceiling or more."""

_GRAVEST = (Severity.HIGH, Severity.NORMAL, Severity.LOW)


def add_ways_out(
    findings: Sequence[Finding],
    ceilings: Iterable[Ceiling],
    obstacles: Sequence[Obstacle],
    *,
    hang: Hang,
    judge: Judge,
    on_cause: Callable[[str, int, int], None] | None = None,
) -> tuple[Finding, ...]:
    """Findings in their order, those that fail with the ways out that were found for them.

    Causes that somebody waived are left as they are.
    """
    by_room: dict[str, Ceiling] = {}
    for ceiling in ceilings:
        for room in ceiling.zone.rooms:
            by_room.setdefault(room.key, ceiling)
        by_room[ceiling.key] = ceiling
    owners = {
        k: owner
        for k, f in enumerate(findings)
        if f.verdict is Verdict.FAIL and f.waiver is None and not f.document
        if (owner := _owner(f, by_room)) is not None
    }
    gravest = sorted(owners, key=lambda k: (_GRAVEST.index(findings[k].severity or Severity.NORMAL), k))
    chosen = gravest[:MOST_CAUSES]
    nearby, made, trials = Nearby(obstacles), list(findings), {}
    for done, k in enumerate(chosen, start=1):
        ceiling = owners[k]
        if ceiling.key not in trials:
            near = tuple(nearby.find(ceiling.zone))
            trials[ceiling.key] = Trial(
                ceiling=ceiling, near=near, findings=tuple(judge(ceiling, near)), hang=hang, judge=judge
            )
        made[k] = replace(findings[k], ways_out=_ways(trials[ceiling.key], findings[k]))
        if on_cause:
            on_cause(findings[k].rule, done, len(chosen))
    return tuple(made)


def _owner(finding: Finding, by_room: Mapping[str, Ceiling]) -> Ceiling | None:
    """The ceiling that a finding is about: the one whose parts it names, else its room's."""
    for subject in finding.subjects:
        zone, slash, _ = subject.partition("/")
        if slash and zone in by_room:
            return by_room[zone]
    return by_room.get(finding.room)


def _ways(trial: Trial, finding: Finding) -> tuple[WayOut, ...]:
    told = read_coordination()
    found = [replace(way, who=told.trades.get(way.who, way.who)) for way in _tried(trial, finding, told)]
    found.sort(key=lambda way: (not way.is_clear, way.who != finding.trade, way.amount, way.kind.value))
    return tuple(found)


def _tried(trial: Trial, finding: Finding, told: Coordination) -> Iterator[WayOut]:
    for name in told.ways_of(finding.rule):
        if name == "level":
            yield from find_level_ways(trial, finding)
        elif name == "service":
            yield from find_raised_obstacle(trial, finding)
        elif name == "device":
            yield from find_device_ways(trial, finding, told)
        elif name == "grid":
            yield from find_grid_ways(trial, finding)
        elif name == "hanger":
            yield from find_hanger_way(trial, finding)
