"""From a model that holds our ceilings back to ceilings, as they stand in it now."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.devices import fit_devices
from ifcgrid.design.field import rooms_at
from ifcgrid.design.layout import measure_layout
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.seating import ask_devices, find_held, seat_devices
from ifcgrid.design.soffits import lay_soffits
from ifcgrid.domain import tolerance
from ifcgrid.domain.bracing import SeparationJoint, Stabilisers
from ifcgrid.domain.ceiling import Ceiling, Hangers, Members
from ifcgrid.domain.errors import ModelError, SystemDataError
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.hanging import Braces, Trapezes, Wires
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import DEVICES, Obstacle
from ifcgrid.domain.policy import DEFAULT_POLICY, Policy
from ifcgrid.domain.room import SkippedRoom, Zone
from ifcgrid.ifc.lineage import find_earlier, read_facts
from ifcgrid.ifc.project import ModelFile, as_model
from ifcgrid.ifc.reading.written import WrittenCeiling, read_written
from ifcgrid.pipeline.flow import Build, Intake, Nearby, find_zones, judge, read_intake
from ifcgrid.pipeline.measuring import measured_again
from ifcgrid.policies import read_policy

__all__ = ["read_back"]


def read_back(
    model: ModelFile | Any,
    others: Sequence[ModelFile | Any] = (),
    numbers: Mapping[str, float | bool] | None = None,
) -> Build:
    """The ceilings that a model holds, measured anew and judged.

    Members and hangers are those of the model, also where somebody changed them by hand;
    panels follow from the lattice. `numbers` are a project's own for clash rules. Models may
    be open `ifcopenshell.file`s.

    Raises:
        ModelError: the model holds no ceilings of ours.
    """
    model, others = as_model(model), [as_model(other) for other in others]
    written = read_written(model.file)
    if not written:
        raise ModelError(
            f"{model.path or 'the model'} holds no ceilings of ifcgrid; run ifcgrid build on it first"
        )
    written = _as_rooms_are_now(written, model)
    intake = _read_at_levels(model, others, written)
    zone_of = {room: w.key for w in written if w.key in w.rooms for room in w.rooms}
    by_key = {w.key: w for w in written}
    nearby = Nearby(intake.obstacles)
    ceilings: list[Ceiling] = []
    without: list[SkippedRoom] = []
    for zone in (*find_zones(intake, zone_of), *_soffit_zones(intake, written)):
        if zone.key in by_key:
            found = measured_again(zone, by_key[zone.key].measured)
            ceilings.append(_hang_again(found, by_key[zone.key], nearby.find(zone)))
        else:
            without += [
                SkippedRoom(
                    key=room.key,
                    name=room.name,
                    number=room.number,
                    storey=room.storey,
                    status="skipped",
                    reason="the model holds no grid of ours here",
                )
                for room in zone.rooms
            ]
    return Build(
        intake=intake,
        ceilings=tuple(ceilings),
        skipped=intake.skipped + tuple(without),
        findings=judge(ceilings, intake.obstacles, numbers),
    )


def _as_rooms_are_now(written: Sequence[WrittenCeiling], model: ModelFile) -> tuple[WrittenCeiling, ...]:
    """Ceilings with the keys that their rooms have now, where those got new GlobalIds since."""
    spaces = {space.GlobalId for space in model.file.by_type("IfcSpace")}
    if all(room in spaces for one in written for room in one.rooms):
        return tuple(written)
    rooms = read_intake(model, has_obstacles=False).rooms
    earlier = find_earlier(rooms, read_facts(model.file), spaces)
    now = {facts.key: key for key, facts in earlier.items()}
    return tuple(
        replace(one, key=now.get(one.key, one.key), rooms=tuple(now.get(r, r) for r in one.rooms))
        for one in written
    )


def _soffit_zones(intake: Intake, written: Sequence[WrittenCeiling]) -> Iterator[Zone]:
    """The soffits whose grids the model holds; their keys are no room's."""
    rooms = {room.key: room for room in intake.rooms}
    for one in written:
        if one.key not in one.rooms and one.rooms[0] in rooms:
            zones = lay_soffits(rooms[one.rooms[0]], one.system, intake.obstacles)
            yield from (zone for zone in zones if zone.key == one.key)


