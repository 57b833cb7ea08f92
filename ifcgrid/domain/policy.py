"""What counts as the better layout: named terms, compared one after the other."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from typing import Any, TypeVar

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import PlanError, SystemDataError, UnitError
from ifcgrid.domain.seat import Seat
from ifcgrid.domain.setting_out import Control, read_control
from ifcgrid.domain.units import parse_length

__all__ = ["BASES", "DEFAULT_POLICY", "DEFAULT_TERMS", "Policy", "SmallRoom", "Term", "policy_from_table"]

DEFAULT_POLICY = "half-module"
"""The id of the policy that applies where nobody names one."""


class Term(StrEnum):
    """One thing that makes a layout better. All terms are smaller-is-better numbers.

    BORDER_MINIMUM   how far the narrowest edge piece falls short of the minimum, mm, per axis, summed
    FIXTURES         fixed devices off their seat, counted per axis
    EQUAL_BORDERS    difference of opposite borders, mm, averaged over the facing wall length
    COLUMN_STRIPS    shortfall of strips beside columns, holes and short returns, mm, per axis, summed
    SMALLEST_BORDER  minus the narrowest border, mm, per axis, summed
    OBLIQUE_PIECES   shortfall of pieces at oblique and curved walls, mm, summed over the pieces
    CUT_PANELS       number of cut panels
    WASTE            panel area bought and not hung, m²
    MAINS            length of main runners, mm (fewer, longer mains)
    """

    BORDER_MINIMUM = "border minimum"
    FIXTURES = "fixtures on module"
    EQUAL_BORDERS = "equal borders"
    COLUMN_STRIPS = "column strips"
    SMALLEST_BORDER = "smallest border"
    OBLIQUE_PIECES = "oblique pieces"
    CUT_PANELS = "cut panels"
    WASTE = "waste"
    MAINS = "mains"


DEFAULT_TERMS = (
    Term.BORDER_MINIMUM,
    Term.FIXTURES,
    Term.EQUAL_BORDERS,
    Term.COLUMN_STRIPS,
    Term.SMALLEST_BORDER,
    Term.OBLIQUE_PIECES,
    Term.CUT_PANELS,
    Term.WASTE,
    Term.MAINS,
)


class SmallRoom(StrEnum):
    """What becomes of a room that is smaller than the policy's smallest."""

    EXEMPT = "exempt"
    SKIP = "skip"


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """The order of terms and the least border.

    The least border is `minimum_fraction` of the module in that direction, or
    `minimum_length` in mm when that is given (0 and None: no minimum). `equal_within` is
    the difference in mm below which two borders count as equal. A room whose narrow side is
    less than `smallest_room` mm is exempt from the minimum or gets no ceiling, as
    `small_room` says. `seat` is the agreed point of a cell for devices smaller than one,
    None when nothing was agreed; `whole_at` the preferred wall, at which whole panels
    begin. `source` says who asks for all this, `basis` how sure
    that is: published, common practice, or from memory.
    """

    id: str
    title: str
    source: str
    basis: str
    minimum_fraction: float = 0.5
    minimum_length: float | None = None
    equal_within: float = tolerance.LENGTH
    terms: tuple[Term, ...] = DEFAULT_TERMS
    smallest_room: float = 0.0
    small_room: SmallRoom = SmallRoom.EXEMPT
    seat: Seat | None = None
    whole_at: Control | None = None

    def minimum(self, module: float) -> float:
        """The least border in mm in a direction whose module is given in mm."""
        return self.minimum_length if self.minimum_length is not None else self.minimum_fraction * module

    @property
    def minimum_words(self) -> str:
        """The least border as people say it."""
        if self.minimum_length is not None:
            return f"{self.minimum_length:g} mm"
        share = Fraction(self.minimum_fraction).limit_denominator(100)
        return f"{share} module" if share else "none"

    def without_minimum(self) -> Policy:
        """The same policy for a room that is exempt from the minimum."""
        return replace(self, minimum_fraction=0.0, minimum_length=None)


_ENTRIES = ("id", "title", "source", "basis", "minimum", "equal_within", "terms", "smallest_room",
            "small_room", "seat", "whole_at")  # fmt: skip

BASES = ("published", "common practice", "from memory", "project")
"""How sure the source of a policy is; `project` for what a plan file agrees on."""


