"""How high the ceiling of a room hangs: every source that says so, in the order in which they are believed.

Order (the plan file, which goes before all, is applied by the reader of rooms):

1. ceiling coverings that cover most of the room: the model's own ceiling, world underside;
   of one that ours replaced in an earlier run, ours (what was replaced can say nothing more);
2. FinishCeilingHeight, "from top of flooring to the bottom of the suspended ceiling"
   (ISO 16739-1, Qto_SpaceBaseQuantities), in the spellings of `FINISH_WORDS`;
3. Pset_SpaceCoveringRequirements.ConcealedCeilingOffset, "distance between the upper floor
   slab and the suspended ceiling" (ISO 16739-1): height of the space less the offset;
4. heights that exporters write into property sets of their own: limits and offsets from
   named levels (common practice, no source);
5. Height, "from top of slab below to bottom of slab above" (Qto_SpaceBaseQuantities);
6. the top of the space's body or, where it is sloped or stepped, of most of its plan.

Values are mm above the bottom of the room's body, which is what `Room.floor` is. Where the
body begins at the slab and a flooring is stated, heights from the flooring are raised by
it; where the body begins at the flooring, heights from the slab are lowered.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import ifcopenshell
import numpy as np

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import RoomError
from ifcgrid.domain.room import CeilingHeight, HeightEvidence, HeightSource
from ifcgrid.ifc.reading.coverings import LEAST_HEADROOM, RoomCoverings
from ifcgrid.ifc.reading.spaces import Space, outline_at
from ifcgrid.ifc.reading.stated import (
    Statement,
    StoreyLevels,
    read_statements,
    readable_mm,
    statements_named,
    text_of,
)

__all__ = [
    "FINISH_WORDS",
    "GREATEST_HEIGHT",
    "MOST_OF_PLAN",
    "HeightReading",
    "believe",
    "find_height",
    "read_height_evidence",
]

GREATEST_HEIGHT = 30_000.0
"""A room's ceiling higher than this above its floor is taken for a slip of units, in mm."""

MOST_OF_PLAN = 0.9
"""A stepped body counts as high as it keeps this share of its plan: a ledge does not lower a room."""

_MOST_STEPS = 12

FINISH_WORDS = (
    "finishceilingheight",
    "finishedceilingheight",
    "finishceilingheightaff",
    "finishedceilingheightaff",
    "ceilingfinishheight",
    "suspendedceilingheight",
    "falseceilingheight",
    "clearceilingheight",
    "ceilingheight",
    "ceilingheightaff",
    "heightofceiling",
    "roomceilingheight",
    "netceilingheight",
    "floortoceilingheight",
    "clearheight",
    "clearroomheight",
)
"""Bare words under which a height from flooring to ceiling is stated, the most certain first."""

_OFFSET_WORDS = ("concealedceilingoffset", "suspendedceilingoffset")
_BODY_HEIGHT_WORDS = ("unboundedheight", "unconnectedheight")
_ROOM_HEIGHT_WORDS = ("roomheight", "spaceheight", "netheight", "internalheight")
_SPACE_HEIGHT_WORDS = ("height", "nominalheight", "grossheight")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightReading:
    """All evidence on one room's ceiling height in order of belief, and what was passed over."""

    candidates: tuple[HeightEvidence, ...]
    notes: tuple[str, ...]


@dataclass(slots=True, kw_only=True)
class _Room:
    """What the sources need to know; `notes` collects what cannot be used."""

    space: Space
    file: ifcopenshell.file
    statements: list[Statement]
    coverings: RoomCoverings | None
    levels: StoreyLevels
    notes: list[str] = field(default_factory=list)

    def stated(self, *words: str) -> Iterator[tuple[str, float]]:
        """Where and how much, for each readable statement of these words."""
        for statement in statements_named(self.statements, *words):
            value = readable_mm(statement, self.file, self.notes)
            if value is not None:
                yield statement.where, value

    def first(self, *words: str) -> float | None:
        return next((value for _, value in self.stated(*words)), None)

    @property
    def body(self) -> float:
        return self.space.top - self.space.floor


