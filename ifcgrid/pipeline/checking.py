"""Checks of ceilings that stand in a model, by rule sets that the caller names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from ifcgrid.checks.rule_sets import choose_sets
from ifcgrid.checks.rule_table import format_rule_table
from ifcgrid.domain.judging import Judging
from ifcgrid.domain.load_path import measure_loads
from ifcgrid.ifc.project import ModelFile, open_model
from ifcgrid.outputs.check_sheet import CheckedRoom, draw_check, record_check, tabulate_check
from ifcgrid.outputs.files import write_text
from ifcgrid.pipeline.flow import Build, Nearby, judge_by_rules, read_plan_file
from ifcgrid.pipeline.intake import describe_models
from ifcgrid.pipeline.targets import check_targets
from ifcgrid.pipeline.written import read_back

__all__ = ["check", "check_file", "format_rule_table", "read_judging_of"]

PathLike = str | Path


def read_judging_of(
    plan: PathLike | None,
    *,
    rules: Sequence[str] = (),
    switches: Mapping[str, str] | None = None,
    site: Mapping[str, Any] | None = None,
) -> Judging:
    """By what to judge: what the plan says, with the caller's rule sets added and words put over it.

    Raises:
        PlanError: the plan has a wrong entry, or a set, switch or value does not exist.
    """
    told = read_plan_file(plan).judging
    seismic = type(told.seismic)(
        **(asdict(told.seismic) | {k: v for k, v in (site or {}).items() if v is not None})
    )
    judging = Judging(
        sets=tuple(dict.fromkeys((*told.sets, *rules))),
        switches={**told.switches, **(switches or {})},
        seismic=seismic,
    )
    choose_sets(judging.sets, judging.switches)
    return judging


def check_file(
    path: PathLike,
    *,
    others: Sequence[PathLike] = (),
    judging: Judging | None = None,
    csv: PathLike | None = None,
    page: PathLike | None = None,
) -> dict[str, Any]:
    """Judges the ceilings in a model, as they stand in it now, by rule sets; returns the record.

    Raises:
        ModelError: a file is no usable model, or holds no ceilings of ours.
        PlanError: a rule set or switch does not exist.
        OutputError: a target cannot be written.
    """
    judging = judging or Judging()
    check_targets([csv, page], inputs=[path, *others])
    done = read_back(open_model(path), [open_model(other) for other in others])
    outputs = [str(target) for target in (csv, page) if target is not None]
    record = _record(done, judging, outputs)
    if csv is not None:
        write_text(Path(csv), tabulate_check(record))
    if page is not None:
        write_text(Path(page), draw_check(record))
    return record


def check(
    model: ModelFile | Any, judging: Judging | None = None, others: Sequence[ModelFile | Any] = ()
) -> dict[str, Any]:
    """Judges the ceilings in an open model by documents and editions; returns the record.

    Raises:
        ModelError: the model holds no ceilings of ours.
        PlanError: a rule set or switch does not exist.
    """
    return _record(read_back(model, others), judging or Judging(), ())


def _record(done: Build, judging: Judging, outputs: Sequence[str]) -> dict[str, Any]:
    nearby = Nearby(done.intake.obstacles)
    findings, unchecked = judge_by_rules(done.ceilings, done.intake.obstacles, judging)
    chosen = choose_sets(judging.sets, judging.switches, edition=judging.edition)
    return record_check(
        model=describe_models(done.intake),
        judged_by=[
            {
                "id": file.id,
                "document": file.document,
                "edition": file.edition,
                "title": file.title,
                "switches": {
                    rule: chosen.switches.get(rule, default) for rule, default in file.defaults.items()
                },
            }
            for file in chosen.files
        ],
        site=asdict(judging.seismic),
        checked=[CheckedRoom(ceiling=c, loads=measure_loads(c, nearby.find(c.zone))) for c in done.ceilings],
        findings=findings,
        unchecked=unchecked,
        outputs=outputs,
    )
