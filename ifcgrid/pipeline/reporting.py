"""The floor report: from a model, or from a build, to one HTML file and, if wanted, a 3D model beside it."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.judging import Judging
from ifcgrid.domain.plan import Plan
from ifcgrid.ifc.gltf import gltf_bytes
from ifcgrid.ifc.identity import is_ours
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.outputs.files import write_bytes, write_text
from ifcgrid.outputs.record import record_build
from ifcgrid.pipeline.coordinating import coordinate
from ifcgrid.pipeline.flow import Build, OnRoom, build, lay_out, read_intake, read_plan_file
from ifcgrid.pipeline.intake import describe_models
from ifcgrid.pipeline.judging import judge_by_rules
from ifcgrid.pipeline.report_page import report_text
from ifcgrid.pipeline.takeoff import pick_units
from ifcgrid.pipeline.targets import check_targets
from ifcgrid.pipeline.written import read_back
from ifcgrid.policies import list_policies

__all__ = ["format_report", "report_file"]

PathLike = str | Path


def report_file(
    path: PathLike,
    output: PathLike,
    *,
    others: Sequence[PathLike] = (),
    plan: PathLike | None = None,
    judging: Judging | None = None,
    gltf: PathLike | None = None,
    units: str = "auto",
    has_ways: bool = True,
    on_room: OnRoom | None = None,
) -> dict[str, Any]:
    """Writes the floor report of a model; returns the record.

    Ceilings of ours are reported as they stand in the model; a model that holds none is
    laid out for the report, and nothing is written into it.

    Args:
        path: an IFC file.
        output: the HTML file.
        others: further models of the same building.
        plan: a plan file: for what is laid out, for waivers and rules.
        judging: by which documents to judge; what the plan says where it is not given.
        gltf: the ceilings as a 3D model too (.glb), to which the report has a link.
        units: "mm", "ft-in" or "auto".
        has_ways: whether ways out of clashes are worked out.
        on_room: called after each room that is laid out.

    Raises:
        ModelError: a file is no usable model.
        PlanError: the plan or a rule set is wrong.
        OutputError: a target cannot be written.
    """
    check_targets([output, gltf], inputs=[path, *others, plan])
    rules = read_plan_file(plan)
    judging = judging or rules.judging
    model, further = open_model(path), [open_model(other) for other in others]
    has_ceilings = any(is_ours(a) for a in model.file.by_type("IfcElementAssembly"))
    if has_ceilings:
        done, remarks = _explain(read_back(model, further), rules)
        origin = "As the ceilings stand in the model now, also where somebody changed them by hand."
    else:
        done, remarks = build(model, replace(rules, judging=Judging()), further, on_room), {}
        origin = "Proposed: laid out for this report; the model itself holds no ceilings of this kind."
    done = coordinate(done, rules, today=datetime.now(UTC).date(), has_ways=has_ways)
    found, unchecked = (
        judge_by_rules(done.ceilings, done.intake.obstacles, judging) if judging.sets else ((), ())
    )
    done = replace(done, findings=done.findings + found, unchecked=unchecked)
    outputs = [str(output)]
    text = report_text(
        done, pick_units(units, model), judging, origin=origin, remarks=remarks, link=_link(output, gltf)
    )
    if gltf is not None:
        if not has_ceilings:
            write_ceilings(model.file, done.ceilings, done.findings)  # in memory alone
        write_bytes(Path(gltf), gltf_bytes(model.file))
        outputs.append(str(gltf))
    write_text(Path(output), text)
    return record_build(
        model=describe_models(done.intake),
        ceilings=done.ceilings,
        skipped=done.skipped,
        findings=done.findings,
        outputs=outputs,
    )


def _link(output: PathLike, gltf: PathLike | None) -> str:
    """The 3D model's address from the report's folder."""
    if gltf is None:
        return ""
    there, here = Path(gltf).absolute(), Path(output).absolute().parent
    try:
        return quote(Path(os.path.relpath(there, here)).as_posix())
    except ValueError:  # another drive
        return there.as_uri()


def _explain(done: Build, plan: Plan) -> tuple[Build, dict[str, str]]:
    """The ceilings of a model with why they lie where they do, and a remark on each that lies elsewhere.

    A model keeps where a grid is, not what else was tried: the rooms are laid out again
    with the systems that hang in them, and where that gives the same grid its certificate
    holds.
    """
    written = {room.key: ceiling for ceiling in done.ceilings for room in ceiling.zone.rooms}
    intake = read_intake(done.intake.model, (), plan, has_obstacles=False)
    known = {*plan.policies, *list_policies()}
    settings = dict(intake.settings)
    for key, ceiling in written.items():
        if key in settings:
            policy = ceiling.layout.policy if ceiling.layout.policy in known else settings[key].policy
            settings[key] = replace(settings[key], system=ceiling.system.id, policy=policy)
    systems = {**plan.systems, **{c.system.id: c.system for c in done.ceilings}}
    intake = replace(intake, settings=settings, obstacles=done.intake.obstacles)
    again, _ = lay_out(intake, replace(plan, systems=systems), only=set(written))
    by_key = {ceiling.key: ceiling for ceiling in again}
    ceilings, remarks = [], {}
    for ceiling in done.ceilings:
        other = by_key.get(ceiling.key)
        if other is not None and _is_same(ceiling, other):
            ceiling = replace(ceiling, layout=_with_reasons(ceiling, other), policy=other.policy)
        elif other is not None:
            remarks[ceiling.key] = _say_elsewhere(ceiling, other)
        ceilings.append(ceiling)
    return replace(done, ceilings=tuple(ceilings)), remarks


def _is_same(one: Ceiling, other: Ceiling) -> bool:
    a, b = one.layout.frame, other.layout.frame
    return (
        tolerance.is_equal(a.x, b.x, tolerance.LENGTH)
        and tolerance.is_equal(a.y, b.y, tolerance.LENGTH)
        and tolerance.is_equal(a.angle_deg, b.angle_deg, tolerance.ANGLE_DEG)
    )


def _with_reasons(ceiling: Ceiling, other: Ceiling) -> Any:
    told = other.layout
    return replace(
        ceiling.layout, reason=told.reason, certificate=told.certificate, set_out_from=told.set_out_from
    )


def _say_elsewhere(ceiling: Ceiling, other: Ceiling) -> str:
    turn = (other.layout.frame.angle_deg - ceiling.layout.frame.angle_deg + 90.0) % 180.0 - 90.0
    if not tolerance.is_equal(turn, 0.0, tolerance.ANGLE_DEG):
        where = f"turned by {turn:+.4g} degrees"
    else:
        frame = other.layout.frame
        u, v = ceiling.layout.frame.to_local([(frame.x, frame.y)])[0].tolist()
        along, across = ceiling.layout.along, ceiling.layout.across
        u, v = u - round(u / along) * along, v - round(v / across) * across
        where = f"{u:+.1f} mm along and {v:+.1f} mm across from here"
    return (
        "The grid in the model does not lie where it would be laid out from the model and the plan given "
        f"here: that would be {where}. What follows measures it as it is."
    )


def format_report(record: Mapping[str, Any]) -> str:
    """What was written and how rooms stand, for people."""
    rooms, found = record["totals"]["rooms"], record["totals"]["findings"]
    lines = [
        "Rooms: " + ", ".join(f"{count} {word}" for word, count in rooms.items()),
        "Findings: " + ", ".join(f"{count} {word}" for word, count in found.items()),
        "Written",
        *(f"  {path}" for path in record["outputs"]),
        "Open it in any browser; it needs no network. Nothing in it is an approval: what no finding names "
        "was not checked.",
    ]
    return "\n".join(lines)
