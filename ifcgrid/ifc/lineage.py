"""Which room of a model is which of an earlier run, so that GlobalIds survive new GlobalIds of spaces.

Some programs give every space a new GlobalId with each export. Ours are made from those, so
each ceiling remembers its rooms: GlobalId, storey, number, name, place and size, and what
its own GlobalIds were made from. A later run finds a room again by its GlobalId, else by
storey, number and name where they name one room only, else by its footprint.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import ifcopenshell

from ifcgrid.domain import tolerance
from ifcgrid.domain.room import Room
from ifcgrid.ifc.identity import MARKER_SET

__all__ = [
    "ROOM_FACTS",
    "RoomFacts",
    "facts_text",
    "find_earlier",
    "find_owners",
    "parse_facts",
    "read_facts",
]

ROOM_FACTS = "RoomFacts"
"""The property with what a ceiling remembers of its rooms, as JSON."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomFacts:
    """A room as an earlier run knew it; lengths in mm.

    `owner` is what the GlobalIds of its ceiling are made from: its first GlobalId.
    """

    key: str
    owner: str
    storey: str
    number: str
    name: str
    x: float
    y: float
    floor: float
    area_m2: float

    @property
    def label(self) -> tuple[str, ...]:
        """Storey, number and name, however they are written."""
        return tuple(" ".join(word.split()).casefold() for word in (self.storey, self.number, self.name))


def _facts(room: Room, owner: str) -> RoomFacts:
    middle = room.outline.centroid
    return RoomFacts(
        key=room.key,
        owner=owner,
        storey=room.storey,
        number=room.number,
        name=room.name,
        x=round(middle.x),
        y=round(middle.y),
        floor=round(room.floor),
        area_m2=round(room.outline.area / 1e6, 3),
    )


def facts_text(rooms: Sequence[Room], owners: Mapping[str, str]) -> str:
    """What is remembered of rooms, as JSON."""
    facts = [_facts(room, owners.get(room.key, room.key)) for room in rooms]
    rows = [[f.key, f.owner, f.storey, f.number, f.name, f.x, f.y, f.floor, f.area_m2] for f in facts]
    return json.dumps(rows, ensure_ascii=False, separators=(",", ":"))


def read_facts(file: ifcopenshell.file) -> tuple[RoomFacts, ...]:
    """What the ceilings in a model remember of their rooms, each room once, without what is damaged."""
    found: dict[str, RoomFacts] = {}
    for marker in (p for p in file.by_type("IfcPropertySet") if p.Name == MARKER_SET):
        for prop in marker.HasProperties:
            if prop.Name == ROOM_FACTS and prop.is_a("IfcPropertySingleValue") and prop.NominalValue:
                for facts in parse_facts(str(prop.NominalValue.wrappedValue)):
                    found.setdefault(facts.key, facts)
    return tuple(found[key] for key in sorted(found))


def parse_facts(text: str) -> Sequence[RoomFacts]:
    """What is remembered of rooms, from its JSON; nothing where that is damaged."""
    names = ("key", "owner", "storey", "number", "name", "x", "y", "floor", "area_m2")
    try:
        return [RoomFacts(**dict(zip(names, row, strict=True))) for row in json.loads(text)]
    except (ValueError, TypeError):
        return []


def find_earlier(
    rooms: Sequence[Room], known: Iterable[RoomFacts], spaces: Iterable[str]
) -> dict[str, RoomFacts]:
    """What an earlier run knew of each of these rooms, by their keys; rooms that are new are left out.

    Args:
        rooms: the rooms as they are now.
        known: what is remembered; of one room the first word counts.
        spaces: GlobalIds of all spaces that the model has now; who is among them is nobody else.
    """
    by_key: dict[str, RoomFacts] = {}
    for facts in known:
        by_key.setdefault(facts.key, facts)
    found = {room.key: by_key[room.key] for room in rooms if room.key in by_key}
    here = set(spaces)
    gone = [facts for key, facts in sorted(by_key.items()) if key not in here]
    new = [_facts(room, room.key) for room in rooms if room.key not in found]
    for mark in (lambda facts: facts.label, _footprint_finder(gone)):
        for room, facts in _pairs(new, gone, mark):
            found[room.key] = facts
            new.remove(room)
            gone.remove(facts)
    return found


def _footprint_finder(known: Sequence[RoomFacts]) -> Callable[[RoomFacts], Hashable]:
    """Marks a room by the one remembered room that stood where it stands."""

    def find(room: RoomFacts) -> Hashable:
        same = [facts.key for facts in known if _is_same_place(room, facts)]
        return same[0] if len(same) == 1 else None

    return find


def _is_same_place(one: RoomFacts, other: RoomFacts) -> bool:
    """Whether two rooms have about the same middle, floor and size."""
    near = tolerance.SAME_ROOM
    share = min(one.area_m2, other.area_m2) / max(one.area_m2, other.area_m2, 1e-9)
    is_near = all(
        abs(a - b) <= near for a, b in ((one.x, other.x), (one.y, other.y), (one.floor, other.floor))
    )
    return is_near and share >= tolerance.SAME_ROOM_SHARE


def _pairs(
    new: Sequence[RoomFacts], gone: Sequence[RoomFacts], mark: Callable[[RoomFacts], Any]
) -> list[tuple[RoomFacts, RoomFacts]]:
    """New and remembered rooms of one mark, where just one of each has it."""
    sides = []
    for side in (new, gone):
        by_mark: dict[Any, list[RoomFacts]] = {}
        for facts in side:
            by_mark.setdefault(mark(facts), []).append(facts)
        sides.append({m: found[0] for m, found in by_mark.items() if m is not None and len(found) == 1})
    return [(sides[0][m], sides[1][m]) for m in sides[0] if m in sides[1]]


def find_owners(rooms: Sequence[Room], known: Iterable[RoomFacts], spaces: Iterable[str]) -> dict[str, str]:
    """What the GlobalIds of each room's ceiling are made from, where that is not the room's own GlobalId."""
    earlier = find_earlier(rooms, known, spaces)
    owners: dict[str, str] = {}
    taken: set[str] = set()
    for room in sorted(rooms, key=lambda r: (r.key not in earlier, r.key)):
        owner = earlier[room.key].owner if room.key in earlier else room.key
        while owner in taken:  # its GlobalId was another room's first one
            owner += "/again"
        taken.add(owner)
        if owner != room.key:
            owners[room.key] = owner
    return owners
