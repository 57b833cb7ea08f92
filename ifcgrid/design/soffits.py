"""Local lower ceilings as ceilings of their own, each at its level with trim all round.

A level change inside a room is a wall for the lower ceiling: each level is a field of its
own with its own perimeter trim (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import shapely
from shapely import Polygon

from ifcgrid.design.outlines import grow, polygons
from ifcgrid.design.zones import carve_rooms
from ifcgrid.domain import tolerance
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import CeilingHeight, Covering, HeightEvidence, HeightSource, Room, Zone
from ifcgrid.domain.system import GridSystem

__all__ = ["lay_soffits"]


def lay_soffits(room: Room, system: GridSystem, obstacles: Sequence[Obstacle] = ()) -> tuple[Zone, ...]:
    """A zone for each soffit of a room that is wide enough for a panel, sorted by key.

    The zone's key is the soffit's with `-soffit` after it. It holds the room as the soffit's:
    its outline, its level, and the soffit as the ceiling to be adopted. Narrower strips stay
    cut out of the room's grid and get none.
    """
    zones = []
    for soffit in sorted(room.soffits, key=lambda s: s.key):
        for piece in _pieces(room, soffit, system):
            (own,) = carve_rooms([_room_under(room, soffit, piece)], obstacles)
            note = f"soffit {soffit.name or soffit.key} has a grid of its own"
            zones.append(
                Zone(
                    key=f"{soffit.key}-soffit",
                    rooms=(own,),
                    outline=own.outline,
                    level=soffit.underside,
                    notes=(note,),
                )
            )
    return tuple(zones)


def _pieces(room: Room, soffit: Covering, system: GridSystem) -> Iterator[Polygon]:
    """The largest part of a soffit inside the room, if a panel fits across it."""
    inside = polygons(shapely.intersection(room.section, soffit.outline))
    if not inside:
        return
    half = min(system.along, system.across) / 2
    if polygons(grow(inside[0], tolerance.LENGTH - half)):
        yield inside[0]


def _room_under(room: Room, soffit: Covering, outline: Polygon) -> Room:
    height = soffit.underside - room.floor
    evidence = HeightEvidence(source=HeightSource.COVERING, value=height, where=f"soffit {soffit.key}")
    return replace(
        room,
        name=f"{room.name} (soffit {soffit.name or soffit.key})".lstrip(),
        section=outline,
        outline=outline,
        height=CeilingHeight(value=height, source=HeightSource.COVERING, candidates=(evidence,)),
        covering=soffit,
        soffits=(),
        open_to=(),
        stated_area_m2=None,
        notes=(),
        also=(),
    )
