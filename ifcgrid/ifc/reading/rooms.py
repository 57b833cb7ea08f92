"""Rooms: spaces joined with the coverings over them, their ceiling height and their outline there."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cached_property

import ifcopenshell
import numpy as np
import shapely
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import RoomError
from ifcgrid.domain.room import CeilingHeight, Covering, HeightEvidence, HeightSource, Room, SkippedRoom
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.project import ModelFile, as_model
from ifcgrid.ifc.reading.coverings import (
    LEAST_HEADROOM,
    ModelCovering,
    RoomCoverings,
    match_coverings,
    survey_coverings,
)
from ifcgrid.ifc.reading.heights import believe, read_height_evidence
from ifcgrid.ifc.reading.overhead import Overhead
from ifcgrid.ifc.reading.spaces import Space, outline_and_notes, read_spaces
from ifcgrid.ifc.reading.stated import StoreyLevels

__all__ = ["PlanHeight", "RoomReading", "read_rooms"]

PlanHeight = Callable[[str, str, str, str], float | None]
"""The height in mm above the floor that a plan gives a room of this key, storey, name and number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomReading:
    """The rooms that can get a ceiling, and those that cannot with the one reason why."""

    rooms: tuple[Room, ...]
    skipped: tuple[SkippedRoom, ...]


class _Covered:
    """A space as the matching of coverings sees it."""

    def __init__(self, space: Space, overhead: Overhead) -> None:
        self.keys = frozenset({space.key, *space.also})
        self.floor = space.floor
        self.top = space.top
        self._space = space
        self._overhead = overhead

    @cached_property
    def lid(self) -> float:
        return self._overhead.lid(self._space)


class _Coverings:
    """The coverings of a model, found by place."""

    def __init__(self, coverings: Sequence[ModelCovering], overhead: Overhead) -> None:
        self._coverings = coverings
        self._tree = shapely.STRtree([c.covering.outline for c in coverings])
        self._overhead = overhead

    def over(self, space: Space, section_at: Callable[[float], Polygon]) -> RoomCoverings:
        near = np.sort(self._tree.query(space.body.plan, predicate="intersects"))
        if len(near) == 0:
            return RoomCoverings()
        covered = _Covered(space, self._overhead)
        return match_coverings(covered, section_at, [self._coverings[i] for i in near])


class _Sections:
    """Outlines of one space with their notes, cut once a height."""

    def __init__(self, space: Space) -> None:
        self._space = space
        self._cuts: dict[int, tuple[Polygon, tuple[str, ...]]] = {}

    def cut(self, z: float) -> tuple[Polygon, tuple[str, ...]]:
        place = round(z / tolerance.LENGTH)
        if place not in self._cuts:
            self._cuts[place] = outline_and_notes(self._space, z)
        return self._cuts[place]

    def outline(self, z: float) -> Polygon:
        return self.cut(z)[0]


def read_rooms(
    model: ModelFile | ifcopenshell.file,
    kernel: Kernel | None = None,
    only: Collection[str] | None = None,
    *,
    keep: Collection[str] = (),
    plan_height: PlanHeight | None = None,
) -> RoomReading:
    """The rooms of a model with everything that a ceiling needs to know of them.

    Args:
        model: an open model, also one that a host program holds.
        kernel: its geometry kernel, made when not given.
        only: keys of the spaces to read; None reads all.
        keep: keys of spaces that are wanted though they look like a shaft or the outdoors.
        plan_height: a height that goes before all that the model says; None where it says nothing.

    Returns:
        Rooms by elevation of their storey, number and key; spaces that get no ceiling with
        their reason. A room whose data cannot be used is among them and stops no other.
    """
    model = as_model(model)
    kernel = kernel or Kernel(model.file)
    spaces, skipped = read_spaces(model, kernel, keep)
    coverings = _Coverings(survey_coverings(model, kernel), Overhead(kernel, spaces))
    levels = StoreyLevels(model.file)
    rooms, left_out = [], list(skipped)
    for space in spaces:
        if only is not None and not {space.key, *space.also} & set(only):
            continue
        try:
            rooms.append(_room(space, coverings, plan_height, model.file, levels))
        except RoomError as error:
            left_out.append(_failed(space, str(error)))
        except Exception as error:  # one bad room must not stop a floor
            left_out.append(_failed(space, f"its data cannot be used: {error}"))
    if only is not None:
        left_out = [s for s in left_out if s.key in only]
    rooms.sort(key=lambda r: (_elevation(r, levels), _natural(r.number), r.key))
    left_out.sort(key=lambda s: (s.storey, _natural(s.number), s.key))
    return RoomReading(rooms=tuple(rooms), skipped=tuple(left_out))