def read_height_evidence(
    space: Space,
    coverings: RoomCoverings | None,
    file: ifcopenshell.file,
    levels: StoreyLevels | None = None,
) -> HeightReading:
    """Every source's word on the ceiling height of a space, in order of belief.

    Args:
        space: the room.
        coverings: what `match_coverings` found over it; None where there is none.
        file: the model, for its units.
        levels: its storeys, read when not given.

    Returns:
        Candidates in mm above the floor. Nonsense (not above 0, above `GREATEST_HEIGHT`, not
        finite, unreadable) is left out and told in the notes.
    """
    room = _Room(
        space=space,
        file=file,
        statements=read_statements(space.entity),
        coverings=coverings,
        levels=levels or StoreyLevels(file),
    )
    sources = (
        _from_coverings,
        _from_finish,
        _from_requirement,
        _from_properties,
        _from_space_height,
        _from_body,
    )
    candidates = [evidence for source in sources for evidence in source(room)]
    kept = []
    for evidence in candidates:
        if math.isfinite(evidence.value) and tolerance.LENGTH < evidence.value <= GREATEST_HEIGHT:
            kept.append(evidence)
        else:
            room.notes.append(
                f"{evidence.where} is ignored: {evidence.value:.0f} mm above the floor is no ceiling height; "
                f"it must be above 0 and at most {GREATEST_HEIGHT:.0f} mm"
            )
    return HeightReading(candidates=tuple(kept), notes=tuple(dict.fromkeys(room.notes)))


def believe(candidates: tuple[HeightEvidence, ...]) -> CeilingHeight | None:
    """The height of the first candidate, with all of them; None where there is none."""
    if not candidates:
        return None
    return CeilingHeight(value=candidates[0].value, source=candidates[0].source, candidates=candidates)


def find_height(
    space: Space, coverings: RoomCoverings | None, file: ifcopenshell.file
) -> CeilingHeight | None:
    """The ceiling height of a space from the best source, with every other source kept.

    Args:
        space: the room.
        coverings: what `match_coverings` found over it; None where there is none.
        file: the model, for its units and levels.
    """
    return believe(read_height_evidence(space, coverings, file).candidates)


def _evidence(source: HeightSource, value: float, where: str) -> HeightEvidence:
    return HeightEvidence(source=source, value=value, where=where)


def _from_coverings(room: _Room) -> Iterator[HeightEvidence]:
    if room.coverings is None or room.coverings.ceiling is None:
        return
    ceiling = room.coverings.ceiling
    yield _evidence(
        HeightSource.COVERING,
        ceiling.underside - room.space.floor,
        f"ceiling {ceiling.name or ceiling.key} over {room.coverings.share:.0%} of the room",
    )


def _flooring(room: _Room, body_begins: str) -> float:
    """Thickness of the stated flooring in mm, where the body begins at the "slab" or the "flooring".

    Which of the two it does is told by its own height against the stated one, which runs
    from slab to slab; where neither fits, it is 0.
    """
    flooring, height = room.first("finishfloorheight"), room.first(*_SPACE_HEIGHT_WORDS)
    if flooring is None or height is None or not 0.0 < flooring < height:
        return 0.0
    expected = height if body_begins == "slab" else height - flooring
    return flooring if tolerance.is_equal(expected, room.body, tolerance.HEIGHT) else 0.0


def _from_finish(room: _Room) -> Iterator[HeightEvidence]:
    flooring = _flooring(room, "slab")
    for where, value in room.stated(*FINISH_WORDS):
        text = f"{where}, from a flooring of {flooring:.0f} mm up" if flooring else where
        # A height of nothing stays nothing, whatever it stands on.
        raised = value + flooring if value > 0.0 else value
        yield _evidence(HeightSource.FINISH_CEILING_HEIGHT, raised, text)


