"""Files in, files out: what each command of the command line does."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace as with_changes
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import RoomError
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import DEVICES, Obstacle
from ifcgrid.domain.plan import Plan
from ifcgrid.domain.room import Zone
from ifcgrid.domain.version import __version__
from ifcgrid.ifc.project import ModelFile, open_model
from ifcgrid.ifc.reading.north import find_north
from ifcgrid.ifc.writing.write import check_name, save_model, write_ceilings
from ifcgrid.outputs.files import make_folder, write_text
from ifcgrid.outputs.moves import format_moves
from ifcgrid.outputs.plan import OmittedRoom, draw_storey
from ifcgrid.outputs.record import record_build, record_spaces
from ifcgrid.outputs.setout import draw_setout
from ifcgrid.pipeline.flow import Build, Nearby, OnRoom, build, read_intake, read_plan_file
from ifcgrid.pipeline.issues import record_change, write_issues
from ifcgrid.pipeline.takeoff import source_of, take_off, write_take_off
from ifcgrid.pipeline.targets import check_targets
from ifcgrid.pipeline.written import read_back
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

__all__ = ["build_file", "clash_file", "list_spaces", "setout_file", "with_defaults"]

PathLike = str | Path


def _describe(model: ModelFile, others: Sequence[ModelFile]) -> dict[str, Any]:
    return {
        "path": model.path,
        "sha256": model.sha256,
        "schema": model.schema,
        "unit": model.unit,
        "with": [{"path": o.path, "sha256": o.sha256, "schema": o.schema, "unit": o.unit} for o in others],
    }


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
        records.append(record_spaces(model=_describe(model, ()), rooms=intake.rooms, skipped=intake.skipped))
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
    overwrite: bool = False,
    sheets: PathLike | None = None,
    moves: PathLike | None = None,
    takeoff: PathLike | None = None,
    bcf: PathLike | None = None,
    units: str = "auto",
    on_room: OnRoom | None = None,
) -> dict[str, Any]:
    """Writes a copy of a model with ceilings in every room that can have one; returns the record.

    The output appears whole or not at all, its folder is made; `path` itself is only written
    with `overwrite`. That the targets can be written is looked at before the long work.

    Raises:
        ModelError: a file is no usable model.
        PlanError, SystemDataError: the plan, system or policy is wrong.
        OutputError: a target cannot be written.
    """
    check_name(output, path, overwrite=overwrite)
    check_targets([output, moves, takeoff, bcf], [sheets], [*others, plan])
    check_targets([moves, takeoff, bcf], inputs=[path])
    rules = with_defaults(read_plan_file(plan), system, policy)
    model, further = open_model(path), [open_model(other) for other in others]
    done = build(model, rules, further, on_room)
    report = write_ceilings(
        model.file,
        done.ceilings,
        done.findings,
        detail=detail,
        replace=replace,
        provenance={
            "Library": f"ifcgrid {__version__}",
            "InputFile": Path(model.path).name,
            "InputSha256": model.sha256,
            "InputFurtherFiles": "; ".join(f"{Path(o.path).name} {o.sha256}" for o in further),
        },
    )
    now = datetime.now(UTC)
    stamp = now.replace(tzinfo=None).isoformat(timespec="seconds")
    save_model(model.file, output, timestamp=stamp, source=path, overwrite=overwrite)
    outputs = [str(output)]
    if sheets is not None:
        outputs += _write_sheets(Path(sheets), done, _pick_units(units, model))
    if takeoff is not None:
        counted = take_off(done.ceilings, source=source_of(model))
        outputs += write_take_off(counted, _pick_units(units, model), xlsx=takeoff)
    if moves is not None:
        write_text(Path(moves), format_moves(done.ceilings))
        outputs.append(str(moves))
    issues = None
    if bcf is not None:
        when = now.isoformat(timespec="seconds")
        issues = write_issues(Path(bcf), done, model=Path(output).name, when=when)
        outputs.append(str(bcf))
    record = _record(done, outputs)
    if issues is not None:
        record["issues"] = record_change(issues)
    record["written"] = {
        "elements": dict(sorted(report.counts.items())),
        "adopted": list(report.adopted),
        "replaced": list(report.replaced),
        "removed": report.removed,
    }
    return record


def _record(done: Build, outputs: Sequence[str]) -> dict[str, Any]:
    return record_build(
        model=_describe(done.intake.model, done.intake.others),
        ceilings=done.ceilings,
        skipped=done.skipped,
        findings=done.findings,
        outputs=outputs,
    )


def _pick_units(units: str, model: ModelFile) -> str:
    if units != "auto":
        return units
    return "ft-in" if "foot" in model.unit.lower() or "inch" in model.unit.lower() else "mm"


LONGEST_NAME = 80
"""Letters in a sheet's file name, so that with its folder it stays within what every system takes."""


def _file_name(*words: str) -> str:
    """Words as a file name that every system takes."""
    name = "-".join(filter(None, (re.sub(r"[^\w.]+", "-", word).strip("-.") for word in words)))
    return name[:LONGEST_NAME].strip("-.") or "room"


def _stamp(done: Build, ceiling: Ceiling | None) -> dict[str, str]:
    model = done.intake.model
    stamp = {
        "model": Path(model.path).name,
        "sha256": model.sha256[:16],
        "library": f"ifcgrid {__version__}",
    }
    if ceiling is not None:
        stamp |= {"system": ceiling.system.id, "policy": ceiling.layout.policy}
    return stamp