def policy_from_table(table: Mapping[str, Any]) -> Policy:
    """A policy from a TOML table.

    `minimum` is a share of the module ("1/2 module"), a length ("150 mm", "6 in") or
    "none"; terms that `terms` does not name follow in the default order.

    Raises:
        SystemDataError: an entry is unknown, missing or wrong; its `entry` names it.
    """
    owner = str(table.get("id") or "without an id")
    for name in table:
        if name not in _ENTRIES:
            raise _wrong(owner, name, f"there is no such entry; allowed: {', '.join(_ENTRIES)}")
    for name in ("id", "title", "source", "basis"):
        if not isinstance(table.get(name), str) or not table[name].strip():
            raise _wrong(owner, name, "it is missing; give a text")
    if table["basis"] not in BASES:
        raise _wrong(owner, "basis", f"{table['basis']!r} is none of {', '.join(BASES)}")
    fraction, length = _read_minimum(owner, table.get("minimum", "1/2 module"))
    return Policy(
        id=table["id"],
        title=table["title"],
        source=table["source"],
        basis=table["basis"],
        minimum_fraction=fraction,
        minimum_length=length,
        equal_within=_read_length(owner, table, "equal_within", tolerance.LENGTH),
        terms=_read_terms(owner, table.get("terms", [])),
        smallest_room=_read_length(owner, table, "smallest_room", 0.0),
        small_room=_read_choice(owner, table, "small_room", SmallRoom) or SmallRoom.EXEMPT,
        seat=_read_choice(owner, table, "seat", Seat),
        whole_at=_read_wall(owner, table),
    )


def _wrong(owner: str, entry: str, what: str) -> SystemDataError:
    return SystemDataError(f"policy {owner}: {entry}: {what}", entry)


def _read_minimum(owner: str, value: Any) -> tuple[float, float | None]:
    """Share of the module and length of the least border."""
    text = value.strip() if isinstance(value, str) else ""
    if text == "none":
        return 0.0, None
    try:
        if text.endswith("module"):
            share = Fraction(text.removesuffix("module").strip())
            if not 0 <= share <= 1:
                raise _wrong(owner, "minimum", f"{value!r} is not between 0 and 1 module")
            return float(share), None
        length = parse_length(value)
    except (UnitError, ValueError, ZeroDivisionError) as error:
        if isinstance(error, SystemDataError):
            raise
        help_text = 'write "1/2 module", a length such as "150 mm", or "none"'
        raise _wrong(owner, "minimum", f"{value!r} cannot be read; {help_text}") from error
    if length < 0:
        raise _wrong(owner, "minimum", f"{value!r} is less than zero")
    return 0.0, length


def _read_length(owner: str, table: Mapping[str, Any], entry: str, default: float) -> float:
    if entry not in table:
        return default
    try:
        length = parse_length(table[entry])
    except UnitError as error:
        raise _wrong(owner, entry, str(error)) from error
    if length < 0:
        raise _wrong(owner, entry, f"{table[entry]!r} is less than zero")
    return length


def _read_terms(owner: str, names: Any) -> tuple[Term, ...]:
    known = [term.value for term in Term]
    if not isinstance(names, list):
        raise _wrong(owner, "terms", f"{names!r} is no list; name terms in their order: {', '.join(known)}")
    for name in names:
        if name not in known:
            raise _wrong(owner, "terms", f"no term {name!r}; there are {', '.join(known)}")
        if names.count(name) > 1:
            raise _wrong(owner, "terms", f"{name!r} stands there twice")
    given = tuple(Term(name) for name in names)
    return given + tuple(term for term in DEFAULT_TERMS if term not in given)


def _read_wall(owner: str, table: Mapping[str, Any]) -> Control | None:
    if "whole_at" not in table:
        return None
    try:
        return read_control(table["whole_at"])
    except PlanError as error:
        raise _wrong(owner, "whole_at", str(error).replace("control is", "it is")) from error


_Choice = TypeVar("_Choice", bound=StrEnum)


def _read_choice(owner: str, table: Mapping[str, Any], entry: str, choices: type[_Choice]) -> _Choice | None:
    value = table.get(entry)
    allowed = [choice.value for choice in choices]
    if entry == "seat":
        allowed.remove(Seat.CELL.value)  # what is smaller than a cell wants a point of it
    if value is None:
        return None
    if value not in allowed:
        raise _wrong(owner, entry, f"{value!r} is none of {', '.join(allowed)}")
    return choices(value)
