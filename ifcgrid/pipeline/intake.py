"""What is read before anything is laid out: the plan, the rooms with their settings, what is in the way."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ifcgrid.design.zones import carve_rooms, group_zones
from ifcgrid.domain.building import Site
from ifcgrid.domain.errors import ModelError, PlanError
from ifcgrid.domain.federation import Alignment
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.plan import Plan, Settings, parse_plan
from ifcgrid.domain.room import Room, SkippedRoom, Zone
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.project import ModelFile, as_model
from ifcgrid.ifc.reading.rooms import read_rooms
from ifcgrid.ifc.reading.select import find_keys
from ifcgrid.pipeline.federation import OnModel, read_federation
from ifcgrid.pipeline.setting_out import ceiling_group, read_site
from ifcgrid.policies import list_policies
from ifcgrid.systems import list_systems

__all__ = ["Intake", "describe_models", "find_zones", "read_intake", "read_plan_file", "skip"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """What was read: the model, its rooms with their settings, and everything in the way.

    `alignments` say of each of `others` how it was brought into place, where anything of it was read.
    """

    model: ModelFile
    others: tuple[ModelFile, ...]
    rooms: tuple[Room, ...]
    skipped: tuple[SkippedRoom, ...]
    settings: Mapping[str, Settings]
    obstacles: tuple[Obstacle, ...]
    site: Site = field(default_factory=Site)
    alignments: tuple[Alignment, ...] = ()


def read_plan_file(path: str | Path | None) -> Plan:
    """The plan in a file; an empty plan when there is none.

    Raises:
        PlanError: the file cannot be read or holds a wrong entry; the message names the
            file and the line.
    """
    if path is None:
        return Plan()
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise PlanError(f"plan file {path} cannot be read: {reason}") from error
    try:
        return parse_plan(text, list_systems(), list_policies())
    except PlanError as error:
        where = f"{path}, line {error.line}" if error.line else f"{path}"
        raise PlanError(f"{where}: {error}", error.line) from error


def read_intake(
    model: ModelFile | Any,
    others: Sequence[ModelFile | Any] = (),
    plan: Plan | None = None,
    *,
    heights: Mapping[str, float] | None = None,
    has_obstacles: bool = True,
    on_model: OnModel | None = None,
) -> Intake:
    """Rooms of the model with what the plan says of each, and the obstacles of all models.

    `heights` by room key, in mm above the floor, go before the plan's; without
    `has_obstacles` nothing but rooms is read. Models may be open `ifcopenshell.file`s.

    Raises:
        ModelError: the model holds no space, or a file is given twice.
    """
    model, others = as_model(model), [as_model(other) for other in others]
    _refuse_doubles([model, *others])
    if not model.file.by_type("IfcSpace"):
        raise ModelError(
            f"{model.path or 'the model'} holds no IfcSpace; ceilings are laid out room by room, so give the "
            "model that has the rooms"
        )
    plan = plan or Plan()
    answers = {query: find_keys(model.file, query) for query in plan.queries}

    def settings_of(key: str, storey: str, name: str, number: str) -> Settings:
        facts = {"key": key, "storey": storey, "name": name, "number": number}
        return plan.settings_for(facts, [query for query, keys in answers.items() if key in keys])

    def height_of(key: str, storey: str, name: str, number: str) -> float | None:
        given = (heights or {}).get(key)
        return settings_of(key, storey, name, number).height if given is None else given

    kernel = Kernel(model.file)
    reading = read_rooms(model, kernel, plan_height=height_of)
    keep = [
        s.key
        for s in reading.skipped
        if s.status == "skipped" and settings_of(s.key, s.storey, s.name, s.number).keep
    ]
    if keep:
        reading = read_rooms(model, kernel, keep=keep, plan_height=height_of)
    settings = {
        room.key: settings_of(room.key, room.storey, room.name, room.number) for room in reading.rooms
    }
    wanted = tuple(room for room in reading.rooms if settings[room.key].skip is None)
    excluded = tuple(
        skip(room, "skipped", f"left out by the plan: {settings[room.key].skip}")
        for room in reading.rooms
        if settings[room.key].skip is not None
    )
    found: tuple[Obstacle, ...] = ()
    alignments: tuple[Alignment, ...] = ()
    if has_obstacles:
        found, alignments = read_federation(model, kernel, others, reading.rooms, on_model)
    return Intake(
        model=model,
        others=tuple(others),
        rooms=wanted,
        skipped=reading.skipped + excluded,
        settings=settings,
        obstacles=found,
        alignments=alignments,
        site=read_site(model, kernel, settings.values(), plan),
    )


def describe_models(intake: Intake) -> dict[str, Any]:
    """The models of a run for its record; further ones with how they were brought into place."""
    told = [_describe(other) for other in intake.others]
    for one, alignment in zip(told, intake.alignments, strict=False):
        one["alignment"] = {
            "basis": alignment.basis.value,
            "shift_mm": [round(x, 3) for x in alignment.shift],
            "turn_deg": round(alignment.turn_deg, 6),
            "notes": list(alignment.notes),
        }
    return {**_describe(intake.model), "with": told}


def _describe(model: ModelFile) -> dict[str, Any]:
    return {"path": model.path, "sha256": model.sha256, "schema": model.schema, "unit": model.unit}


def _refuse_doubles(models: Sequence[ModelFile]) -> None:
    """A model that is read twice would clash with itself everywhere."""
    seen: dict[str, str] = {}
    for model in models:
        if model.sha256 and model.sha256 in seen:
            raise ModelError(f"{model.path} is the same file as {seen[model.sha256]}; give each model once")
        seen[model.sha256] = model.path


def skip(room: Room, status: str, reason: str) -> SkippedRoom:
    """A room that gets no ceiling, with the reason."""
    return SkippedRoom(
        key=room.key, name=room.name, number=room.number, storey=room.storey, status=status, reason=reason
    )


def find_zones(intake: Intake, group_of: Mapping[str, Hashable] | None = None) -> list[Zone]:
    """The zones of the rooms that were read, in the rooms' order.

    Only rooms of one group may share a ceiling; by default those whose settings decide the
    same grid.
    """
    groups: dict[Hashable, list[Room]] = {}
    for room in carve_rooms(intake.rooms, intake.obstacles):
        given = intake.settings[room.key]
        group = group_of.get(room.key) if group_of else ceiling_group(given)
        groups.setdefault(group, []).append(room)
    zones = [zone for rooms in groups.values() for zone in group_zones(rooms, intake.obstacles)]
    order = {room.key: place for place, room in enumerate(intake.rooms)}
    return sorted(zones, key=lambda zone: min(order[room.key] for room in zone.rooms))
