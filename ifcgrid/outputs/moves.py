"""Devices and the grid, for the services model: who is on module, who moves where, as records and CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from typing import Any

import numpy as np

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.seat import Move

__all__ = ["format_moves", "record_devices", "record_moves"]

_COLUMNS = (
    "device", "kind", "name", "storey", "room_number", "room_name", "hold", "seat", "from_x_mm", "from_y_mm",
    "to_x_mm", "to_y_mm", "move_x_mm", "move_y_mm", "distance_mm", "turn_deg", "reason",
)  # fmt: skip

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet would take for the beginning of a formula."""


def _round(value: float, digits: int = 3) -> float:
    return round(float(value), digits) + 0.0  # turns -0.0 into 0.0


def _pair(point: tuple[float, float] | None) -> list[float] | None:
    return None if point is None else [_round(x) for x in point]


def record_moves(ceiling: Ceiling, index: int) -> list[dict[str, Any]]:
    """The devices of one room that are not on their seats, by key; `vector_mm` in model axes.

    `to_mm` and `vector_mm` are None where there is no seat, for the reason in `reason`.
    """
    return [
        {
            "key": move.key,
            "kind": move.kind,
            "name": move.name,
            "hold": move.hold.value,
            "seat": move.seat.value,
            "from_mm": _pair(move.start),
            "to_mm": _pair(move.end),
            "vector_mm": _pair(move.vector),
            "turn_deg": _round(move.turn_deg, 6),
            "reason": move.reason,
        }
        for move in ceiling.seating.moves
        if move.room == index
    ]


def record_devices(ceiling: Ceiling) -> dict[str, Any]:
    """Which devices of a ceiling are on their seats, and what the fixed ones cost, term by term."""
    seating = ceiling.seating
    return {
        "on_module": list(seating.seated),
        "shortest_moves": "proved" if seating.is_exact else "nearest first",
        "cost": [
            {"term": s.term, "heeded": _round(s.heeded, 6), "unheeded": _round(s.unheeded, 6)}
            for s in seating.cost
        ],
    }


def _text(value: str) -> str:
    return f"'{value}" if value.startswith(_FORMULA) else value


def _row(ceiling: Ceiling, move: Move) -> list[str | float]:
    room = ceiling.zone.rooms[move.room]
    ends: list[str | float] = [""] * 5
    if move.end is not None and move.vector is not None:
        ends = [_round(x) for x in (*move.end, *move.vector, float(np.hypot(*move.vector)))]
    head = (move.key, move.kind, move.name, room.storey, room.number, room.name)
    return [
        *map(_text, head),
        move.hold.value,
        move.seat.value,
        *(_round(x) for x in move.start),
        *ends,
        _round(move.turn_deg, 6),
        _text(move.reason),
    ]


def format_moves(ceilings: Iterable[Ceiling]) -> str:
    """The move list of all ceilings as CSV with a header row; lengths in mm, in model axes."""
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(_COLUMNS)
    for ceiling in ceilings:
        table.writerows(_row(ceiling, move) for move in ceiling.seating.moves)
    return stream.getvalue()
