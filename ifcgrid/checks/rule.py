"""Rules: short functions that measure one thing, stamped with the document they come from.

A rule gives `Measures`: a value for each thing that it applies to, in internal units, and
which side of the limit is right. The limit comes from the rule's row of data. A rule that
applies to nothing in a ceiling gives a reason instead.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.checks.case import Case
from ifcgrid.checks.rule_data import RuleRow
from ifcgrid.checks.units import find_slack, find_unit
from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.finding import Verdict

__all__ = ["Measures", "Rule", "at_least", "at_most", "find_rules", "rule", "statement"]

Subjects = Sequence[str] | Callable[[int], str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measures:
    """What a rule measured, one entry a thing.

    `value`, `limit` (n,) in the row's unit, NaN where unknown; `verdict` (n,) of `Verdict`;
    `point` (n, 2) local; `subject(k)` names the k-th thing; `noun` says in the plural what
    the things are; `detail` is a sentence for people, `missing` why a value is unknown.
    """

    value: NDArray[np.float64]
    limit: NDArray[np.float64]
    verdict: NDArray[np.object_]
    point: NDArray[np.float64]
    subject: Callable[[int], str]
    noun: str
    sign: int
    unit: str
    detail: str = ""
    missing: str = ""

    def __len__(self) -> int:
        return len(self.value)

    @property
    def margin(self) -> NDArray[np.float64]:
        """How far (n,) each is from its limit, negative beyond it."""
        margin: NDArray[np.float64] = self.sign * (self.limit - self.value)
        return margin


Answer = Measures | str
"""What a rule gives: measures, or why it applies to nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A rule: its name, its title for people, where it stands, and how it is measured."""

    name: str
    title: str
    document: str
    edition: str
    clause: str
    measure: Callable[[Case, RuleRow], Answer]


_RULES: dict[tuple[str, str], dict[str, Rule]] = {}


def rule(
    document: str, edition: str, clause: str = "", *, name: str = ""
) -> Callable[[Callable[[Case, RuleRow], Answer]], Callable[[Case, RuleRow], Answer]]:
    """Registers a function as a rule of a document and edition.

    Its name is the function's with hyphens, its title the first line of its docstring.

    Raises:
        SystemDataError: the document has a rule of that name already, or it has no title.
    """

    def register(measure: Callable[[Case, RuleRow], Answer]) -> Callable[[Case, RuleRow], Answer]:
        own = name or measure.__name__.replace("_", "-")
        title = (measure.__doc__ or "").strip().splitlines()[0].rstrip(".") if measure.__doc__ else ""
        rules = _RULES.setdefault((document, edition), {})
        if own in rules or not title:
            raise SystemDataError(f"rule {own} of {document}-{edition} stands there twice or has no title")
        rules[own] = Rule(
            name=own, title=title, document=document, edition=edition, clause=clause, measure=measure
        )
        return measure

    return register


def find_rules(document: str, edition: str) -> Mapping[str, Rule]:
    """The rules of a document and edition by name, in the order of their module."""
    return _RULES.get((document, edition), {})


def at_most(case: Case, row: RuleRow, values: Any, **rest: Any) -> Measures:
    """Measures that may not exceed the row's value, or `limit` (n,) in its unit. See `_compare`."""
    return _compare(1, case, row, values, **rest)


def at_least(case: Case, row: RuleRow, values: Any, **rest: Any) -> Measures:
    """Measures that may not fall short of the row's value, or of `limit` (n,) in its unit."""
    return _compare(-1, case, row, values, **rest)


def _compare(
    sign: int,
    case: Case,
    row: RuleRow,
    values: Any,
    *,
    subjects: Subjects | None = None,
    points: Any = None,
    noun: str = "ceilings",
    limit: Any = None,
    excused: NDArray[np.bool_] | None = None,
    detail: str = "",
    missing: str = "",
) -> Measures:
    """Judges values (n,) in internal units.

    Without `subjects` and `points` the value is of the whole ceiling. `excused` (n,) pass
    whatever their value; NaN is unknown, for the reason `missing`.
    """
    unit = find_unit(row.unit)[1]
    value = np.atleast_1d(np.asarray(values, dtype=float)) / unit
    limits = np.broadcast_to(np.asarray(row.number if limit is None else limit, dtype=float), value.shape)
    slack = np.array([find_slack(row.unit, x) for x in limits]) if limit is not None else None
    slack = np.full(value.shape, find_slack(row.unit, row.number)) if slack is None else slack
    is_right = sign * (limits - value) >= -slack
    if excused is not None:
        is_right |= excused
    verdict = np.where(is_right, Verdict.PASS, Verdict.FAIL).astype(object)
    verdict[np.isnan(value) | np.isnan(limits)] = Verdict.UNKNOWN
    key = [case.ceiling.key] * len(value) if subjects is None else subjects
    return Measures(
        value=value,
        limit=limits,
        verdict=verdict,
        point=np.broadcast_to(case.middle, (len(value), 2)) if points is None else np.asarray(points),
        subject=key if callable(key) else key.__getitem__,
        noun=noun,
        sign=sign,
        unit=row.unit,
        detail=detail,
        missing=missing,
    )


def statement(
    case: Case, row: RuleRow, verdict: Verdict, detail: str, *, value: float = np.nan, limit: float = np.nan
) -> Measures:
    """A judgement on the whole ceiling that is no comparison of two numbers; `value` in internal units."""
    return Measures(
        value=np.array([value / find_unit(row.unit)[1]]),
        limit=np.array([row.number if np.isnan(limit) and row.value is not None else limit]),
        verdict=np.array([verdict], dtype=object),
        point=case.middle,
        subject=lambda _: case.ceiling.key,
        noun="ceilings",
        sign=1,
        unit=row.unit,
        detail=detail,
        missing=detail,
    )
