"""The clashes of a model: those that are asked for, judged, and written as BCF and CSV."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from ifcgrid.checks.limits import limits_for
from ifcgrid.domain.cause import cause_of
from ifcgrid.domain.errors import PlanError
from ifcgrid.domain.finding import Finding, Severity, Verdict
from ifcgrid.domain.room import Room
from ifcgrid.ifc.project import open_model
from ifcgrid.outputs.bcf import Version
from ifcgrid.outputs.files import write_text
from ifcgrid.outputs.finding_table import tabulate_findings
from ifcgrid.outputs.record import record_build
from ifcgrid.pipeline.coordinating import coordinate
from ifcgrid.pipeline.flow import read_plan_file
from ifcgrid.pipeline.intake import describe_models
from ifcgrid.pipeline.issues import record_change, write_issues
from ifcgrid.pipeline.targets import check_targets
from ifcgrid.pipeline.written import read_back

__all__ = ["Asked", "clash_file"]

PathLike = str | Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Which findings are asked for: patterns for storey and trade, the least severity. None: all."""

    storey: str | None = None
    trade: str | None = None
    severity: Severity | None = None

    def wants(self, finding: Finding, room: Room | None) -> bool:
        """Whether a finding in a room is asked for."""
        order = list(Severity)
        return (
            _is_like(room.storey if room else "", self.storey)
            and _is_like(finding.trade, self.trade)
            and (
                self.severity is None
                or order.index(finding.severity or Severity.NORMAL) <= order.index(self.severity)
            )
        )


def _is_like(text: str, pattern: str | None) -> bool:
    return pattern is None or fnmatchcase(text.casefold(), pattern.casefold())


def clash_file(
    path: PathLike,
    *,
    others: Sequence[PathLike] = (),
    plan: PathLike | None = None,
    bcf: PathLike | None = None,
    bcf_version: Version | None = None,
    csv: PathLike | None = None,
    asked: Mapping[str, str | None] | None = None,
    has_ways: bool = True,
    on_cause: Callable[[str, int, int], None] | None = None,
) -> dict[str, Any]:
    """Judges the ceilings in a model against what is in their way; returns the record.

    Args:
        path: a model that holds ceilings of ours.
        others: further models of the same building.
        plan: a plan file, for its waivers and its own numbers of clash rules.
        bcf: what fails becomes topics of that file; one that exists is brought up to date, and
            what people waived in it is waived.
        bcf_version: of a new BCF file.
        csv: one row a finding.
        asked: `storey`, `trade` (patterns) and least `severity` of the findings that are told
            and written; topics of all others stay as they are.
        has_ways: whether ways out are worked out.
        on_cause: called after each cause with its rule, how many are done and how many there are.

    Raises:
        ModelError: a file is no usable model, or holds no ceilings of ours.
        PlanError: the plan or what is asked for is wrong.
        OutputError: the BCF file is none, or a target cannot be written.
    """
    check_targets([bcf, csv], inputs=[path, *others, *([plan] if plan else [])])
    rules, wanted = read_plan_file(plan), _read_asked(asked or {})
    now = datetime.now(UTC)
    issues_file = None if bcf is None else Path(bcf)
    limits_for(rules.judging.clash)  # a wrong name is told before the long work
    models = [open_model(other) for other in others]
    done = read_back(open_model(path), models, rules.judging.clash)
    rooms = {room.key: room for room in done.intake.rooms}
    chosen = tuple(f for f in done.findings if wanted.wants(f, rooms.get(f.room)))
    told = coordinate(
        replace(done, findings=chosen),
        rules,
        today=now.date(),
        bcf=issues_file,
        has_ways=has_ways,
        on_cause=on_cause,
    )
    outputs, issues = [], None
    if issues_file is not None:
        issues = write_issues(
            issues_file,
            told,
            model=Path(path).name,
            when=now.isoformat(timespec="seconds"),
            version=bcf_version,
            kept=[cause_of(f) for f in done.findings if f.verdict is Verdict.FAIL],
        )
        outputs.append(str(bcf))
    if csv is not None:
        write_text(Path(csv), tabulate_findings(told.findings, told.intake.rooms))
        outputs.append(str(csv))
    record = record_build(
        model=describe_models(told.intake),
        ceilings=told.ceilings,
        skipped=told.skipped,
        findings=told.findings,
        outputs=outputs,
    )
    return record if issues is None else {**record, "issues": record_change(issues)}


def _read_asked(asked: Mapping[str, str | None]) -> Asked:
    severity = asked.get("severity")
    if severity is not None and severity not in [s.value for s in Severity]:
        raise PlanError(f"severity {severity!r}; choose one of {', '.join(s.value for s in Severity)}")
    return Asked(
        storey=asked.get("storey"),
        trade=asked.get("trade"),
        severity=None if severity is None else Severity(severity),
    )
