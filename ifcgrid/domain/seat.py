"""Seats of devices in a ceiling's cells: what a device wants, and how far it stands from it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["NO_SEATING", "Hold", "Move", "Seat", "Seating", "Shift", "Wish"]


class Hold(StrEnum):
    """How firmly a device stands.

    FIXED    the grid is to come to it (what a services model holds, unless a plan says otherwise)
    MOVABLE  it may move to a seat within a distance; the grid does not heed it
    FREE     it may stand anywhere; neither the grid nor the move list heeds it
    """

    FIXED = "fixed"
    MOVABLE = "movable"
    FREE = "free"


class Seat(StrEnum):
    """The place in the grid that a device wants.

    CELL               one whole cell or a block of whole cells
    CENTRE             the middle of a cell; of a cut panel, the middle of what is left of it
    CENTRE_OR_QUARTER  the middle, or a quarter point along either side
    """

    CELL = "cell"
    CENTRE = "centre"
    CENTRE_OR_QUARTER = "centre-or-quarter"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is to become of one device.

    `within` is the greatest move of a movable one in mm, None for any. `seat` is the seat
    that was agreed on, None when nothing was said: then a device of a cell's size wants its
    cells, and any other aims at the middle or a quarter point without holding the grid.
    """

    hold: Hold = Hold.FIXED
    within: float | None = None
    seat: Seat | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A device that is not on its seat, and the way there.

    `start` and `end` are the middles of the device now and on its seat, in model
    coordinates in mm; `end` is None when there is no seat for it, for the reason in
    `reason`. `turn_deg` is how far it would have to be turned as well, counter-clockwise.
    `room` is the index of its room in the zone.
    """

    key: str
    kind: str
    name: str
    room: int
    hold: Hold
    seat: Seat
    start: tuple[float, float]
    end: tuple[float, float] | None
    turn_deg: float = 0.0
    reason: str = ""

    @property
    def vector(self) -> tuple[float, float] | None:
        """From start to end along the model's X and Y in mm; None without a seat."""
        if self.end is None:
            return None
        return (self.end[0] - self.start[0], self.end[1] - self.start[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """What heeding the fixed devices does to one term: its value with them and without."""

    term: str
    heeded: float
    unheeded: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Seating:
    """Which devices of a ceiling are on their seats, how far the others are, what that costs.

    `seated` holds the keys on their seat, by key; `moves` the others, by key. `cost` lists
    the terms that the fixed devices change against the layout that nobody would have had to
    compromise on, in the policy's order; empty when both layouts are the same. `is_exact`
    tells that no other choice of distinct seats has a smaller sum of moves.
    """

    seated: tuple[str, ...] = ()
    moves: tuple[Move, ...] = ()
    cost: tuple[Shift, ...] = ()
    is_exact: bool = True


NO_SEATING = Seating()
"""That of a ceiling without devices that want a seat."""
