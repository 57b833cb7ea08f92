"""The strings from which a ceiling is set out, as they stand on its sheet and in its model."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["SetOutLine"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetOutLine:
    """One string: its number, its ends (local), where it runs and what it is tied to, in words.

    `ties` are pairs of a place ("wall A") and the distances in mm from it at the place's
    start and end.
    """

    number: int
    start: tuple[float, float]
    end: tuple[float, float]
    runs: str
    ties: tuple[tuple[str, float, float], ...]

    @property
    def key(self) -> str:
        """Its key in its ceiling: `control/number`."""
        return f"control/{self.number}"
