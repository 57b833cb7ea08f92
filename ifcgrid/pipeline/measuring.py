"""Rooms measured on site: their outlines adjusted before layout, and what that changes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from shapely import hausdorff_distance

from ifcgrid.design.measured import adjust_zone, restore_zone
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import IfcGridError, ModelError, PlanError
from ifcgrid.domain.measured import LayoutBefore, SiteMeasures
from ifcgrid.domain.measured_plan import matches
from ifcgrid.domain.room import Room, SkippedRoom, Zone
from ifcgrid.ifc.measured_text import from_text
from ifcgrid.outputs.setout.wall import name_walls

__all__ = ["describe_layout", "measure_zones", "measured_again", "with_change"]


def measure_zones(
    zones: Sequence[Zone], measured: Sequence[SiteMeasures], skipped: Sequence[SkippedRoom] = ()
) -> tuple[list[Zone], dict[str, str]]:
    """The zones with the outlines that fit what was measured; and by key the reason where none does.

    Raises:
        PlanError: a table picks no room, or several ceilings; it carries the table's line.
    """
    found, unfit = list(zones), dict[str, str]()
    taken: dict[str, int] = {}
    for measures in measured:
        place = _place(measures, zones, skipped)
        if place is None:
            continue
        zone = zones[place]
        if zone.key in taken:
            raise PlanError(
                f"plan file, line {measures.line}: [[measured]] is about the ceiling that line "
                f"{taken[zone.key]} already measures; put all of it into one table",
                measures.line,
            )
        taken[zone.key] = measures.line
        try:
            found[place] = adjust_zone(zone, measures)
        except IfcGridError as error:
            unfit[zone.key] = f"{error} (plan file, line {measures.line})"
    return found, unfit


def measured_again(zone: Zone, text: str) -> Zone:
    """The zone as it was measured before its ceiling was written; `text` is what was written of that.

    Raises:
        ModelError: the text was changed and cannot be read.
    """
    if not text:
        return zone
    try:
        measured, outline = from_text(text)
    except ValueError as error:
        raise ModelError(f"the ceiling of room {_title(zone)}: {error}; build it again") from error
    if hausdorff_distance(measured.design, zone.outline) > tolerance.GAP:
        note = "the room has changed in the model since it was measured: measure it again"
        measured = replace(measured, notes=(*measured.notes, note))
    return restore_zone(zone, measured, outline)


def _place(measures: SiteMeasures, zones: Sequence[Zone], skipped: Sequence[SkippedRoom]) -> int | None:
    """Where the measured zone stands in the list; None when its room gets no ceiling anyway."""
    places = [k for k, zone in enumerate(zones) if any(_is_meant(measures, room) for room in zone.rooms)]
    if len(places) == 1:
        return places[0]
    picked = ", ".join(f"{name} = {value!r}" for name, value in measures.picks.items())
    if places:
        names = ", ".join(_title(zones[k]) for k in places)
        raise PlanError(
            f"plan file, line {measures.line}: [[measured]] {picked} picks {len(places)} ceilings ({names}); "
            "lengths belong to one: add its storey, name or key",
            measures.line,
        )
    if any(_is_meant(measures, room) for room in skipped):
        return None
    numbers = ", ".join(sorted({_title(zone) for zone in zones})) or "none"
    raise PlanError(
        f"plan file, line {measures.line}: [[measured]] {picked} picks no room; there are {numbers}",
        measures.line,
    )


def _is_meant(measures: SiteMeasures, room: Room | SkippedRoom) -> bool:
    facts = {"key": room.key, "storey": room.storey, "name": room.name, "number": room.number}
    return matches(measures, facts)


def _title(zone: Zone) -> str:
    return "+".join(room.number or room.name or room.key for room in zone.rooms)


def describe_layout(ceiling: Ceiling) -> LayoutBefore:
    """What of a layout is told when measuring changes it."""
    full = int(ceiling.panels.is_full.sum())
    return LayoutBefore(
        angle_deg=ceiling.layout.frame.angle_deg,
        columns=ceiling.layout.columns,
        rows=ceiling.layout.rows,
        full=full,
        cut=len(ceiling.panels) - full,
        reason=ceiling.layout.reason,
        borders=tuple(
            (wall.letter, float(wall.least), float(wall.greatest))
            for wall in name_walls(ceiling)
            if wall.least is not None and wall.greatest is not None
        ),
    )


def with_change(ceiling: Ceiling, design: Zone | None, hang: Callable[[Zone], Ceiling]) -> Ceiling:
    """The ceiling with the layout that the model's own outline (`design`) would get, to compare with."""
    measured = ceiling.zone.measured
    if measured is None or design is None or not measured.lengths:
        return ceiling
    try:
        before = describe_layout(hang(design))
    except IfcGridError as error:
        note = f"the model's outline gets no layout to compare with: {error}"
        measured = replace(measured, notes=(*measured.notes, note))
    else:
        measured = replace(measured, before=before)
    return replace(ceiling, zone=replace(ceiling.zone, measured=measured))