def _read_at_levels(
    model: ModelFile, others: Sequence[ModelFile], written: Sequence[WrittenCeiling]
) -> Intake:
    """Rooms cut at the levels of the ceilings that stand in the model, whatever else it says of heights."""
    intake = read_intake(model, has_obstacles=False)  # reading rooms twice costs little, obstacles much
    level_of = {room: w.level for w in written if w.key in w.rooms for room in w.rooms}
    heights = {
        room.key: level_of[room.key] - room.floor
        for room in intake.rooms
        if room.key in level_of and not tolerance.is_equal(room.level, level_of[room.key], tolerance.HEIGHT)
    }
    return read_intake(model, others, heights=heights)


def _policy(policy_id: str) -> Policy | None:
    """The policy that a ceiling was laid out by; None for one of a plan file's own."""
    try:
        return read_policy(policy_id)
    except SystemDataError:
        return None


def _hang_again(zone: Zone, written: WrittenCeiling, obstacles: Sequence[Obstacle]) -> Ceiling:
    policy = _policy(written.policy)
    measured_by = policy or read_policy(DEFAULT_POLICY)
    devices = [o for o in obstacles if o.kind in DEVICES]
    asked = () if written.system.row_shift else ask_devices(zone, written.system, measured_by, devices, ())
    held = find_held(asked)
    layout = measure_layout(
        zone.outline,
        written.system,
        measured_by,
        written.frame,
        written.main_phase,
        fixtures=held.cells,
        points=held.points,
    )
    openings = fit_devices(zone, layout, devices, zone.level)
    move = _Move(written.frame, layout.frame)
    return Ceiling(
        zone=zone,
        system=written.system,
        layout=layout,
        panels=cut_panels(zone, layout, openings),
        members=_members(zone, layout, written, move),
        hangers=_hangers(zone, layout, written, move),
        openings=openings,
        policy=policy,
        seating=seat_devices(zone, layout, asked),
        trapezes=move.trapezes(written.trapezes),
        braces=move.braces(written.braces),
        wires=move.wires(written.wires),
        stabilisers=move.stabilisers(written.stabilisers),
        joints=move.joints(written.joints),
        perimeter=written.perimeter,
    )


def _members(zone: Zone, layout: Layout, written: WrittenCeiling, move: _Move) -> Members:
    members = written.members
    start, end = move.points(members["start"]), move.points(members["end"])
    return Members(
        role=members["role"],
        line=members["line"],
        index=members["index"],
        room=rooms_at(zone, layout, (start + end) / 2),
        start=start,
        end=end,
    )


def _hangers(zone: Zone, layout: Layout, written: WrittenCeiling, move: _Move) -> Hangers:
    hangers = written.hangers
    point = move.points(hangers["point"])
    is_straight = not hangers["kind"].any()
    return Hangers(
        line=hangers["line"],
        index=hangers["index"],
        room=rooms_at(zone, layout, point),
        point=point,
        bottom=hangers["bottom"],
        top=hangers["top"],
        support=written.support,
        kind=None if is_straight else hangers["kind"],
        top_point=None if is_straight else move.points(hangers["top_point"]),
        fixing=written.fixing,
    )


class _Move:
    """Takes what is local to one frame to another one."""

    def __init__(self, one: Frame, other: Frame) -> None:
        self._one = one
        self._other = other

    def points(self, local: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (..., 2)."""
        flat = self._other.to_local(self._one.to_world(local.reshape(-1, 2)))
        moved: NDArray[np.float64] = flat.reshape(local.shape)
        return moved

    def trapezes(self, trapezes: Trapezes | None) -> Trapezes | None:
        return trapezes and replace(trapezes, ends=self.points(trapezes.ends))

    def braces(self, braces: Braces | None) -> Braces | None:
        if braces is None:
            return None
        top = np.concatenate([self.points(braces.wire_top[:, :, :2]), braces.wire_top[:, :, 2:]], axis=2)
        return replace(braces, point=self.points(braces.point), wire_top=top)

    def wires(self, wires: Wires | None) -> Wires | None:
        return wires and replace(wires, point=self.points(wires.point))

    def stabilisers(self, bars: Stabilisers | None) -> Stabilisers | None:
        return bars and replace(bars, start=self.points(bars.start), end=self.points(bars.end))

    def joints(self, joints: Sequence[SeparationJoint]) -> tuple[SeparationJoint, ...]:
        ends = [self.points(np.array([j.start, j.end])).tolist() for j in joints]
        return tuple(
            replace(j, start=(a[0], a[1]), end=(b[0], b[1])) for j, (a, b) in zip(joints, ends, strict=True)
        )
