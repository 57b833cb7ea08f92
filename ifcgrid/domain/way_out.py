"""Ways out of a clash: what would have to move, by how much, at what cost, and whether it was tried."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Change", "Step", "WayKind", "WayOut"]


class WayKind(StrEnum):
    """What moves."""

    LOWER_CEILING = "lower the ceiling"
    RAISE_CEILING = "raise the ceiling"
    SHIFT_GRID = "shift the grid"
    MOVE_DEVICE = "move the device"
    MOVE_OBSTACLE = "move what is in the way"
    REROUTE_HANGER = "hang it another way"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One thing that moves: its key (a room's, an element's, one of our parts') and by how much.

    `vector` is along the model's X, Y and Z in mm, `turn_deg` counter-clockwise.
    """

    key: str
    vector: tuple[float, float, float]
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One number that a way out changes: what it is, before and after, in `unit`."""

    what: str
    before: float
    after: float
    unit: str = "mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """A way out that was worked out and tried on the changed ceiling.

    In the trial the cause was gone: a way that leaves it is none. `is_clear` says that
    nothing else failed that did not fail before; else `brings` says what did. `text` is the
    way in one sentence, `who` the trade that has to do it, `amount` its size in mm, `steps`
    what moves, `changes` what it costs, `limits` sentences on how far it is allowed and what
    was not looked at.
    """

    kind: WayKind
    text: str
    who: str
    amount: float
    steps: tuple[Step, ...]
    is_clear: bool
    brings: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()
    limits: tuple[str, ...] = ()
