"""What counts as the better layout: named terms, compared one after the other."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import SystemDataError

__all__ = ["POLICIES", "Policy", "Term", "find_policy"]


class Term(StrEnum):
    """One thing that makes a layout better. All terms are smaller-is-better numbers.

    BORDER_MINIMUM   how far the narrowest edge piece falls short of the minimum, mm, per axis, summed
    FIXTURES         fixed lay-in devices off module, counted per axis
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """The order of terms and the least border.

    The least border is `minimum_fraction` of the module in that direction, or
    `minimum_length` in mm when that is given (0 and None: no minimum). `equal_within` is
    the difference in mm below which two borders count as equal. `source` says who asks
    for it, `basis` how sure that is.
    """

    id: str
    title: str
    source: str
    basis: str
    minimum_fraction: float = 0.5
    minimum_length: float | None = None
    equal_within: float = tolerance.LENGTH
    terms: tuple[Term, ...] = DEFAULT_TERMS

    def minimum(self, module: float) -> float:
        """The least border in mm in a direction whose module is given in mm."""
        return self.minimum_length if self.minimum_length is not None else self.minimum_fraction * module


POLICIES: tuple[Policy, ...] = (
    Policy(
        id="half-module",
        title="no border narrower than half a module, then equal and as large as possible",
        source="half a module: common practice, no source; "
        "equal and as large as possible: NAVEDTRA 14044 p. 5-16",
        basis="common practice",
    ),
    Policy(
        id="equal-and-largest",
        title="opposite borders equal and as large as possible, no fixed minimum",
        source="US Navy NAVEDTRA 14044, Builder, p. 5-16",
        basis="published",
        minimum_fraction=0.0,
    ),
    Policy(
        id="six-inch",
        title="no border narrower than 6 in",
        source="City of Nashua specification 09510, 3.1.F",
        basis="published",
        minimum_length=152.4,
    ),
)


def find_policy(policy_id: str) -> Policy:
    """The policy of that id.

    Raises:
        SystemDataError: there is no such policy; the message lists those there are.
    """
    for policy in POLICIES:
        if policy.id == policy_id:
            return policy
    raise SystemDataError(f"no policy {policy_id!r}; choose one of {', '.join(p.id for p in POLICIES)}")
