"""The numbers of rule sets: one data file a document and edition, one row a rule.

A row has `value` in `unit`, or `values` by category, or `by` says what gives the limit;
`also` holds further numbers whose names end in their unit. It names who says so (`source`, `clause`) and
how sure that is (`basis`):

    S     read in the named document, or in a faithful copy of its text
    S2    read second-hand: a plan sheet, a summary, code that implements it
    M     from memory: a setting, not to be quoted as the document's word
    D     arithmetic on stated inputs
    P     a choice of this project: common practice, no source

Where sources disagree a row has `variants` by name and a `default` among them: a switch.
Inch-pound and SI numbers are separate files; neither is ever turned into the other (ASTM
C635/C635M-17 1.4, C636/C636M-19 1.4).
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

from ifcgrid.checks.units import find_unit
from ifcgrid.domain.errors import SystemDataError

__all__ = ["BASES", "RuleFile", "RuleRow", "list_rule_files", "read_rule_file"]

BASES = {
    "S": "read in the named document",
    "S2": "second-hand",
    "M": "from memory",
    "D": "arithmetic on stated inputs",
    "P": "choice of this project; common practice, no source",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleRow:
    """One rule's number. `variant` is the switch position it belongs to, "" without a switch."""

    rule: str
    unit: str
    source: str
    clause: str
    basis: str
    value: float | None = None
    values: Mapping[str, float] = field(default_factory=dict)
    by: str = ""
    also: Mapping[str, float] = field(default_factory=dict)
    note: str = ""
    variant: str = ""

    @property
    def number(self) -> float:
        """The value of a row that has one."""
        if self.value is None:
            raise SystemDataError(f"rule {self.rule}: the row has no single value")
        return self.value

    def further(self, name: str) -> float:
        """A further number of the row in internal units; its entry is `name_unit`."""
        for entry, value in self.also.items():
            stem, _, unit = entry.rpartition("_")
            if stem == name:
                return float(value * find_unit(unit)[1])
        raise SystemDataError(f"rule {self.rule}: the row has no {name}")

    @property
    def basis_text(self) -> str:
        """The basis in words."""
        return f"{self.basis} ({BASES[self.basis]})"


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleFile:
    """The numbers of one document and edition; `rows` by rule and switch position."""

    id: str
    document: str
    edition: str
    title: str
    units: str
    rows: Mapping[str, tuple[RuleRow, ...]]
    defaults: Mapping[str, str]
    left_out: Mapping[str, str]

    def row(self, rule: str, switches: Mapping[str, str]) -> RuleRow:
        """The row that holds, by the position of the rule's switch.

        Raises:
            SystemDataError: the switch has no such position.
        """
        rows = self.rows[rule]
        wanted = switches.get(rule, self.defaults.get(rule, ""))
        for row in rows:
            if row.variant == wanted:
                return row
        raise SystemDataError(
            f"switch {rule} = {wanted!r}; choose one of {', '.join(r.variant for r in rows)}"
        )


_OF_CLASHES = {"clash.toml", "coordination.toml"}
"""Data that is no document's."""

_FIELDS = {"value", "values", "by", "also", "unit", "source", "clause", "basis", "note"}


def _read_row(rule: str, table: Mapping[str, Any], variant: str, owner: str) -> RuleRow:
    where = f"rule data {owner}: [{rule}]" + (f" {variant}" if variant else "")
    if unknown := sorted(set(table) - _FIELDS):
        raise SystemDataError(f"{where}: unknown entry {unknown[0]!r}; allowed: {', '.join(sorted(_FIELDS))}")
    if missing := sorted({"unit", "source", "clause", "basis"} - set(table)):
        raise SystemDataError(f"{where}: {missing[0]} is missing")
    if table["basis"] not in BASES:
        raise SystemDataError(f"{where}: basis {table['basis']!r}; choose one of {', '.join(BASES)}")
    if len({"value", "values", "by"} & set(table)) != 1:
        raise SystemDataError(f"{where}: give one of value, values and by")
    find_unit(table["unit"])
    return RuleRow(rule=rule, variant=variant, **table)


def _read_rows(rule: str, table: Mapping[str, Any], owner: str) -> tuple[RuleRow, ...]:
    variants = table.get("variants")
    if variants is None:
        return (_read_row(rule, table, "", owner),)
    if set(table) != {"default", "variants"} or table["default"] not in variants:
        raise SystemDataError(
            f"rule data {owner}: [{rule}]: a switch has variants and a default among them, nothing else"
        )
    return tuple(_read_row(rule, row, name, owner) for name, row in variants.items())


def list_rule_files() -> tuple[str, ...]:
    """The ids of the rule files that come with the library, sorted."""
    folder = files(__name__.rpartition(".")[0]).joinpath("data")
    return tuple(
        sorted(
            f.name.removesuffix(".toml").replace("_", "-")
            for f in folder.iterdir()
            if f.name.endswith(".toml") and f.name not in _OF_CLASHES
        )
    )


@cache
def read_rule_file(file_id: str) -> RuleFile:
    """The numbers of one document and edition.

    Raises:
        SystemDataError: there is no such file, or an entry of it is missing or wrong.
    """
    if file_id not in list_rule_files():
        raise SystemDataError(f"no rules {file_id!r}; choose one of {', '.join(list_rule_files())}")
    folder = files(__name__.rpartition(".")[0]).joinpath("data")
    document = tomllib.loads(folder.joinpath(f"{file_id.replace('-', '_')}.toml").read_text(encoding="utf-8"))
    rules = document.get("rules", {})
    return RuleFile(
        id=file_id,
        document=document["document"],
        edition=document["edition"],
        title=document["title"],
        units=document["units"],
        rows={rule: _read_rows(rule, table, file_id) for rule, table in rules.items()},
        defaults={rule: table["default"] for rule, table in rules.items() if "default" in table},
        left_out=document.get("left_out", {}),
    )
