"""The plan file: which rooms get which system, height and policy, and which get no ceiling.

A plan is TOML. Entries at the top hold for every room; each `[[rooms]]` table then
changes what it names for the rooms it picks, in the order of the file, the last word
winning:

    system = "lay-in-600x600"
    policy = "half-module"

    [[rooms]]
    storey = "Level 2"            # patterns with * and ?, case ignored
    name = "*corridor*"
    system = "lay-in-300x1200"
    height = "2600 mm"            # above the room's floor

    [[rooms]]
    query = 'IfcSpace, Pset_SpaceCommon.PubliclyAccessible=FALSE'
    skip = "stores get no ceiling"

    [[rooms]]
    name = "Stair lobby"          # its name looks like a stair's
    keep = true

    [[systems]]                   # a grid system of your own
    id = "..."
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from math import isfinite
from typing import Any

from ifcgrid.domain.errors import PlanError, SystemDataError, UnitError
from ifcgrid.domain.policy import POLICIES, Policy, find_policy
from ifcgrid.domain.system import GridSystem, system_from_table
from ifcgrid.domain.units import parse_length

__all__ = ["Plan", "RoomRule", "Settings", "parse_plan"]

DEFAULT_SYSTEM = "lay-in-600x600"

PICKS = ("storey", "name", "number", "key", "query")
"""What a `[[rooms]]` table may pick rooms by; several must all match."""

CHANGES = ("system", "policy", "height", "angle", "skip", "keep")
"""What a `[[rooms]]` table may set."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What one room gets: the system's id, the policy, and what overrides the model.

    `height` in mm above the floor, `angle` of the mains in degrees from the model's X
    axis; None leaves them to the model and the solver. `skip` is the reason for no ceiling;
    `keep` wants one in a room that looks like a shaft, a stair or the outdoors.
    """

    system: str = DEFAULT_SYSTEM
    policy: Policy = POLICIES[0]
    height: float | None = None
    angle: float | None = None
    skip: str | None = None
    keep: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomRule:
    """One `[[rooms]]` table: patterns that pick rooms, and what they get."""

    line: int
    picks: Mapping[str, str]
    changes: Mapping[str, Any]

    def matches(self, facts: Mapping[str, str], answered: Collection[str]) -> bool:
        """Whether a room is picked; `answered` holds the queries that found it."""
        for name, pattern in self.picks.items():
            if name == "query":
                if pattern not in answered:
                    return False
            elif name == "key":
                if facts.get("key") != pattern:
                    return False
            elif not fnmatchcase(facts.get(name, "").casefold(), pattern.casefold()):
                return False
        return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A plan file, read. `systems` are those defined in it, by id."""

    default: Settings = Settings()
    rules: tuple[RoomRule, ...] = ()
    systems: Mapping[str, GridSystem] = field(default_factory=dict)

    @property
    def queries(self) -> tuple[str, ...]:
        """The model queries that the rules ask, each once."""
        return tuple(dict.fromkeys(r.picks["query"] for r in self.rules if "query" in r.picks))

    def settings_for(self, facts: Mapping[str, str], answered: Collection[str] = ()) -> Settings:
        """What a room gets. `facts` holds its key, storey, name and number."""
        settings = self.default
        for rule in self.rules:
            if rule.matches(facts, answered):
                settings = replace(settings, **rule.changes)
        return settings


def _line_of(text: str, table: str, index: int, entry: str = "") -> int:
    """The 1-based line of an entry in the index-th `[[table]]` ("" = the top), for messages."""
    current, seen, header_line = "", -1, 0
    for number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]", line)
        if header:
            current = header[1].strip("\"' ")
            if current == table:
                seen += 1
                if seen == index:
                    header_line = number
        elif current == table and (not table or seen == index):
            name = re.match(r"\s*[\"']?([\w-]+)[\"']?\s*[=.]", line)
            if entry and name and name[1] == entry:
                return number
    return header_line


