"""What the models hold on purpose, gathered while they are written: models/expected.json."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from demo_building.fields import Field
from demo_building.geometry import balanced_border

__all__ = ["Ledger"]


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
        if own_field is not None:
            entry["field_mm"] = [own_field.width, own_field.depth]
            entry["module_mm"] = own_field.module
            entry["borders_mm"] = [
                round(balanced_border(side, own_field.module), 6)
                for side in (own_field.width, own_field.depth)
            ]
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

    def zone(self, rooms: Sequence[str], why: str) -> None:
        """States rooms that lie under one continuous field."""
        self.zones.append({"rooms": [self.guids[r] for r in rooms], "numbers": list(rooms), "why": why})

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
