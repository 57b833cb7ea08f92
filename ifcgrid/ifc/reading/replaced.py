"""Which of the architect's ceilings one of ours took the place of in an earlier run."""

from __future__ import annotations

from typing import Any

import ifcopenshell.util.element

from ifcgrid.ifc.identity import MARKER_SET, global_id, marker_of
from ifcgrid.ifc.lineage import ROOM_FACTS, parse_facts
from ifcgrid.ifc.writing.provenance import NOTHING, REPLACES, ROOMS

__all__ = ["replaced_key"]


def replaced_key(element: Any) -> str | None:
    """The GlobalId of the architect's ceiling that this one of ours took the place of, or None."""
    told = {} if marker_of(element) is None else ifcopenshell.util.element.get_psets(element)[MARKER_SET]
    keys, rooms = str(told.get(REPLACES, "")).split(), str(told.get(ROOMS, "")).split()
    if len(keys) != len(rooms):
        return None
    owners = {facts.key: facts.owner for facts in parse_facts(str(told.get(ROOM_FACTS, "[]")))}
    of_room = {
        global_id(owners.get(room, room), "covering"): key for room, key in zip(rooms, keys, strict=True)
    }
    key = of_room.get(element.GlobalId, NOTHING)
    return None if key == NOTHING else key
