"""What a plan file says of rooms that were measured on site.

    [[measured]]
    number = "003"                  # picks one ceiling as [[rooms]] does: storey, name, number, key
    walls = {A = "9562 mm", B = "6.15 m"}      # letters as on the set-out sheet and in explain
    distances = {"AB-CD" = "11.371 m"}         # straight from the corner of A and B to that of C and D
    level = "2.71 m"                # floor to the underside of the ceiling
    deviation = "2 mm"              # standard deviation of one length
    within = "150 mm"               # the most that a length may differ from the model's
    hold = "A"                      # this wall stays on its line in the model
    date = "2031-03-04"
    by = "site crew 2"

A length with a deviation of its own is a table: `B = {length = "6.15 m", deviation = "5 mm"}`.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Collection, Mapping, Sequence
from fnmatch import fnmatchcase
from typing import Any

from ifcgrid.domain.errors import PlanError, UnitError
from ifcgrid.domain.measured import SiteLength, SiteMeasures
from ifcgrid.domain.units import parse_length

__all__ = ["DEVIATION", "WITHIN", "level_of", "matches", "read_measures"]

DEVIATION = 2.0
"""Standard deviation of a length by hand-held laser or steel tape, in mm (common practice, no source)."""

WITHIN = 150.0
"""A length that differs from the model's by more, in mm, is taken for a slip (our own choice)."""

_PICKS = ("storey", "name", "number", "key")
_ENTRIES = (*_PICKS, "walls", "distances", "level", "deviation", "within", "hold", "date", "by")
_WALL = r"[A-HJ-NP-Z]{1,3}"
_CORNER = rf"(?:{_WALL}/{_WALL}|[A-HJ-NP-Z]{{2}})"
_LONGEST_TEXT = 80


def read_measures(table: Any, line_of: Callable[[str], int]) -> SiteMeasures:
    """One `[[measured]]` table.

    Raises:
        PlanError: an entry is unknown, missing or wrong; it carries the entry's line.
    """
    if not isinstance(table, Mapping):
        raise PlanError("measured must be tables; write [[measured]]", line_of(""))
    read: dict[str, Any] = {}
    # The deviation of all comes before the lengths, wherever it stands.
    for entry in sorted(table, key=lambda name: name != "deviation"):
        try:
            read[entry] = _read_entry(entry, table[entry], read.get("deviation", DEVIATION))
        except PlanError as error:
            raise PlanError(str(error), line_of(entry)) from error
    picks = {name: read[name] for name in _PICKS if name in read}
    lengths = (*read.get("walls", ()), *read.get("distances", ()))
    if not picks:
        raise PlanError(f"[[measured]] picks no room; give one of {', '.join(_PICKS)}", line_of(""))
    if not lengths and "level" not in read:
        raise PlanError("[[measured]] measures nothing; give walls, distances or level", line_of(""))
    return SiteMeasures(
        line=line_of(""),
        picks=picks,
        lengths=lengths,
        level=read.get("level"),
        date=read.get("date", ""),
        by=read.get("by", ""),
        within=read.get("within", WITHIN),
        hold=read.get("hold", ""),
    )


def _read_entry(entry: str, value: Any, deviation: float) -> Any:
    if entry not in _ENTRIES:
        raise PlanError(f"[[measured]] has no entry {entry!r}; allowed: {', '.join(_ENTRIES)}")
    if entry == "walls":
        return _lengths(entry, value, deviation, _wall_name)
    if entry == "distances":
        return _lengths(entry, value, deviation, _distance_name)
    if entry == "hold":
        return _wall_name(entry, value)
    if entry == "date":
        return _date(value)
    return (_length if entry in ("level", "deviation", "within") else _text)(entry, value)


def matches(measures: SiteMeasures, facts: Mapping[str, str]) -> bool:
    """Whether a room of these facts (key, storey, name, number) is the one that was measured."""
    return all(
        facts.get(name, "") == pattern
        if name == "key"
        else fnmatchcase(facts.get(name, "").casefold(), pattern.casefold())
        for name, pattern in measures.picks.items()
    )


def level_of(measured: Sequence[SiteMeasures], facts: Mapping[str, str]) -> float | None:
    """The measured level of a room in mm above its floor, None where none was measured."""
    levels = [m.level for m in measured if m.level is not None and matches(m, facts)]
    return levels[-1] if levels else None


def _text(entry: str, value: Any) -> str:
    if not isinstance(value, str) or not value.strip() or len(value) > _LONGEST_TEXT:
        raise PlanError(f"{entry} is {value!r}; give a text of at most {_LONGEST_TEXT} letters")
    return value.strip()


def _date(value: Any) -> str:
    """A day as TOML writes it, or in quotes."""
    if isinstance(value, datetime.date):
        return value.isoformat()[:10]
    try:
        return datetime.date.fromisoformat(value).isoformat()
    except (TypeError, ValueError) as error:
        raise PlanError(f"date is {value!r}; write it as 2031-03-04") from error


def _length(entry: str, value: Any) -> float:
    try:
        length = parse_length(value)
    except UnitError as error:
        raise PlanError(f"{entry}: {error}") from error
    if length <= 0:
        raise PlanError(f"{entry} is {value!r}; it must be greater than zero")
    return length


def _wall_name(entry: str, name: Any) -> str:
    if not isinstance(name, str) or not re.fullmatch(_WALL, name.strip().upper()):
        raise PlanError(
            f"{entry} names {name!r}; a wall is a letter as on the set-out sheet: A, B ... (no I, no O)"
        )
    return name.strip().upper()


def _distance_name(entry: str, name: str) -> str:
    """Both corners in one spelling: A/B-C/D becomes AB-CD where letters are single."""
    text = re.sub(r"\s+", "", name).upper()
    if not re.fullmatch(f"{_CORNER}-{_CORNER}", text):
        raise PlanError(
            f"{entry} names {name!r}; a distance runs from the corner of two walls to another: AB-CD, or "
            "A/B-C/D with double letters"
        )
    return re.sub(r"\b([A-Z])/([A-Z])\b", r"\1\2", text)


def _lengths(
    entry: str, table: Any, deviation: float, read_name: Callable[[str, str], str]
) -> tuple[SiteLength, ...]:
    if not isinstance(table, Mapping):
        raise PlanError(f'{entry} is {table!r}; write a table such as {{A = "9562 mm"}}')
    found: list[SiteLength] = []
    for key, value in table.items():
        name = read_name(entry, key)
        _refuse_double(entry, name, [one.name for one in found])
        own = value if isinstance(value, Mapping) else {"length": value}
        if unknown := sorted(set(own) - {"length", "deviation"}):
            raise PlanError(f"{entry} {name} has no entry {unknown[0]!r}; allowed: length, deviation")
        found.append(
            SiteLength(
                name=name,
                length=_length(f"{entry} {name}", own.get("length")),
                deviation=_length(f"{entry} {name} deviation", own.get("deviation", deviation)),
            )
        )
    return tuple(found)


def _refuse_double(entry: str, name: str, seen: Collection[str]) -> None:
    turned = "-".join(reversed(name.split("-")))
    if name in seen or turned in seen:
        raise PlanError(f"{entry} gives {name} twice; give the mean, or the better one")
