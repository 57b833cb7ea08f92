"""Files in, files out: what each command of the command line does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace as with_changes
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ifcgrid.domain.errors import RoomError
from ifcgrid.domain.plan import Plan
from ifcgrid.ifc.project import open_model, refuse_unread
from ifcgrid.ifc.writing.save import check_name
from ifcgrid.outputs.bcf import Version
from ifcgrid.outputs.edits import record_edits
from ifcgrid.outputs.files import write_text
from ifcgrid.outputs.moves import format_moves
from ifcgrid.outputs.record import record_build, record_spaces
from ifcgrid.pipeline.collecting import without_collection
from ifcgrid.pipeline.coordinating import coordinate
from ifcgrid.pipeline.flow import Build, OnRoom, build, read_intake, read_plan_file
from ifcgrid.pipeline.intake import describe_models
from ifcgrid.pipeline.issues import record_change, write_issues
from ifcgrid.pipeline.report_page import report_text
from ifcgrid.pipeline.room_sheets import SheetStyle
from ifcgrid.pipeline.sheets import write_sheets
from ifcgrid.pipeline.storey_plans import check_plans
from ifcgrid.pipeline.takeoff import pick_units, source_of, take_off, write_take_off
from ifcgrid.pipeline.targets import check_targets
from ifcgrid.pipeline.writing import write_build
from ifcgrid.pipeline.written import read_back
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

__all__ = ["build_file", "list_spaces", "setout_file", "with_defaults"]

PathLike = str | Path


def list_spaces(paths: Sequence[PathLike], plan: PathLike | None = None) -> dict[str, Any]:
    """What would be read from models: rooms with height evidence, and reasons for skipping.

    Raises:
        ModelError: a file is no usable model.
        PlanError: the plan file has a wrong entry.
    """
    rules = read_plan_file(plan)
    records = []
    for path in paths:
        model = open_model(path)
        intake = read_intake(model, (), rules, has_obstacles=False)
        records.append(
            record_spaces(model=describe_models(intake), rooms=intake.rooms, skipped=intake.skipped)
        )
    if len(records) == 1:
        return records[0]
    return {
        "models": [record["model"] for record in records],
        "rooms": [{**room, "model": r["model"]["path"]} for r in records for room in r["rooms"]],
        "totals": {
            "rooms": {
                word: sum(record["totals"]["rooms"][word] for record in records)
                for word in ("ready", "skipped", "failed")
            }
        },
    }


def with_defaults(plan: Plan, system: str | None, policy: str | None) -> Plan:
    """The plan with the command line's word on what rooms get that no rule names."""
    given: dict[str, Any] = {}
    if system is not None:
        if system not in plan.systems:
            read_system(system)
        given["system"] = system
    if policy is not None:
        if policy not in plan.policies:
            read_policy(policy)
        given["policy"] = policy
    return with_changes(plan, default=with_changes(plan.default, **given))


