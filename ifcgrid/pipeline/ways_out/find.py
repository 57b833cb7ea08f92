"""Which ways are tried for which cause, and in which order they are offered."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

import shapely

from ifcgrid.checks.coordination import Coordination, read_coordination
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Severity, Verdict
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.way_out import WayOut
from ifcgrid.pipeline.nearby import Nearby
from ifcgrid.pipeline.ways_out.hangers import find_brace_way, find_hanger_way
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
    made, trials = list(findings), _Trials(dict.fromkeys(by_room.values()), obstacles, hang, judge)
    for done, k in enumerate(chosen, start=1):
        try:
            ways = _ways(trials.of(owners[k]), findings[k], trials)
        except Exception:  # a cause for which no way can be tried is told all the same, and stops no other
            ways = ()
        made[k] = replace(findings[k], ways_out=ways)
        if on_cause:
            on_cause(findings[k].rule, done, len(chosen))
    return tuple(made)


class _Trials:
    """One trial a ceiling, made when it is first asked for."""

    def __init__(
        self, ceilings: Iterable[Ceiling], obstacles: Sequence[Obstacle], hang: Hang, judge: Judge
    ) -> None:
        self._ceilings = list(ceilings)
        self._nearby = Nearby(obstacles)
        self._hang, self._judge = hang, judge
        self._made: dict[str, Trial] = {}

    def of(self, ceiling: Ceiling) -> Trial:
        """The trial of a ceiling."""
        if ceiling.key not in self._made:
            near = tuple(self._nearby.find(ceiling.zone))
            self._made[ceiling.key] = Trial(
                ceiling=ceiling,
                near=near,
                findings=tuple(self._judge(ceiling, near)),
                hang=self._hang,
                judge=self._judge,
            )
        return self._made[ceiling.key]

    def beside(self, trial: Trial, finding: Finding) -> list[Trial]:
        """Trials of the other ceilings that lie under or over what a finding names."""
        shape = shapely.union_all([o.outline for o in trial.named(finding)])
        met = [c for c in self._ceilings if c.key != trial.ceiling.key]
        return [self.of(c) for c in met if shapely.intersects(c.zone.outline, shape)]


def _owner(finding: Finding, by_room: Mapping[str, Ceiling]) -> Ceiling | None:
    """The ceiling that a finding is about: the one whose parts it names, else its room's."""
    for subject in finding.subjects:
        zone, slash, _ = subject.partition("/")
        if slash and zone in by_room:
            return by_room[zone]
    return by_room.get(finding.room)


def _ways(trial: Trial, finding: Finding, trials: _Trials) -> tuple[WayOut, ...]:
    told = read_coordination()
    found = [
        replace(way, who=told.trades.get(way.who, way.who)) for way in _tried(trial, finding, told, trials)
    ]
    found.sort(key=lambda way: (not way.is_clear, way.who != finding.trade, way.amount, way.kind.value))
    return tuple(found)


def _tried(trial: Trial, finding: Finding, told: Coordination, trials: _Trials) -> Iterator[WayOut]:
    for name in told.ways_of(finding.rule):
        if name == "hanger":
            hung = list(find_hanger_way(trial, finding))
            yield from hung
            if any(way.is_clear for way in hung):
                return  # every other way would hang it again too, and owe its success to that
        elif name == "brace":
            yield from find_brace_way(trial, finding)
        elif name == "level":
            yield from find_level_ways(trial, finding)
        elif name == "service":
            yield from find_raised_obstacle(trial, finding, trials.beside(trial, finding))
        elif name == "device":
            yield from find_device_ways(trial, finding, told)
        elif name == "grid":
            yield from find_grid_ways(trial, finding)
