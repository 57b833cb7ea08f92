"""What the checks say of ceilings, with who is asked and what somebody accepted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from ifcgrid.checks.clash import find_clashes, find_clashes_between, tell_once
from ifcgrid.checks.coordination import grade
from ifcgrid.checks.judge import judge_rules
from ifcgrid.checks.limits import limits_for
from ifcgrid.checks.measured import check_measured
from ifcgrid.checks.rule_sets import choose_sets
from ifcgrid.domain.cause import cause_of
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Unchecked, Verdict
from ifcgrid.domain.judging import Judging
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Room
from ifcgrid.domain.waiver import WaiverRule, find_waiver
from ifcgrid.pipeline.nearby import Nearby

__all__ = ["judge", "judge_by_rules", "judge_ceiling", "waive"]


ClashNumbers = Mapping[str, float | bool]
"""A project's own numbers for clash rules, as its plan gives them."""


def judge(
    ceilings: Sequence[Ceiling], obstacles: Sequence[Obstacle], numbers: ClashNumbers | None = None
) -> tuple[Finding, ...]:
    """What the checks say of the ceilings, in their order, and of all of them together.

    Raises:
        PlanError: `numbers` names a rule that does not exist.
    """
    nearby, limits = Nearby(obstacles), limits_for(numbers or {})
    found = [f for c in ceilings for f in judge_ceiling(c, nearby.find(c.zone), numbers)]
    room_of = {room.key: ceiling for ceiling in ceilings for room in ceiling.zone.rooms}
    for finding in find_clashes_between(ceilings, limits):
        found += grade([finding], room_of[finding.room], ())
    return tell_once(found)


def judge_ceiling(
    ceiling: Ceiling, near: Sequence[Obstacle], numbers: ClashNumbers | None = None
) -> tuple[Finding, ...]:
    """What the checks say of one ceiling among the obstacles near it."""
    clashes = find_clashes(ceiling, near, limits_for(numbers or {}))
    return grade((*check_measured(ceiling), *clashes), ceiling, near)


def judge_by_rules(
    ceilings: Iterable[Ceiling], obstacles: Sequence[Obstacle], judging: Judging
) -> tuple[tuple[Finding, ...], tuple[Unchecked, ...]]:
    """What rule sets say of the ceilings, and what was not checked, in the order of the ceilings."""
    chosen = choose_sets(judging.sets, judging.switches, edition=judging.edition)
    nearby = Nearby(obstacles)
    found: list[Finding] = []
    unchecked: list[Unchecked] = []
    for ceiling in ceilings:
        near = nearby.find(ceiling.zone)
        told, rest = judge_rules(ceiling, near, chosen, judging.seismic)
        found += grade(told, ceiling, near)
        unchecked += rest
    return tuple(found), tuple(unchecked)


def waive(
    findings: Sequence[Finding], rooms: Iterable[Room], rules: Sequence[WaiverRule], today: date
) -> tuple[Finding, ...]:
    """The findings, those that fail and that somebody accepted with the waiver."""
    if not rules:
        return tuple(findings)
    known: Mapping[str, Room] = {room.key: room for room in rooms}
    return tuple(
        replace(f, waiver=find_waiver(rules, _facts(f, known.get(f.room)), today))
        if f.verdict is Verdict.FAIL and f.waiver is None
        else f
        for f in findings
    )


def _facts(finding: Finding, room: Room | None) -> dict[str, tuple[str, ...]]:
    return {
        "cause": (cause_of(finding),),
        "rule": (finding.rule,),
        "storey": (room.storey,) if room else (),
        "room": (room.number, room.name, room.key) if room else (finding.room,),
        "element": finding.subjects,
    }