@without_collection()
def build_file(
    path: PathLike,
    output: PathLike,
    *,
    others: Sequence[PathLike] = (),
    plan: PathLike | None = None,
    system: str | None = None,
    policy: str | None = None,
    detail: str = "grid",
    replace: bool = False,
    keep_edits: bool = False,
    earlier: PathLike | None = None,
    overwrite: bool = False,
    sheets: PathLike | None = None,
    style: SheetStyle | None = None,
    dxf: bool = False,
    layers: PathLike | None = None,
    moves: PathLike | None = None,
    takeoff: PathLike | None = None,
    bcf: PathLike | None = None,
    bcf_version: Version | None = None,
    report: PathLike | None = None,
    units: str = "auto",
    on_room: OnRoom | None = None,
    sink: str = "auto",
) -> dict[str, Any]:
    """Writes a copy of a model with ceilings in every room that can have one; returns the record.

    The output appears whole or not at all, its folder is made; `path` itself is only written
    with `overwrite`. That the targets can be written is looked at before the long work.
    `style` says how sheets are printed (None: SVG on the paper that fits).
    `sink` (`text`, `model`) is for tests that compare the two ways to a file; by itself the
    text of the file is edited, and where that cannot be, the record says why.

    What somebody changed by hand since the last run is named in the record; with `keep_edits`
    it stays, and its room is judged as it is. `earlier` is an output of an earlier run: rooms
    that got new GlobalIds since are found again in it, and their ceilings keep theirs.

    Raises:
        ModelError: a file is no usable model.
        PlanError, SystemDataError: the plan, system or policy is wrong.
        OutputError: a target cannot be written.
    """
    check_name(output, path, overwrite=overwrite)
    reason = "without --sheets DIR" if sheets is None else ""
    drawn = check_plans(dxf, layers, not_drawn_because=reason)
    check_targets([output, moves, takeoff, bcf, report], [sheets], [*others, plan, layers])
    check_targets([moves, takeoff, bcf, report], inputs=[path])
    rules = with_defaults(read_plan_file(plan), system, policy)
    # A lazy model keeps its file open, and an open file cannot be replaced on every system.
    done = _built(path, others, rules, on_room, is_lazy=not overwrite)
    model = done.intake.model
    now = datetime.now(UTC)
    done, saved = write_build(
        done,
        rules,
        output,
        timestamp=now.replace(tzinfo=None).isoformat(timespec="seconds"),
        detail=detail,
        replace_theirs=replace,
        keep_edits=keep_edits,
        earlier=earlier,
        overwrite=overwrite,
        sink=sink,
    )
    issues_file = None if bcf is None else Path(bcf)
    is_told = bcf is not None or report is not None
    done = coordinate(done, rules, today=now.date(), bcf=issues_file, has_ways=is_told)
    outputs = [str(output)]
    if sheets is not None:
        outputs += write_sheets(Path(sheets), done, pick_units(units, model), plans=drawn, style=style)
    if takeoff is not None:
        counted = take_off(done.ceilings, source=source_of(model))
        outputs += write_take_off(counted, pick_units(units, model), xlsx=takeoff)
    if moves is not None:
        write_text(Path(moves), format_moves(done.ceilings))
        outputs.append(str(moves))
    if report is not None:
        origin = f"As written into {Path(output).name}."
        page = report_text(done, pick_units(units, model), rules.judging, origin=origin)
        write_text(Path(report), page)
        outputs.append(str(report))
    issues = None
    if issues_file is not None:
        when = now.isoformat(timespec="seconds")
        name, owners = Path(output).name, saved.written.owners
        issues = write_issues(issues_file, done, model=name, when=when, version=bcf_version, owners=owners)
        outputs.append(str(bcf))
    record = _record(done, outputs)
    if issues is not None:
        record["issues"] = record_change(issues)
    record["written"] = {
        "elements": dict(sorted(saved.written.counts.items())),
        "adopted": list(saved.written.adopted),
        "replaced": list(saved.written.replaced),
        "removed": saved.written.removed,
        "edits": record_edits(saved.written.edits, done.ceilings),
        "sink": saved.sink,
        **({"why": saved.why} if saved.why else {}),
    }
    return record


def _built(
    path: PathLike, others: Sequence[PathLike], rules: Plan, on_room: OnRoom | None, *, is_lazy: bool
) -> Build:
    """Opens the models and builds; what a lazy model cannot read is refused all the same.

    Raises:
        ModelError: a file is no usable model.
    """
    models = [open_model(each, is_lazy=is_lazy) for each in (path, *others)]
    try:
        done = build(models[0], rules, models[1:], on_room)
    except Exception:
        refuse_unread(models)
        raise
    refuse_unread(models)
    return done


def _record(done: Build, outputs: Sequence[str]) -> dict[str, Any]:
    return record_build(
        model=describe_models(done.intake),
        ceilings=done.ceilings,
        skipped=done.skipped,
        findings=done.findings,
        outputs=outputs,
    )


def setout_file(
    path: PathLike,
    folder: PathLike,
    *,
    others: Sequence[PathLike] = (),
    rooms: Sequence[str] | None = None,
    style: SheetStyle | None = None,
    dxf: bool = False,
    layers: PathLike | None = None,
    units: str = "auto",
) -> dict[str, Any]:
    """Draws the set-out sheets of the ceilings in a model into a folder; returns the record.

    Raises:
        ModelError: a file is no usable model, or holds no ceilings of ours.
        RoomError: a wanted room number is not among them.
        OutputError: a sheet cannot be written.
    """
    reason = "for single rooms; leave out --room" if rooms else ""
    drawn = check_plans(dxf, layers, not_drawn_because=reason)
    check_targets([], [folder])
    done = read_back(open_model(path), [open_model(other) for other in others])
    numbers = {room.number for ceiling in done.ceilings for room in ceiling.zone.rooms}
    for number in rooms or ():
        if number not in numbers:
            raise RoomError(f"no ceiling in a room {number!r}; there are {', '.join(sorted(numbers))}")
    unit = pick_units(units, done.intake.model)
    outputs = write_sheets(Path(folder), done, unit, rooms, plans=drawn, style=style)
    return _record(done, outputs)
