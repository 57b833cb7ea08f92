"""Why a room is laid out as it is: from a model to text, record and picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from dataclasses import replace as with_changes
from pathlib import Path
from typing import Any

from shapely import Polygon

from ifcgrid.design.preferred_wall import start_at_wall
from ifcgrid.design.seating import ask_devices, find_held
from ifcgrid.design.sensitivity import find_flips
from ifcgrid.design.setting_out import Start, find_start, solve_from
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.device_rule import DeviceRule
from ifcgrid.domain.errors import RoomError
from ifcgrid.domain.explanation import Flip
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import DEVICES, Obstacle
from ifcgrid.domain.room import SkippedRoom
from ifcgrid.domain.version import __version__
from ifcgrid.ifc.project import open_model
from ifcgrid.outputs.explain import draw_explanation, format_explanation
from ifcgrid.outputs.files import write_text
from ifcgrid.outputs.record import record_room, record_skipped
from ifcgrid.pipeline.files import with_defaults
from ifcgrid.pipeline.flow import Intake, Nearby, lay_out, read_intake, read_plan_file
from ifcgrid.pipeline.setting_out import settings_of
from ifcgrid.pipeline.targets import check_targets

__all__ = ["Explained", "explain_ceiling", "explain_file", "write_picture"]

PathLike = str | Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """An explanation as `text` for people and `record` for programs."""

    text: str
    record: dict[str, Any]


def explain_ceiling(
    ceiling: Ceiling,
    start: Start | None = None,
    obstacles: Sequence[Obstacle] = (),
    rules: Sequence[DeviceRule] = (),
) -> Explained:
    """Why a ceiling's grid lies where it does, and which change of its room would flip the count.

    `start`, `obstacles` and `rules` are those that it was laid out with.
    """
    flips = _find_flips(ceiling, start or Start(), obstacles, rules)
    record = record_room(ceiling, 0)
    record["flips"] = [
        {
            "axis": {"u": "along", "v": "across"}[flip.axis],
            "change_mm": flip.change,
            "cells": flip.before,
            "cells_then": flip.after,
            "border_then_mm": round(flip.border, 3),
        }
        for flip in flips
    ]
    return Explained(text=format_explanation(ceiling, flips), record=record)


def _find_flips(
    ceiling: Ceiling, start: Start, obstacles: Sequence[Obstacle], rules: Sequence[DeviceRule]
) -> tuple[Flip, ...]:
    layout, policy = ceiling.layout, ceiling.policy
    if policy is None:
        return ()
    devices = [] if ceiling.system.row_shift else [o for o in obstacles if o.kind in DEVICES]
    held = find_held(ask_devices(ceiling.zone, ceiling.system, policy, devices, rules))
    same_way = with_changes(start, angles=(layout.frame.angle_deg,))

    def solve(outline: Polygon) -> Layout:
        return solve_from(outline, ceiling.system, policy, same_way, fixtures=held.cells, points=held.points)

    return find_flips(ceiling.zone.outline, layout, solve)


def explain_file(
    path: PathLike,
    room: str,
    *,
    others: Sequence[PathLike] = (),
    plan: PathLike | None = None,
    system: str | None = None,
    policy: str | None = None,
    picture: PathLike | None = None,
) -> Explained:
    """Why a room of a model is laid out as it is; several when they share number or name.

    `room` is a number, a name or a GlobalId. The picture is of the first that has a ceiling.

    Raises:
        ModelError: a file is no usable model.
        PlanError, SystemDataError: the plan, system or policy is wrong.
        RoomError: the model has no such room.
        OutputError: the picture cannot be written.
    """
    check_targets([picture], (), [path, *others, plan])
    rules = with_defaults(read_plan_file(plan), system, policy)
    model, further = open_model(path), [open_model(other) for other in others]
    intake = read_intake(model, further, rules)
    wanted = {r.key for r in intake.rooms if room in (r.number, r.name, r.key)}
    ceilings, failed = lay_out(intake, rules, only=wanted)
    without = [s for s in (*intake.skipped, *failed) if room in (s.number, s.name, s.key)]
    if not ceilings and not without:
        numbers = sorted({r.number or r.name for r in intake.rooms})
        raise RoomError(f"no room {room!r} in {model.path}; there are {', '.join(numbers)}")
    nearby = Nearby(intake.obstacles)
    told = [explain_ceiling(c, _start_of(c, intake), nearby.find(c.zone), rules.devices) for c in ceilings]
    record: dict[str, Any] = {
        "model": {"path": model.path, "sha256": model.sha256},
        "rooms": [*(one.record for one in told), *map(record_skipped, without)],
        "outputs": [],
    }
    if picture is not None and ceilings:
        stamp = {"model": Path(model.path).name, "sha256": model.sha256[:16]}
        record["outputs"] = [write_picture(picture, ceilings[0], stamp)]
    return Explained(text="\n\n".join([*(one.text for one in told), *map(_why_not, without)]), record=record)


def _start_of(ceiling: Ceiling, intake: Intake) -> Start:
    start = find_start(ceiling.zone, settings_of(ceiling.zone, intake.settings), intake.site)
    policy = ceiling.policy
    return start if policy is None else start_at_wall(start, ceiling.zone, policy, intake.site)


def _why_not(room: SkippedRoom) -> str:
    return f"Room      {' '.join(filter(None, (room.number, room.name)))}: {room.status}: {room.reason}"


def write_picture(target: PathLike, ceiling: Ceiling, stamp: dict[str, str]) -> str:
    """Draws the chosen layout and those that lost; returns the path.

    Raises:
        OutputError: it cannot be written.
    """
    write_text(Path(target), draw_explanation(ceiling, stamp={**stamp, "library": f"ifcgrid {__version__}"}))
    return str(target)
