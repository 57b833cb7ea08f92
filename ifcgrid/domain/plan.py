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
    control = "entrance"          # square to: longest | entrance | wall 3 | wall C | north ...
    turn = 45                     # and turned from that wall, in degrees
    zone = "offices"              # rooms of one zone share one grid though walls stand between
    line = {through = "B"}        # a grid line on a building axis, or {axis = "x", through = 12000}
    soffits = "own zone"          # local lower ceilings get a grid of their own
    restraint = {category = "D"}  # what holds it in earthquakes; see domain.restraint_plan
    hanging = {splice_sides = 2, clearance = "50 mm"}  # of the system's hanging rules; see domain.scheme
    classification = {system = "...", code = "...", name = "..."}  # see domain.classification

    [[rooms]]
    query = 'IfcSpace, Pset_SpaceCommon.PubliclyAccessible=FALSE'
    skip = "stores get no ceiling"

    [[rooms]]
    name = "Stair lobby"          # its name looks like a stair's
    keep = true

    [[devices]]                   # what holds the grid, what may move, what is free
    kind = "sprinkler"            # or name, key, storey, room
    hold = "movable"              # fixed (default) | movable | free
    within = "300 mm"
    seat = "centre"               # cell | centre | centre-or-quarter

    [[measured]]                  # a room as it was measured on site; see domain.measured_plan
    number = "003"
    walls = {A = "9562 mm"}

    [[waivers]]                   # a cause that somebody accepts; see domain.waiver
    cause = "..."                 # or rule with storey, room or element
    reason = "..."
    by = "..."

    [[systems]]                   # a grid system of your own
    id = "..."

    [[policies]]                  # a policy of your own
    id = "..."
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from math import isfinite
from typing import Any, TypeVar

from ifcgrid.domain.classification import Classification, read_classification
from ifcgrid.domain.device_rule import DeviceRule, read_device_rule
from ifcgrid.domain.errors import PlanError, SystemDataError, UnitError
from ifcgrid.domain.judging import ENTRIES, Judging, read_judging
from ifcgrid.domain.measured import SiteMeasures
from ifcgrid.domain.measured_plan import level_of, read_measures
from ifcgrid.domain.policy import DEFAULT_POLICY, Policy, policy_from_table
from ifcgrid.domain.restraint_plan import RestraintSettings, read_restraint
from ifcgrid.domain.scheme import HangerChanges, read_hanging
from ifcgrid.domain.setting_out import (
    BuildingLine,
    Control,
    Soffits,
    read_control,
    read_lines,
    read_soffits,
    read_turn,
)
from ifcgrid.domain.system import GridSystem, system_from_table
from ifcgrid.domain.units import parse_length
from ifcgrid.domain.waiver import WaiverRule, read_waiver

__all__ = ["Plan", "RoomRule", "Settings", "parse_plan"]

DEFAULT_SYSTEM = "lay-in-600x600"

PICKS = ("storey", "name", "number", "key", "query")
"""What a `[[rooms]]` table may pick rooms by; several must all match."""

SETTING_OUT = ("control", "turn", "zone", "line", "soffits")
"""Entries that say where a grid starts; `domain.setting_out` reads them."""

CHANGES = (
    *("system", "policy", "height", "angle", *SETTING_OUT, "restraint", "hanging", "classification"),
    *("skip", "keep"),
)
"""What a `[[rooms]]` table may set."""

