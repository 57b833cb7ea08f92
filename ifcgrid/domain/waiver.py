"""Waivers: causes that somebody accepted, with a reason and a name, for good or until a day."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fnmatch import fnmatchcase
from typing import Any

from ifcgrid.domain.errors import PlanError

__all__ = ["PLAN", "Waiver", "WaiverRule", "find_waiver", "read_waiver"]

PICKS = ("cause", "rule", "storey", "room", "element")
"""What a `[[waivers]]` table may pick causes by; several must all match."""

WORDS = ("reason", "by", "until")
"""What it says of them."""

PLAN = "plan"
"""Where a waiver of a plan file stands."""

_EXACT = ("cause", "element")


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiver:
    """Why a cause is accepted, who accepted it, until when (None: for good), and where that stands."""

    reason: str
    by: str
    until: date | None = None
    where: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaiverRule:
    """One `[[waivers]]` table: what picks causes, and the waiver they get."""

    line: int
    picks: Mapping[str, str]
    waiver: Waiver

    def matches(self, facts: Mapping[str, Sequence[str]]) -> bool:
        """Whether a cause is picked; `facts` holds the texts that each pick may match."""
        return all(
            any(_is_like(text, pattern, name) for text in facts.get(name, ()))
            for name, pattern in self.picks.items()
        )


def _is_like(text: str, pattern: str, pick: str) -> bool:
    if pick in _EXACT:
        return text == pattern
    return fnmatchcase(text.casefold(), pattern.casefold())


def find_waiver(
    rules: Sequence[WaiverRule], facts: Mapping[str, Sequence[str]], today: date
) -> Waiver | None:
    """The last waiver that picks a cause and has not run out on that day; it holds on its last day."""
    found = None
    for rule in rules:
        until = rule.waiver.until
        if (until is None or today <= until) and rule.matches(facts):
            found = rule.waiver
    return found


def read_waiver(table: Any, line_of: Callable[[str], int]) -> WaiverRule:
    """A waiver from its table; `line_of` gives the line of an entry, for messages.

    Raises:
        PlanError: an entry is unknown, missing or wrong.
    """
    if not isinstance(table, Mapping):
        raise PlanError("waivers must be tables; write [[waivers]]", line_of(""))
    for entry, value in table.items():
        if entry not in PICKS + WORDS:
            allowed = ", ".join(PICKS + WORDS)
            raise PlanError(f"[[waivers]] has no entry {entry!r}; allowed: {allowed}", line_of(entry))
        if entry != "until" and (not isinstance(value, str) or not value.strip()):
            raise PlanError(f"{entry} is {value!r}; give a text", line_of(entry))
    picks = {entry: table[entry] for entry in PICKS if entry in table}
    if "cause" not in picks and "rule" not in picks:
        raise PlanError(
            "[[waivers]] picks nothing; give the cause, or a rule with room or element", line_of("")
        )
    if "cause" not in picks and len(picks) < 2:
        raise PlanError(
            f"a waiver of every {picks['rule']!r} hides too much; give storey, room or element too",
            line_of("rule"),
        )
    for entry in ("reason", "by"):
        if entry not in table:
            raise PlanError(f"a waiver needs {entry}: why it is accepted and who accepts it", line_of(""))
    return WaiverRule(
        line=line_of(""),
        picks=picks,
        waiver=Waiver(
            reason=table["reason"].strip(),
            by=table["by"].strip(),
            until=_read_day(table.get("until"), line_of("until")),
            where=PLAN,
        ),
    )


def _read_day(value: Any, line: int) -> date | None:
    if isinstance(value, datetime):
        return value.date()
    if value is None or isinstance(value, date):
        return value
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError) as error:
        raise PlanError(f"until is {value!r}; give a day such as 2027-03-31", line) from error
