"""The plenum study of a model: the highest ceiling of every room, worked out, built and judged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import ceil
from pathlib import Path
from typing import Any

from ifcgrid.checks.coordination import read_coordination
from ifcgrid.checks.limits import limits_for
from ifcgrid.checks.plenum import find_plenum
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import IfcGridError
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.plan import Plan
from ifcgrid.domain.plenum import Plenum
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.reading.written import read_written
from ifcgrid.outputs.files import write_text
from ifcgrid.outputs.plenum_table import record_plenum, tabulate_plenum
from ifcgrid.pipeline.coordinating import make_hanger
from ifcgrid.pipeline.flow import Build, OnRoom, build, read_plan_file
from ifcgrid.pipeline.intake import describe_models
from ifcgrid.pipeline.judging import judge_ceiling
from ifcgrid.pipeline.nearby import Nearby
from ifcgrid.pipeline.targets import check_targets
from ifcgrid.pipeline.ways_out.moving import move_devices_along, move_zone
from ifcgrid.pipeline.ways_out.trial import Hang, Judge
from ifcgrid.pipeline.written import read_back

__all__ = ["Raised", "plenum_file", "study_plenum"]

PathLike = str | Path

_TRIES = 8


def study_plenum(done: Build, plan: Plan | None = None, on_room: OnRoom | None = None) -> tuple[Plenum, ...]:
    """The plenum of each ceiling of a build, in their order; each highest level was built and judged."""
    plan = plan or Plan()
    nearby, limits = Nearby(done.intake.obstacles), limits_for(plan.judging.clash)
    raised = Raised(hang=make_hanger(done, plan), judge=partial(judge_ceiling, numbers=plan.judging.clash))
    found = []
    for count, ceiling in enumerate(done.ceilings, start=1):
        near = nearby.find(ceiling.zone)
        plenum = find_plenum(ceiling, near, limits)
        try:
            found.append(_tried(ceiling, plenum, near, raised))
        except Exception:  # a level that cannot be tried is told as not tried, and stops no other room
            found.append(plenum)
        if on_room:
            room = ceiling.zone.rooms[0]
            on_room(room.number or room.name, count, len(done.ceilings))
    return tuple(found)


def _tried(ceiling: Ceiling, plenum: Plenum, near: Sequence[Obstacle], raised: Raised) -> Plenum:
    """The plenum with the highest level that the judge finds nothing to say of, from above."""
    if plenum.highest is None:
        return plenum
    level, held, poor = plenum.highest, None, None
    for _ in range(_TRIES):
        faults = raised.faults(ceiling, level - plenum.level, near)
        if faults is None:
            return plenum
        if not faults:
            if poor is not None:
                level = _highest_between(ceiling, plenum, near, raised, level, poor)
            return _held(plenum, level, held)
        worst = max(faults, key=lambda f: (_missing(ceiling, f, near, level - plenum.level), f.message))
        poor, held = level, worst
        level -= max(_missing(ceiling, worst, near, level - plenum.level), 1.0)
    return replace(plenum, held_by=held.message if held else "")


def _held(plenum: Plenum, level: float, held: Finding | None) -> Plenum:
    """The plenum with the level that was judged; what the judge named keeps the ceiling down to it."""
    if held is None:
        return replace(plenum, tried=level)
    named = set(held.subjects)
    keepers = [
        replace(k, need=k.bottom - level, rule=held.rule, source=held.source)
        if k.key in named and k.level > level
        else k
        for k in plenum.keepers
    ]
    keepers.sort(key=lambda k: (k.level, k.key))
    return replace(plenum, keepers=tuple(keepers), tried=level, held_by=held.message)


def _highest_between(
    ceiling: Ceiling, plenum: Plenum, near: Sequence[Obstacle], raised: Raised, good: float, poor: float
) -> float:
    """The highest level without fault between one that has none and one that has, to 1 mm."""
    middle = good + 1.0  # what the measure says is mostly right to the mm
    while poor - good > 1.0:
        faults = raised.faults(ceiling, middle - plenum.level, near)
        good, poor = (middle, poor) if faults is not None and not faults else (good, middle)
        middle = good + max((poor - good) // 2, 1.0)
    return good


@dataclass(frozen=True, slots=True, kw_only=True)
class Raised:
    """Ceilings at other levels, built by `hang` and judged by `judge`."""

    hang: Hang
    judge: Judge

    def faults(self, ceiling: Ceiling, rise: float, near: Sequence[Obstacle]) -> tuple[Finding, ...] | None:
        """What fails for want of height over a ceiling that is raised; None where it cannot be built."""
        zone = move_zone(ceiling.zone, rise)
        moved = move_devices_along(ceiling.zone, near, rise)
        try:
            made = self.hang(ceiling, zone, ceiling.layout, moved)
        except (IfcGridError, ValueError):
            return None
        return tuple(f for f in self.judge(made, moved) if _is_from_above(f))


def _is_from_above(finding: Finding) -> bool:
    is_height = "level" in read_coordination().ways_of(finding.rule)
    is_below = finding.rule.endswith("-above-ceiling") or finding.rule == "ceiling-below-headroom"
    # A main that nothing bars from hanging hangs no better lower down.
    names_bodies = any("/" not in s for s in finding.subjects)
    return finding.verdict is Verdict.FAIL and is_height and not is_below and names_bodies


def _missing(ceiling: Ceiling, finding: Finding, near: Sequence[Obstacle], rise: float) -> float:
    """By how much lower the ceiling would be without a fault: its measure, or room for a trapeze."""
    if not finding.rule.startswith(("hanger-", "main-")):
        return float(ceil((finding.value or 1.0) - tolerance.LENGTH))
    rules, keys = ceiling.system.hanging, set(finding.subjects)
    bottom = min((o.bottom for o in near if o.key in keys), default=0.0)
    floor = bottom - rules.clearance - rules.bar_depth - rules.shortest
    return float(ceil(ceiling.zone.level + rise + ceiling.system.main.height - floor - tolerance.LENGTH))


def plenum_file(
    path: PathLike,
    *,
    others: Sequence[PathLike] = (),
    plan: PathLike | None = None,
    csv: PathLike | None = None,
    on_room: OnRoom | None = None,
) -> dict[str, Any]:
    """How high each room's ceiling could hang; returns the record.

    The ceilings are those that stand in the model; where it holds none of ours they are laid
    out first, as `build` would.

    Raises:
        ModelError: a file is no usable model.
        PlanError: the plan is wrong.
        OutputError: the table cannot be written.
    """
    check_targets([csv], inputs=[path, *others, *([plan] if plan else [])])
    rules = read_plan_file(plan)
    model, further = open_model(path), [open_model(other) for other in others]
    is_built = bool(read_written(model.file))
    done = read_back(model, further, rules.judging.clash) if is_built else build(model, rules, further)
    studied = list(zip(done.ceilings, study_plenum(done, rules, on_room), strict=True))
    record = record_plenum(
        model=describe_models(done.intake),
        studied=studied,
        skipped=done.skipped,
        outputs=[] if csv is None else [str(csv)],
    )
    if csv is not None:
        write_text(Path(csv), tabulate_plenum(record))
    return record
