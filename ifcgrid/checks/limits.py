"""The numbers that clash rules judge by, read from data with their source and basis."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from ifcgrid.domain.errors import PlanError, SystemDataError

__all__ = ["Limit", "limits_for", "read_limits"]

BASES = ("published", "common practice", "default")

SHARED = frozenset({"connection", "contact", "escutcheon", "fixture-clearance", "opening-reach", "run"})
"""Rows that are numbers of several rules and no rules themselves."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One rule's number: `value` in `unit`, who says so, how sure that is, who usually yields.

    A rule that a project left out is not judged.
    """

    rule: str
    title: str
    value: float
    unit: str
    source: str
    clause: str
    basis: str
    yields: str
    is_judged: bool = True


@cache
def read_limits(name: str = "clash") -> Mapping[str, Limit]:
    """The limits of one data file, by rule.

    Raises:
        SystemDataError: an entry is missing, is not known, or names an unknown basis.
    """
    text = files(__name__.rpartition(".")[0]).joinpath("data", f"{name}.toml").read_text(encoding="utf-8")
    limits = {}
    for rule, table in tomllib.loads(text).items():
        try:
            limit = Limit(rule=rule, **table)
        except TypeError as error:
            raise SystemDataError(f"limits {name}: [{rule}]: {error}") from error
        if limit.basis not in BASES:
            raise SystemDataError(f"limits {name}: [{rule}]: basis {limit.basis!r}; allowed: {BASES}")
        limits[rule] = limit
    return MappingProxyType(limits)


def limits_for(changes: Mapping[str, float | bool]) -> Mapping[str, Limit]:
    """The limits with a project's own numbers in them, in the units of the data; False leaves a rule out.

    Raises:
        PlanError: there is no such rule, or a number that several rules share is left out.
    """
    limits = dict(read_limits())
    for rule, value in changes.items():
        if rule not in limits:
            raise PlanError(f"clash has no rule {rule!r}; there are {', '.join(limits)}")
        if isinstance(value, bool):
            if rule in SHARED:
                raise PlanError(
                    f"clash: {rule!r} is a number that rules share; give one, do not leave it out"
                )
            limits[rule] = replace(limits[rule], is_judged=value)
        else:
            words = f"the project's plan, instead of {limits[rule].value:g} {limits[rule].unit}"
            limits[rule] = replace(limits[rule], value=value, source=words, clause="", basis="default")
    return MappingProxyType(limits)
