"""What else there is to say of a layout: how little of a change of the room would have made it another."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Flip"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip:
    """The nearest change of a room's size at which the number of panels across it changes.

    `axis` is "u" along the mains or "v" across them; the wall at its far end is moved by
    `change` mm, less than zero into the room. Then there are `after` cells across instead
    of `before`, and the narrowest border in that direction is `border` mm.
    """

    axis: str
    change: float
    before: int
    after: int
    border: float
