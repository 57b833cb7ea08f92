"""`[[devices]]` tables of a plan file: which devices hold the grid, which may move, which are free."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fnmatch import fnmatchcase
from typing import Any

from ifcgrid.domain.errors import PlanError, UnitError
from ifcgrid.domain.obstacle import DEVICES
from ifcgrid.domain.seat import Hold, Seat, Wish
from ifcgrid.domain.units import parse_length

__all__ = ["DeviceRule", "find_wish", "read_device_rule"]

PICKS = ("kind", "name", "key", "storey", "room")
"""What a `[[devices]]` table may pick devices by; several must all match."""

CHANGES = ("hold", "within", "seat")
"""What a `[[devices]]` table may set."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceRule:
    """One `[[devices]]` table: patterns that pick devices, and what is to become of them."""

    line: int
    picks: Mapping[str, str]
    changes: Mapping[str, Any]

    def matches(self, facts: Mapping[str, Sequence[str]]) -> bool:
        """Whether a device is picked; `facts` holds what may match each pick."""
        for name, pattern in self.picks.items():
            known = facts.get(name, ())
            if name == "key":
                if pattern not in known:
                    return False
            elif not any(fnmatchcase(text.casefold(), pattern.casefold()) for text in known):
                return False
        return True


def find_wish(rules: Sequence[DeviceRule], facts: Mapping[str, Sequence[str]]) -> Wish:
    """What is to become of a device: the rules in their order, the last word winning.

    `facts` holds the texts that each pick may match: `kind`, `name` (the device's and its
    type's), `key`, `storey`, and `room` (its number and its name).
    """
    wish = Wish()
    for rule in rules:
        if rule.matches(facts):
            wish = replace(wish, **rule.changes)
    return wish


def read_device_rule(table: Any, line_of: Callable[[str], int]) -> DeviceRule:
    """A rule from its table; `line_of` gives the line of an entry, for messages.

    Raises:
        PlanError: an entry is unknown or has a wrong value.
    """
    if not isinstance(table, Mapping):
        raise PlanError("devices must be tables; write [[devices]]", line_of(""))
    picks: dict[str, str] = {}
    changes: dict[str, Any] = {}
    for entry, value in table.items():
        try:
            if entry in PICKS:
                picks[entry] = _read_pick(entry, value)
            elif entry in CHANGES:
                changes[entry] = _READERS[entry](value)
            else:
                allowed = ", ".join(PICKS + CHANGES)
                raise PlanError(f"[[devices]] has no entry {entry!r}; allowed: {allowed}")
        except PlanError as error:
            raise PlanError(str(error), line_of(entry)) from error
    if not picks:
        raise PlanError(f"[[devices]] picks no device; give one of {', '.join(PICKS)}", line_of(""))
    if not changes:
        raise PlanError(f"[[devices]] changes nothing; give one of {', '.join(CHANGES)}", line_of(""))
    if "within" in changes and changes.get("hold", Hold.MOVABLE) is not Hold.MOVABLE:
        raise PlanError(
            f'within is for devices that may move, but hold is "{changes["hold"]}"; write hold = "movable"',
            line_of("within"),
        )
    if "within" in changes:
        changes.setdefault("hold", Hold.MOVABLE)
    return DeviceRule(line=line_of(""), picks=picks, changes=changes)


def _read_pick(entry: str, value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise PlanError(f"{entry} is {value!r}; give a text")
    kinds = sorted(kind.value for kind in DEVICES)
    if entry == "kind" and not any(fnmatchcase(kind, value.casefold()) for kind in kinds):
        raise PlanError(f"no kind of device is {value!r}; there are {', '.join(kinds)}")
    return value


def _read_within(value: Any) -> float:
    try:
        length = parse_length(value)
    except UnitError as error:
        raise PlanError(f"within: {error}") from error
    if length <= 0:
        raise PlanError(f"within is {value!r}; it must be greater than zero")
    return length


def _choice(entry: str, choices: type[StrEnum]) -> Callable[[Any], StrEnum]:
    def read(value: Any) -> StrEnum:
        allowed = [choice.value for choice in choices]
        if value not in allowed:
            raise PlanError(f"{entry} is {value!r}; choose one of {', '.join(allowed)}")
        return choices(value)

    return read


_READERS: Mapping[str, Callable[[Any], Any]] = {
    "hold": _choice("hold", Hold),
    "seat": _choice("seat", Seat),
    "within": _read_within,
}
