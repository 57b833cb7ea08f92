"""The numbers that clash rules judge by, read from data with their source and basis."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from ifcgrid.domain.errors import SystemDataError

__all__ = ["Limit", "read_limits"]

BASES = ("published", "common practice", "default")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One rule's number: `value` in `unit`, who says so, how sure that is, who usually yields."""

    rule: str
    title: str
    value: float
    unit: str
    source: str
    clause: str
    basis: str
    yields: str


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