def _write_sheets(folder: Path, done: Build, units: str, only: Sequence[str] | None = None) -> list[str]:
    """One set-out sheet a ceiling, one plan a storey; returns their paths."""
    make_folder(folder)
    north = find_north(done.intake.model.file)
    nearby, findings = Nearby(done.intake.obstacles), _by_zone(done)
    names: dict[str, int] = {}
    written: list[str] = []

    def write(words: Sequence[str], text: str) -> None:
        name = _file_name(*words)
        # Where upper and lower case are one file, A1 must not write over a1.
        count = names[name.casefold()] = names.get(name.casefold(), 0) + 1
        target = folder / (f"{name}.svg" if count == 1 else f"{name}-{count}.svg")
        write_text(target, text)
        written.append(str(target))

    for ceiling in done.ceilings:
        room = ceiling.zone.rooms[0]
        if only is not None and not {r.number for r in ceiling.zone.rooms} & set(only):
            continue
        near = [o for o in nearby.find(ceiling.zone) if o.kind in DEVICES or _is_beside(o, ceiling.zone)]
        text = draw_setout(
            ceiling,
            units=units,
            stamp=_stamp(done, ceiling),
            findings=findings.get(ceiling.key, ()),
            obstacles=near,
            north_deg=north,
        )
        write(["setout", room.storey, "+".join(sorted(r.number or r.name for r in ceiling.zone.rooms))], text)
    if only is None:
        storeys: dict[str, list[Ceiling]] = {}
        for ceiling in done.ceilings:
            storeys.setdefault(ceiling.zone.rooms[0].storey_key, []).append(ceiling)
        for ceilings in storeys.values():  # two buildings may each have a "Level 1"
            words = ["plan", ceilings[0].zone.rooms[0].storey]
            write(words, _draw_plan(ceilings, done, findings, north, units))
    return written


def _is_beside(obstacle: Obstacle, zone: Zone) -> bool:
    """Whether an obstacle stands in the room's storey: from the floor up to above the ceiling."""
    return obstacle.bottom < zone.level and obstacle.top > min(room.floor for room in zone.rooms)


def _by_zone(done: Build) -> dict[str, list[Finding]]:
    zone_of: dict[str, str] = {}
    for ceiling in done.ceilings:
        for room in ceiling.zone.rooms:
            zone_of.setdefault(room.key, ceiling.key)  # a soffit of the room comes after it
    found: dict[str, list[Finding]] = {}
    for finding in done.findings:
        found.setdefault(zone_of.get(finding.room, finding.room), []).append(finding)
    return found


def _draw_plan(
    ceilings: Sequence[Ceiling],
    done: Build,
    findings: Mapping[str, list[Finding]],
    north: float | None,
    units: str,
) -> str:
    """The plan of a storey's ceilings."""
    storey = ceilings[0].zone.rooms[0].storey
    nearby = Nearby(done.intake.obstacles)
    around = {
        (o.source, o.key): o
        for c in ceilings
        for o in nearby.find(c.zone)
        if _is_beside(o, c.zone) or o.kind in DEVICES
    }
    low = min(min(r.floor for r in c.zone.rooms) for c in ceilings)
    high = max(c.zone.level for c in ceilings)
    return draw_storey(
        storey,
        ceilings,
        [
            OmittedRoom(number=s.number, name=s.name, reason=s.reason, outline=None)
            for s in done.skipped
            if s.storey == storey
        ],
        obstacles=[o for _, o in sorted(around.items()) if low < o.top and o.bottom < high + HANG],
        findings=[f for c in ceilings for f in findings.get(c.key, ())],
        stamp=_stamp(done, None),
        units=units,
        north_deg=north,
    )


HANG = 300.0
"""Devices whose lowest point is at most this far above the highest ceiling, in mm, are drawn in its plan."""


def clash_file(
    path: PathLike, *, others: Sequence[PathLike] = (), bcf: PathLike | None = None
) -> dict[str, Any]:
    """Judges the ceilings in a model against what is in their way; returns the record.

    With `bcf` what fails becomes topics of that file; one that exists is brought up to date.

    Raises:
        ModelError: a file is no usable model, or holds no ceilings of ours.
        OutputError: the BCF file is none, or cannot be written.
    """
    check_targets([bcf], inputs=[path, *others])
    done = read_back(open_model(path), [open_model(other) for other in others])
    if bcf is None:
        return _record(done, ())
    when = datetime.now(UTC).isoformat(timespec="seconds")
    issues = write_issues(Path(bcf), done, model=Path(path).name, when=when)
    return {**_record(done, [str(bcf)]), "issues": record_change(issues)}


def setout_file(
    path: PathLike,
    folder: PathLike,
    *,
    others: Sequence[PathLike] = (),
    rooms: Sequence[str] | None = None,
    units: str = "auto",
) -> dict[str, Any]:
    """Draws the set-out sheets of the ceilings in a model into a folder; returns the record.

    Raises:
        ModelError: a file is no usable model, or holds no ceilings of ours.
        RoomError: a wanted room number is not among them.
        OutputError: a sheet cannot be written.
    """
    check_targets([], [folder])
    done = read_back(open_model(path), [open_model(other) for other in others])
    numbers = {room.number for ceiling in done.ceilings for room in ceiling.zone.rooms}
    for number in rooms or ():
        if number not in numbers:
            raise RoomError(f"no ceiling in a room {number!r}; there are {', '.join(sorted(numbers))}")
    outputs = _write_sheets(Path(folder), done, _pick_units(units, done.intake.model), rooms)
    return _record(done, outputs)
