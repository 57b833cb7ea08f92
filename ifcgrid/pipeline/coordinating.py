"""Findings made ready for coordination: what somebody accepted, and ways out of the rest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path

from ifcgrid.domain.cause import cause_of
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.plan import Plan
from ifcgrid.domain.policy import DEFAULT_POLICY
from ifcgrid.domain.restraint_plan import RestraintSettings
from ifcgrid.domain.room import Zone
from ifcgrid.outputs.bcf import read_waivers
from ifcgrid.pipeline.flow import Build, hang_ceiling
from ifcgrid.pipeline.judging import judge_ceiling, waive
from ifcgrid.pipeline.setting_out import settings_of
from ifcgrid.pipeline.ways_out import add_ways_out
from ifcgrid.policies import read_policy

__all__ = ["coordinate", "make_hanger"]


def coordinate(
    done: Build,
    plan: Plan | None = None,
    *,
    today: date,
    bcf: Path | None = None,
    has_ways: bool = True,
    on_cause: Callable[[str, int, int], None] | None = None,
) -> Build:
    """A build whose findings bear waivers, of the plan and of an existing BCF file, and ways out.

    Raises:
        OutputError: the BCF file is none.
    """
    plan = plan or Plan()
    findings = waive(done.findings, done.intake.rooms, plan.waivers, today)
    accepted = read_waivers(bcf) if bcf is not None else {}
    findings = tuple(
        replace(f, waiver=f.waiver or accepted.get(cause_of(f))) if f.verdict is Verdict.FAIL else f
        for f in findings
    )
    if has_ways:
        findings = add_ways_out(
            findings,
            done.ceilings,
            done.intake.obstacles,
            hang=make_hanger(done, plan),
            judge=partial(judge_ceiling, numbers=plan.judging.clash),
            on_cause=on_cause,
        )
    return replace(done, findings=findings)


def make_hanger(done: Build, plan: Plan) -> Callable[[Ceiling, Zone, Layout, Sequence[Obstacle]], Ceiling]:
    """Builds a ceiling again as the flow does, with the plan's restraint where a plan is known."""
    asked: dict[str, RestraintSettings | None] = {}

    def hang(ceiling: Ceiling, zone: Zone, layout: Layout, near: Sequence[Obstacle]) -> Ceiling:
        key = ceiling.zone.rooms[0].key
        if key not in asked:
            asked[key] = _restraint(done, plan, ceiling.zone)
        policy = ceiling.policy or read_policy(DEFAULT_POLICY)
        return hang_ceiling(
            zone, ceiling.system, policy, near, rules=plan.devices, shared=layout, restraint=asked[key]
        )

    return hang


def _restraint(done: Build, plan: Plan, zone: Zone) -> RestraintSettings | None:
    told = settings_of(zone, done.intake.settings).restraint
    if told is not None:
        return told
    room = zone.rooms[0]
    facts = {"key": room.key, "storey": room.storey, "name": room.name, "number": room.number}
    return plan.settings_for(facts).restraint
