"""What the models hold on purpose, gathered while they are written: models/expected.json."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from demo_building.fields import Field
from demo_building.geometry import balanced_border

__all__ = ["BELOW", "Ledger"]

BELOW = "how far its underside lies below the ceiling's underside; add the grid's depth for the intrusion"


def _grid(own_field: Field | None) -> dict[str, Any]:
    """The field a balanced grid lies in: its lower left corner, angle, sides, module and borders."""
    if own_field is None:
        return {}
    sides = (own_field.width, own_field.depth)
    return {
        "corner_mm": [round(v, 6) for v in own_field.at(0.0, 0.0)],
        "angle_deg": own_field.place.angle_deg,
        "field_mm": [round(side, 6) for side in sides],
        "module_mm": own_field.module,
        "borders_mm": [round(balanced_border(side, own_field.module), 6) for side in sides],
    }


@dataclass(slots=True)
class Ledger:
    """Rooms by GlobalId, planted clashes, and things that look like clashes and are none."""

    rooms: dict[str, dict[str, Any]] = field(default_factory=dict)
    clashes: list[dict[str, Any]] = field(default_factory=list)
    no_clashes: list[dict[str, Any]] = field(default_factory=list)
    zones: list[dict[str, Any]] = field(default_factory=list)
    guids: dict[str, str] = field(default_factory=dict)

    def room(self, room_id: str, guid: str, entry: dict[str, Any], own_field: Field | None) -> None:
        """States one room; `own_field` gives the borders where the balanced layout is a rectangle's."""
        self.guids[room_id] = guid
        entry |= _grid(own_field)
        self.rooms[guid] = entry

    def clash(
        self,
        family: str,
        room: str,
        elements: Sequence[Any],
        measure: float | None,
        of: str,
        point: Sequence[float] | None = None,
        **more: Any,
    ) -> None:
        """States one planted clash: `measure` in mm and what it measures, `point` in mm."""
        self.clashes.append(
            self._entry(family, room, elements, measure_mm=measure, measures=of, point=point, **more)
        )

    def no_clash(self, family: str, room: str, elements: Sequence[Any], why: str, **more: Any) -> None:
        """States that these elements raise no flag, and why."""
        self.no_clashes.append(self._entry(family, room, elements, why=why, **more))

    def table(self) -> dict[str, Any]:
        """All of it as plain data."""
        return {
            "rooms": self.rooms,
            "zones": self.zones,
            "clashes": self.clashes,
            "no_clashes": self.no_clashes,
        }

    def zone(self, rooms: Sequence[str], own_field: Field, why: str) -> None:
        """States rooms that lie under one continuous field."""
        zone = {"rooms": [self.guids[r] for r in rooms], "numbers": list(rooms), "why": why}
        self.zones.append(zone | _grid(own_field))

    def _entry(self, family: str, room: str, elements: Sequence[Any], **more: Any) -> dict[str, Any]:
        point = more.pop("point", None)
        entry = {
            "family": family,
            "room": self.guids[room],
            "number": room,
            "elements": [e.GlobalId for e in elements],
            "names": [e.Name for e in elements],
            **more,
        }
        if point is not None:
            entry["point_mm"] = [round(v, 3) for v in point]
        return entry
