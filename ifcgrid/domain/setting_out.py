"""What a plan file says of where a grid starts: its control wall and the building lines it keeps to."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite
from typing import Any

from ifcgrid.domain.errors import PlanError, UnitError
from ifcgrid.domain.units import parse_length

__all__ = [
    "BuildingLine",
    "Control",
    "ControlKind",
    "Soffits",
    "read_control",
    "read_lines",
    "read_soffits",
    "read_turn",
]

SIDES = {"east": 0.0, "north": 90.0, "west": 180.0, "south": 270.0}
"""Sides of the plan, as directions from the model's X axis (the model's Y axis is plan north)."""


class ControlKind(StrEnum):
    """How the wall is named that a frame squares to."""

    LONGEST = "longest"
    ENTRANCE = "entrance"
    EDGE = "edge"
    LETTER = "letter"
    SIDE = "side"


@dataclass(frozen=True, slots=True, kw_only=True)
class Control:
    """The control wall: its kind, and the number, letter or side that names it ("" for the others)."""

    kind: ControlKind
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildingLine:
    """A line that fixes the phase of a grid.

    `through` is the tag of an axis of the building's grid, or a coordinate in mm on the
    model axis `axis` ("x" or "y"), which the line crosses at right angles; with a tag,
    `axis` tells axes of one tag apart ("" when not needed). `is_joint`: a line of the grid
    falls on it, else the middle of a panel.
    """

    through: str | float
    axis: str = ""
    is_joint: bool = True


class Soffits(StrEnum):
    """What becomes of local lower ceilings: cut out of the grid, or given a grid of their own."""

    CUT_OUT = "cut out"
    OWN_ZONE = "own zone"


def read_control(value: Any) -> Control:
    """The control wall from its text.

    `longest`; `entrance` (the wall that faces the door); `wall C` by its letter on the
    set-out sheet; `wall 3` by the number of an edge of the outline, from 1; `north`, `east`,
    `south`, `west` by the side of the plan that it is on.

    Raises:
        PlanError: it is none of these.
    """
    text = value.strip().lower() if isinstance(value, str) else ""
    if text in (ControlKind.LONGEST, ControlKind.ENTRANCE):
        return Control(kind=ControlKind(text))
    if text in SIDES:
        return Control(kind=ControlKind.SIDE, name=text)
    found = re.fullmatch(r"wall\s+(?:0*([1-9]\d*)|([a-z]{1,2}))", text)
    if found:
        number, letter = found.groups()
        if number:
            return Control(kind=ControlKind.EDGE, name=number)
        return Control(kind=ControlKind.LETTER, name=letter.upper())
    raise PlanError(
        f'control is {value!r}; give "longest", "entrance", "wall 3", "wall C", or a side of the plan: '
        f"{', '.join(sorted(SIDES))}"
    )


def read_turn(value: Any) -> float:
    """The angle between grid and control wall in degrees.

    Raises:
        PlanError: it is no number.
    """
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise PlanError(f"turn is {value!r}; give degrees from the walls, for example 45")
    return float(value)


def read_soffits(value: Any) -> Soffits:
    """What becomes of soffits.

    Raises:
        PlanError: it is neither word.
    """
    try:
        return Soffits(value)
    except ValueError:
        words = " or ".join(f'"{word}"' for word in Soffits)
        raise PlanError(f"soffits is {value!r}; give {words}") from None


def read_lines(value: Any) -> tuple[BuildingLine, ...]:
    """Building lines from one table or a list of two: `{through = "B"}`, `{axis = "x", through = 12000}`.

    Raises:
        PlanError: an entry is unknown, missing or wrong.
    """
    tables = value if isinstance(value, list) else [value]
    if not 1 <= len(tables) <= 2:
        raise PlanError(f"line holds {len(tables)} lines; give one, or two at right angles")
    return tuple(_read_line(table) for table in tables)


def _read_line(table: Any) -> BuildingLine:
    if not isinstance(table, Mapping):
        raise PlanError(f'line is {table!r}; write {{through = "B"}} or {{axis = "x", through = 12000}}')
    if unknown := sorted(set(table) - {"axis", "through", "on"}):
        raise PlanError(f"line has no entry {unknown[0]!r}; allowed: axis, through, on")
    axis = table.get("axis", "")
    if axis not in ("", "x", "y"):
        raise PlanError(f'line: axis is {axis!r}; give "x" or "y", the axis that the line crosses')
    on = table.get("on", "joint")
    if on not in ("joint", "panel"):
        raise PlanError(f'line: on is {on!r}; give "joint" or "panel"')
    return BuildingLine(through=_read_through(table.get("through"), axis), axis=axis, is_joint=on == "joint")


def _read_through(value: Any, axis: str) -> str | float:
    wanted = 'give the tag of a building axis, or with axis = "x" a coordinate in mm'
    if value is None or isinstance(value, bool) or not isinstance(value, int | float | str):
        raise PlanError(f"line: through is {value!r}; {wanted}")
    if isinstance(value, str):
        if not value.strip():
            raise PlanError(f"line: through is empty; {wanted}")
        # "12" is a tag; only a text with a unit can be a coordinate.
        if not axis or value.strip().isdecimal():
            return value.strip()
        try:
            return parse_length(value)
        except UnitError:
            return value.strip()
    if not axis:
        raise PlanError(f'line: through is the coordinate {value!r} without an axis; add axis = "x" or "y"')
    if not isfinite(value):
        raise PlanError(f"line: through is {value!r}; {wanted}")
    return float(value)
