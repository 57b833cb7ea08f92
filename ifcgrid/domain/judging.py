"""By what a project wants its ceilings judged: rule sets, switches where sources disagree, its site."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from math import isfinite
from typing import Any

from ifcgrid.domain.errors import PlanError, UnitError
from ifcgrid.domain.seismic import Seismic
from ifcgrid.domain.units import parse_length

__all__ = ["ENTRIES", "Judging", "read_judging"]

ENTRIES = ("rules", "switches", "seismic", "clash")
"""The entries of a plan that say by what its ceilings are judged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judging:
    """`sets` are ids of rule sets; `switches` the chosen variant by rule; `seismic` the site.

    `clash` holds the project's own numbers for clash rules, in the units of the rules, and
    False for those that are not to be judged.
    """

    sets: tuple[str, ...] = ()
    switches: Mapping[str, str] = field(default_factory=dict)
    seismic: Seismic = field(default_factory=Seismic)
    clash: Mapping[str, float | bool] = field(default_factory=dict)

    @property
    def edition(self) -> str | None:
        """The edition of ASCE 7 whose force is asked for; None where the site says too little for one."""
        return None if self.seismic.sds is None else self.seismic.edition


def _texts(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(item, str) and item for item in value):
        raise PlanError(f'rules is {value!r}; give a list of rule sets, for example ["c636-19"]')
    return tuple(value)


def _switches(value: Any) -> Mapping[str, str]:
    if not isinstance(value, Mapping) or not all(isinstance(item, str) for item in value.values()):
        raise PlanError(f'switches is {value!r}; give a table, for example {{ first-brace = "four-foot" }}')
    return dict(value)


def _seismic(value: Any) -> Seismic:
    known = [f.name for f in fields(Seismic)]
    if not isinstance(value, Mapping):
        raise PlanError(f"seismic is {value!r}; give a table with some of {', '.join(known)}")
    if unknown := sorted(set(value) - set(known)):
        raise PlanError(f"seismic has no entry {unknown[0]!r}; allowed: {', '.join(known)}")
    return Seismic(**value)


def _clash(value: Any) -> Mapping[str, float | bool]:
    if not isinstance(value, Mapping):
        raise PlanError(f'clash is {value!r}; give a table, for example {{ panel-tilt-in = "75 mm" }}')
    return {str(rule): _clash_number(str(rule), number) for rule, number in value.items()}


def _clash_number(rule: str, value: Any) -> float | bool:
    """A length with its unit, a plain number in the rule's own unit, or false."""
    if value is False:
        return False
    if isinstance(value, str):
        try:
            number = parse_length(value)
        except UnitError as error:
            raise PlanError(f"clash {rule}: {error}") from error
    elif isinstance(value, int | float) and not isinstance(value, bool):
        number = float(value)
    else:
        raise PlanError(f"clash {rule} is {value!r}; give a length, a number, or false to leave it out")
    if not isfinite(number) or number < 0:
        raise PlanError(f"clash {rule} is {value!r}; it must not be less than zero")
    return number


_READERS: Mapping[str, tuple[str, Callable[[Any], Any]]] = {
    "rules": ("sets", _texts),
    "switches": ("switches", _switches),
    "seismic": ("seismic", _seismic),
    "clash": ("clash", _clash),
}


def read_judging(document: dict[str, Any], line_of: Callable[[str], int]) -> Judging:
    """What a plan's document says, taken out of it.

    Raises:
        PlanError: an entry has a wrong value; the error carries its line.
    """
    given: dict[str, Any] = {}
    for entry, (name, read) in _READERS.items():
        if entry in document:
            try:
                given[name] = read(document.pop(entry))
            except PlanError as error:
                raise PlanError(str(error), line_of(entry)) from error
    return Judging(**given)