_AT_TOP = (
    *("system", "policy", "height", "angle", "control", "turn", "line", "soffits", "restraint"),
    *("hanging", "classification"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What one room gets: the ids of its system and policy, and what overrides the model.

    `height` in mm above the floor, `angle` of the mains in degrees from the model's X
    axis; None leaves them to the model and the solver. `skip` is the reason for no ceiling;
    `keep` wants one in a room that looks like a shaft, a stair or the outdoors.

    `control` is the wall that the grid squares to, `turn` the degrees by which it then is
    turned from it; rooms of one `zone` ("" = none) share one grid though walls stand between
    them; `line` holds the building lines that the grid keeps to; `soffits` says what
    becomes of local lower ceilings. `restraint` None: nothing is laid out for earthquakes.
    `hanging` changes the system's rules for hangers; `classification` is what ceilings are
    called in a classification.
    """

    system: str = DEFAULT_SYSTEM
    policy: str = DEFAULT_POLICY
    height: float | None = None
    angle: float | None = None
    control: Control | None = None
    turn: float = 0.0
    zone: str = ""
    line: tuple[BuildingLine, ...] = ()
    soffits: Soffits = Soffits.CUT_OUT
    restraint: RestraintSettings | None = None
    hanging: HangerChanges | None = None
    classification: Classification | None = None
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
    """A plan file, read. `systems` and `policies` are those defined in it, by id."""

    default: Settings = Settings()
    rules: tuple[RoomRule, ...] = ()
    judging: Judging = field(default_factory=Judging)
    devices: tuple[DeviceRule, ...] = ()
    waivers: tuple[WaiverRule, ...] = ()
    measured: tuple[SiteMeasures, ...] = ()
    systems: Mapping[str, GridSystem] = field(default_factory=dict)
    policies: Mapping[str, Policy] = field(default_factory=dict)

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
        level = level_of(self.measured, facts)
        return settings if level is None else replace(settings, height=level)


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


def _locator(text: str, table: str, index: int) -> Callable[[str], int]:
    """Gives the line of an entry of the index-th `[[table]]`."""
    return lambda entry: _line_of(text, table, index, entry)


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


_READERS: Mapping[str, Callable[[Any], Any]] = {
    "angle": _read_angle,
    "control": read_control,
    "height": _read_height,
    "keep": _read_keep,
    "line": read_lines,
    "restraint": read_restraint,
    "hanging": read_hanging,
    "classification": read_classification,
    "soffits": read_soffits,
    "turn": read_turn,
}

_Known = Mapping[str, Collection[str]]
"""Ids that `system` and `policy` may name."""


def _read_entry(entry: str, value: Any, known: _Known) -> Any:
    """The checked value of one entry, or PlanError without a line."""
    if entry in _READERS:
        return _READERS[entry](value)
    if not isinstance(value, str) or not value.strip():
        raise PlanError(f"{entry} is {value!r}; give a text")
    if entry in known and value not in known[entry]:
        what = {"system": "grid system"}.get(entry, entry)
        raise PlanError(f"no {what} {value!r}; choose one of {', '.join(sorted(known[entry]))}")
    return value


def _read_rule(table: Any, known: _Known, line_of: Callable[[str], int]) -> RoomRule:
    if not isinstance(table, Mapping):
        raise PlanError("rooms must be tables; write [[rooms]]", line_of(""))
    picks: dict[str, str] = {}
    changes: dict[str, Any] = {}
    for entry, value in table.items():
        if entry not in PICKS + CHANGES:
            allowed = ", ".join(PICKS + CHANGES)
            raise PlanError(f"[[rooms]] has no entry {entry!r}; allowed: {allowed}", line_of(entry))
        try:
            (picks if entry in PICKS else changes)[entry] = _read_entry(entry, value, known)
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


_Own = TypeVar("_Own", GridSystem, Policy)


def _read_own(text: str, kind: str, tables: Any, read: Callable[[Any], _Own]) -> dict[str, _Own]:
    """The systems or policies that a plan defines, by id."""
    if not isinstance(tables, list):
        line = _line_of(text, "", 0, kind) or _line_of(text, kind, 0)
        raise PlanError(f"{kind} must be tables; write [[{kind}]]", line)
    own: dict[str, _Own] = {}
    for index, table in enumerate(tables):
        try:
            if not isinstance(table, Mapping):
                raise SystemDataError(f"{kind} must be tables; write [[{kind}]]")
            made = read(table)
            if made.id in own:
                raise SystemDataError(f"{kind}: the id {made.id!r} stands there twice", "id")
        except SystemDataError as error:
            raise PlanError(str(error), _line_of(text, kind, index, error.entry)) from error
        own[made.id] = made
    return own


def _tables(document: dict[str, Any], kind: str, text: str) -> list[Any]:
    tables = document.pop(kind, [])
    if not isinstance(tables, list):
        raise PlanError(f"{kind} must be tables; write [[{kind}]]", _line_of(text, kind, 0))
    return tables


def parse_plan(
    text: str, known_systems: Collection[str], known_policies: Collection[str] = (DEFAULT_POLICY,)
) -> Plan:
    """A plan from its text; `known_systems`, `known_policies` are the ids that come with the library.

    Raises:
        PlanError: the text is no TOML, or an entry is unknown or has a wrong value; the
            error carries the line and names what is allowed.
    """
    document = _parse_toml(text)
    judging = read_judging(document, lambda entry: _line_of(text, "", 0, entry) or _line_of(text, entry, 0))
    systems = _read_own(text, "systems", document.pop("systems", []), system_from_table)
    policies = _read_own(text, "policies", document.pop("policies", []), policy_from_table)
    known = {"system": {*known_systems, *systems}, "policy": {*known_policies, *policies}}
    kinds = ("rooms", "devices", "measured", "waivers")
    rooms, devices, measured, waivers = (_tables(document, kind, text) for kind in kinds)
    return Plan(
        default=Settings(**_read_top(document, text, known)),
        judging=judging,
        rules=tuple(
            _read_rule(table, known, _locator(text, "rooms", index)) for index, table in enumerate(rooms)
        ),
        devices=tuple(
            read_device_rule(table, _locator(text, "devices", index)) for index, table in enumerate(devices)
        ),
        waivers=tuple(read_waiver(table, _locator(text, "waivers", k)) for k, table in enumerate(waivers)),
        measured=tuple(
            read_measures(table, _locator(text, "measured", index)) for index, table in enumerate(measured)
        ),
        systems=systems,
        policies=policies,
    )


def _read_top(document: Mapping[str, Any], text: str, known: _Known) -> dict[str, Any]:
    """The entries at the top, which hold for every room."""
    top: dict[str, Any] = {}
    for entry, value in document.items():
        line = _line_of(text, "", 0, entry) or _line_of(text, entry, 0)
        if entry not in _AT_TOP:
            raise PlanError(
                f"no entry {entry!r}; allowed: {', '.join(_AT_TOP + ENTRIES)}, [[rooms]], [[devices]], "
                "[[measured]], [[waivers]], [[systems]], [[policies]]",
                line,
            )
        try:
            top[entry] = _read_entry(entry, value, known)
        except PlanError as error:
            raise PlanError(str(error), line) from error
    return top
