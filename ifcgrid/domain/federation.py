"""How further models of a building lie to the one with the rooms."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Alignment", "Basis"]


class Basis(StrEnum):
    """By what a further model was brought into place."""

    COORDINATES = "model coordinates"
    MAP = "map conversion"


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment:
    """Where a further model was put, and what speaks against it.

    `shift` is where its origin came to lie in mm, `turn_deg` its turn counter-clockwise
    about it; both are zero where its coordinates were taken as they are. Each of `notes` is
    a sentence on something that does not fit: a storey, an axis, its extent.
    """

    basis: Basis
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)
    turn_deg: float = 0.0
    notes: tuple[str, ...] = ()
