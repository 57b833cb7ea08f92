"""What a plan file wants a ceiling held by in earthquakes: bracing, free walls, wires of devices.

    restraint = {category = "D", first_brace = "4 ft", wires = "dsa"}

The seismic design `category` A to F decides what is laid out; the other entries change its
numbers. What the site is like, and by what ceilings are judged, stands elsewhere in a plan.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ifcgrid.domain.bracing import BracingRules, find_bracing_rules
from ifcgrid.domain.errors import PlanError, SystemDataError, UnitError
from ifcgrid.domain.tiers import WIRE_TIERS, WireTiers, find_wire_tiers
from ifcgrid.domain.units import parse_length

__all__ = ["RestraintSettings", "read_restraint"]

_LENGTHS = ("first_brace", "spacing", "clearance", "free_gap", "joint_gap", "hanger_end")
_SWITCHES = {"joints": "is_jointed", "joints_by_ratio": "is_ratio_alone"}
_ENTRIES = ("category", "braces", *_LENGTHS, *_SWITCHES, "wires")


@dataclass(frozen=True, slots=True, kw_only=True)
class RestraintSettings:
    """What a room's ceiling is held by in earthquakes.

    `bracing` None: the category asks for nothing; `wires` None: devices get no wires of
    their own.
    """

    category: str
    bracing: BracingRules | None = None
    wires: WireTiers | None = None


def _length(name: str, value: Any) -> float:
    try:
        length = parse_length(value)
    except UnitError as error:
        raise PlanError(f"restraint {name}: {error}") from error
    if length <= 0:
        raise PlanError(f"restraint {name} is {value!r}; it must be greater than zero")
    return length


def _switch(name: str, value: Any) -> bool:
    if not isinstance(value, bool):
        raise PlanError(f"restraint {name} is {value!r}; give true or false")
    return value


def _bracing_changes(table: Mapping[str, Any]) -> dict[str, Any]:
    changes: dict[str, Any] = {name: _length(name, table[name]) for name in _LENGTHS if name in table}
    changes |= {switch: _switch(name, table[name]) for name, switch in _SWITCHES.items() if name in table}
    braces = table.get("braces", "by area")
    if braces not in ("by area", "always", "never"):
        raise PlanError(f'restraint braces is {braces!r}; give "by area", "always" or "never"')
    if braces == "always":
        changes |= {"is_braced": True, "brace_area": 0.0}
    if braces == "never":
        changes["is_braced"] = False
    return changes


def read_restraint(value: Any) -> RestraintSettings:
    """The settings of a plan's `restraint` table.

    Wires of devices are laid out from category C on, by the first set of tiers unless
    `wires` names another or "none".

    Raises:
        PlanError: an entry is unknown, missing or wrong; the message says what is allowed.
    """
    if not isinstance(value, Mapping):
        raise PlanError(f'restraint is {value!r}; write a table such as {{category = "D"}}')
    if unknown := sorted(set(value) - set(_ENTRIES)):
        raise PlanError(f"restraint has no entry {unknown[0]!r}; allowed: {', '.join(_ENTRIES)}")
    category = value.get("category")
    if not isinstance(category, str):
        raise PlanError(f"restraint category is {category!r}; give one of A, B, C, D, E, F")
    try:
        bracing = find_bracing_rules(category, **_bracing_changes(value))
        wires = str(value.get("wires", "none" if bracing is None else WIRE_TIERS[0].id))
        return RestraintSettings(
            category=category.strip().upper(),
            bracing=bracing,
            wires=None if wires == "none" else find_wire_tiers(wires),
        )
    except SystemDataError as error:
        raise PlanError(str(error)) from error