def _elevation(room: Room, levels: StoreyLevels) -> float:
    """Elevation of the room's storey; a room without a storey counts by its own floor."""
    elevation = levels.of(room.storey_key)
    return room.floor if elevation is None else elevation


def _natural(number: str) -> tuple[tuple[int, int, str], ...]:
    """Sorts "2" before "10" and "A2" before "A10"."""
    parts = re.findall(r"\d+|\D+", number)
    return tuple((0, int(p), p) if p.isdecimal() else (1, 0, p) for p in parts)


def _failed(space: Space, reason: str) -> SkippedRoom:
    return SkippedRoom(
        key=space.key,
        name=space.name,
        number=space.number,
        storey=space.storey,
        status="failed",
        reason=reason,
    )


def _room(
    space: Space,
    coverings: _Coverings,
    plan_height: PlanHeight | None,
    file: ifcopenshell.file,
    levels: StoreyLevels,
) -> Room:
    sections = _Sections(space)
    over = coverings.over(space, sections.outline)
    reading = read_height_evidence(space, over, file, levels)
    planned = plan_height and plan_height(space.key, space.storey, space.name, space.number)
    candidates = reading.candidates
    if planned is not None:
        plan = HeightEvidence(source=HeightSource.PLAN, value=planned, where="plan file")
        candidates = (plan, *candidates)
    height = believe(candidates)
    if height is None:
        raise RoomError(f"no ceiling height was found: {'; '.join(reading.notes)}", space.key)
    if height.source is not HeightSource.PLAN and height.value < LEAST_HEADROOM:
        raise RoomError(
            f"its ceiling would hang {height.value:.0f} mm above its floor ({height.source}), less than "
            f"{LEAST_HEADROOM:.0f} mm; a height in the plan file overrules this",
            space.key,
        )
    level = space.floor + height.value
    outline, outline_notes = sections.cut(level)
    own, own_notes = _adopted(over, height, level)
    return Room(
        key=space.key,
        name=space.name,
        number=space.number,
        storey=space.storey,
        storey_key=space.storey_key,
        section=outline,
        outline=outline,
        floor=space.floor,
        top=space.top,
        height=height,
        covering=own,
        soffits=tuple(c for c in over.local if tolerance.is_less(c.underside, level, tolerance.HEIGHT)),
        open_to=space.open_to,
        stated_area_m2=space.stated_area_m2,
        notes=tuple(dict.fromkeys((*space.notes, *over.notes, *reading.notes, *outline_notes, *own_notes))),
        also=space.also,
    )


def _adopted(
    over: RoomCoverings, height: CeilingHeight, level: float
) -> tuple[Covering | None, tuple[str, ...]]:
    """The model's own ceiling, unless the plan hangs the grid at another height."""
    own = over.ceiling
    if own is None or tolerance.is_equal(own.underside, level, tolerance.HEIGHT):
        return own, ()
    return None, (
        f"the model's ceiling {own.key} hangs at {own.underside:.0f} mm, {height.source} puts this one "
        f"at {level:.0f} mm; the model's ceiling was not taken over",
    )