def _from_requirement(room: _Room) -> Iterator[HeightEvidence]:
    stated = next(_from_space_height(room), None)
    total, total_where = (room.body, "the body's height") if stated is None else (stated.value, stated.where)
    for where, offset in room.stated(*_OFFSET_WORDS):
        if offset > 0.0:  # none is no plenum, and so no suspended ceiling
            yield _evidence(HeightSource.COVERING_REQUIREMENT, total - offset, f"{total_where} less {where}")


def _from_properties(room: _Room) -> Iterator[HeightEvidence]:
    yield from _covering_offsets(room)
    yield from _limit_offsets(room)
    base = _base_level(room)
    for where, value in room.stated(*_BODY_HEIGHT_WORDS):
        height = value if base is None else base + value - room.space.floor
        yield _evidence(HeightSource.PROPERTY, height, where)
    for where, value in room.stated(*_ROOM_HEIGHT_WORDS):
        yield _evidence(HeightSource.PROPERTY, value, where)


def _covering_offsets(room: _Room) -> Iterator[HeightEvidence]:
    """The level offset that the room's own ceiling states of itself."""
    for piece in room.coverings.pieces if room.coverings is not None else ():
        for where, z in piece.stated:
            yield _evidence(
                HeightSource.PROPERTY,
                z - room.space.floor,
                f"{where} of ceiling {piece.covering.name or piece.covering.key}",
            )


def _limit_offsets(room: _Room) -> Iterator[HeightEvidence]:
    """A "Limit Offset" counts from the level named in "Upper Limit"."""
    limits = statements_named(room.statements, "upperlimit")
    for where, offset in room.stated("limitoffset"):
        group = where.rpartition(".")[0]
        named = [text_of(s) for s in limits if s.where.rpartition(".")[0] == group]
        level = room.levels.named(named[0]) if named else None
        if level is None:
            what = f"names {named[0]!r}, no storey of the model" if named else "is missing"
            room.notes.append(f"{where} is ignored: the level it counts from {what}")
        else:
            text = f"{where} from {named[0]}"
            yield _evidence(HeightSource.PROPERTY, level + offset - room.space.floor, text)


def _base_level(room: _Room) -> float | None:
    """Model z that an unbounded height counts from: the storey and its base offset, if stated."""
    offset, level = room.first("baseoffset"), room.levels.of(room.space.storey_key)
    return None if offset is None or level is None else level + offset


def _from_space_height(room: _Room) -> Iterator[HeightEvidence]:
    flooring = _flooring(room, "flooring")
    for where, value in room.stated(*_SPACE_HEIGHT_WORDS):
        text = f"{where}, less a flooring of {flooring:.0f} mm below the body" if flooring else where
        yield _evidence(HeightSource.SPACE_HEIGHT, value - flooring, text)


def _from_body(room: _Room) -> Iterator[HeightEvidence]:
    """The top of the body; of a sloped or stepped one the height up to which it keeps most of its plan."""
    level = _broad_level(room.space) - room.space.floor
    if tolerance.is_equal(level, room.body, tolerance.HEIGHT) or level < LEAST_HEADROOM:
        yield _evidence(HeightSource.BODY, room.body, "top of the space's body")
    else:
        where = f"height up to which the space keeps its plan; its body ends at {room.body:.0f} mm"
        yield _evidence(HeightSource.BODY, level, where)


def _broad_level(space: Space) -> float:
    """The highest z at which the body has corners and still `MOST_OF_PLAN` of its full plan."""
    body = space.body
    corners = space.mesh[:, :, 2]
    steps = np.unique(np.round(corners[corners > body.level_top + tolerance.HEIGHT]))
    # Round and vaulted tops have corners everywhere; their full plan ends where they begin.
    if len(steps) > _MOST_STEPS:
        return body.level_top
    for z in steps[::-1]:
        try:
            if outline_at(space, float(min(z, body.top))).area >= MOST_OF_PLAN * body.plan.area:
                return float(min(z, body.top))
        except RoomError:
            continue
    return body.level_top


_SOURCES = (
    _from_coverings,
    _from_finish,
    _from_requirement,
    _from_properties,
    _from_space_height,
    _from_body,
)
"""The sources in the order in which they are believed."""