def _read_angle(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise PlanError(f"angle is {value!r}; give degrees from the model's X axis, for example 17.0")
    return float(value)


def _read_height(value: Any) -> float:
    try:
        height = parse_length(value)
    except UnitError as error:
        raise PlanError(f"height: {error}") from error
    if height <= 0:
        raise PlanError(f"height is {value!r}; it must be greater than zero")
    return height


def _read_keep(value: Any) -> bool:
    if not isinstance(value, bool):
        raise PlanError(f"keep is {value!r}; give true or false")
    return value


def _read_policy(value: Any) -> Policy:
    try:
        return find_policy(str(value))
    except SystemDataError as error:
        raise PlanError(str(error)) from error


_READERS: Mapping[str, Callable[[Any], Any]] = {
    "angle": _read_angle,
    "height": _read_height,
    "keep": _read_keep,
    "policy": _read_policy,
}


def _read_entry(entry: str, value: Any, systems: Collection[str]) -> Any:
    """The checked value of one entry, or PlanError without a line."""
    if entry in _READERS:
        return _READERS[entry](value)
    if not isinstance(value, str) or not value.strip():
        raise PlanError(f"{entry} is {value!r}; give a text")
    if entry == "system" and value not in systems:
        raise PlanError(f"no grid system {value!r}; choose one of {', '.join(sorted(systems))}")
    return value


def _read_rule(table: Any, systems: Collection[str], line_of: Any) -> RoomRule:
    if not isinstance(table, Mapping):
        raise PlanError("rooms must be tables; write [[rooms]]", line_of(""))
    picks: dict[str, str] = {}
    changes: dict[str, Any] = {}
    for entry, value in table.items():
        if entry not in PICKS + CHANGES:
            allowed = ", ".join(PICKS + CHANGES)
            raise PlanError(f"[[rooms]] has no entry {entry!r}; allowed: {allowed}", line_of(entry))
        try:
            (picks if entry in PICKS else changes)[entry] = _read_entry(entry, value, systems)
        except PlanError as error:
            raise PlanError(str(error), line_of(entry)) from error
    if not picks:
        raise PlanError(f"[[rooms]] picks no room; give one of {', '.join(PICKS)}", line_of(""))
    if not changes:
        raise PlanError(f"[[rooms]] changes nothing; give one of {', '.join(CHANGES)}", line_of(""))
    return RoomRule(line=line_of(""), picks=picks, changes=changes)


def _parse_toml(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"at line (\d+)", str(error))
        raise PlanError(f"not TOML: {error}", int(found[1]) if found else 0) from error


def _read_systems(tables: Any, text: str) -> dict[str, GridSystem]:
    if not isinstance(tables, list):
        raise PlanError("systems must be tables; write [[systems]]", _line_of(text, "", 0, "systems"))
    systems: dict[str, GridSystem] = {}
    for index, table in enumerate(tables):
        try:
            system = system_from_table(table)
        except SystemDataError as error:
            raise PlanError(str(error), _line_of(text, "systems", index)) from error
        systems[system.id] = system
    return systems


def parse_plan(text: str, known_systems: Collection[str]) -> Plan:
    """A plan from its text. `known_systems` are the ids that come with the library.

    Raises:
        PlanError: the text is no TOML, or an entry is unknown or has a wrong value; the
            error carries the line and names what is allowed.
    """
    document = _parse_toml(text)
    own = _read_systems(document.pop("systems", []), text)
    systems = {*known_systems, *own}
    rooms = document.pop("rooms", [])
    if not isinstance(rooms, list):
        raise PlanError("rooms must be tables; write [[rooms]]", _line_of(text, "rooms", 0))
    top: dict[str, Any] = {}
    for entry, value in document.items():
        line = _line_of(text, "", 0, entry) or _line_of(text, entry, 0)
        if entry not in ("system", "policy", "height", "angle"):
            raise PlanError(
                f"no entry {entry!r}; allowed: system, policy, height, angle, [[rooms]], [[systems]]", line
            )
        try:
            top[entry] = _read_entry(entry, value, systems)
        except PlanError as error:
            raise PlanError(str(error), line) from error
    rules = tuple(
        _read_rule(table, systems, lambda entry, index=index: _line_of(text, "rooms", index, entry))
        for index, table in enumerate(rooms)
    )
    return Plan(default=Settings(**top), rules=rules, systems=own)
