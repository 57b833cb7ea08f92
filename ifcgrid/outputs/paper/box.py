"""Rectangles on paper."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Box"]


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on paper in mm, y down: left, top, right, bottom."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Right minus left."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Bottom minus top."""
        return self.bottom - self.top

    def meets(self, other: Box) -> bool:
        """Whether the two share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def holds(self, other: Box) -> bool:
        """Whether the other lies inside this one."""
        return (
            self.left <= other.left
            and self.top <= other.top
            and other.right <= self.right
            and other.bottom <= self.bottom
        )

    def grow(self, by: float) -> Box:
        """The box with `by` mm added on every side."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)
