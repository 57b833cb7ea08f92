"""What of the building a grid may be set out from: doors and the axes of its set-out grids."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["BuildingAxis", "Door", "HeldLine", "Site"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Door:
    """A door: the plan point in the middle of its leaf and the model z of its sill, in mm.

    `angle_deg` is the direction of the leaf from the model's X axis, along the wall.
    """

    key: str
    name: str
    point: tuple[float, float]
    angle_deg: float
    bottom: float


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildingAxis:
    """A straight axis of a building's grid, with its tag; ends in model coordinates in mm."""

    tag: str
    grid: str
    start: tuple[float, float]
    end: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldLine:
    """A line of the building that the grid has to keep to.

    It runs through `point` (model coordinates, mm) at `angle_deg` from the model's X axis.
    `is_joint` puts a line of the grid on it, else the middle of a panel. `name` is for people.
    """

    name: str
    point: tuple[float, float]
    angle_deg: float
    is_joint: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """All doors and axes of a model; empty when nothing is set out from them."""

    doors: tuple[Door, ...] = ()
    axes: tuple[BuildingAxis, ...] = ()
