"""What layouts of rectilinear rooms score, and the part of it that belongs to one direction."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.batch.axes import Axes
from ifcgrid.design.layout.batch.cases import Cases
from ifcgrid.design.layout.batch.cells import count_panels
from ifcgrid.design.layout.batch.mains import Mains, place_mains
from ifcgrid.domain.policy import Term

__all__ = [
    "JOINT",
    "SEPARABLE",
    "Pairs",
    "find_mains",
    "measure_joint_term",
    "measure_pairs",
    "measure_part",
    "sum_of_parts",
]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
_Bools = NDArray[np.bool_]

SEPARABLE = frozenset(
    {
        Term.BORDER_MINIMUM,
        Term.FIXTURES,
        Term.EQUAL_BORDERS,
        Term.COLUMN_STRIPS,
        Term.SMALLEST_BORDER,
    }
)
"""Terms that are the sum of one part for each direction."""

JOINT = (Term.CUT_PANELS, Term.WASTE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pairs:
    """Layouts: `case`, `way`, `rank` (n,) and `offset` (n, 2)."""

    case: _Ints
    way: _Ints
    offset: _Floats
    rank: _Ints

    def __len__(self) -> int:
        return len(self.case)

    def pick(self, chosen: _Bools | _Ints) -> Pairs:
        """The chosen layouts."""
        return Pairs(
            case=self.case[chosen], way=self.way[chosen], offset=self.offset[chosen], rank=self.rank[chosen]
        )


def measure_part(axes: tuple[Axes, Axes], number: int, term: Term, value: _Floats, case: _Ints) -> _Floats:
    """One direction's part of a term at offsets (k,), with that of the mains where a case has one way."""
    cases = axes[0].cases
    part = np.zeros(len(value))
    if term in SEPARABLE:
        part = axes[number].measure(term, value, case)
    is_mains = term is Term.MAINS or (term is Term.FIXTURES and bool(cases.holds))
    if not is_mains:
        return part
    # The lines parallel to the mains lie across them.
    way = np.array([ways[0] if len(ways) == 1 else -1 for ways in cases.ways])[case]
    own = way == 1 - number
    mains = place_mains(axes, case[own], way[own], value[own])
    part[own] += mains.length if term is Term.MAINS else mains.crossed
    return part


def measure_joint_term(term: Term, panels: tuple[_Ints, _Ints], cases: Cases, case: _Ints) -> _Floats:
    """Scores (n,) of layouts with so many cut panels, and panels in all, in a term that counts them."""
    if term is Term.CUT_PANELS:
        return panels[0].astype(float)
    waste: _Floats = (panels[1] * cases.module[case].prod(axis=1) - cases.area[case]) / 1e6
    return waste


def find_mains(axes: tuple[Axes, Axes], pairs: Pairs) -> Mains:
    """The mains of layouts (n,)."""
    across = np.where(pairs.way == 0, pairs.offset[:, 1], pairs.offset[:, 0])
    return place_mains(axes, pairs.case, pairs.way, across)


def sum_of_parts(cases: Cases, axes: tuple[Axes, Axes], term: Term, pairs: Pairs) -> _Floats:
    """Scores (n,) of layouts in a term that is no matter of counting panels."""
    if term is Term.MAINS:
        return find_mains(axes, pairs).length
    score = np.zeros(len(pairs))
    for number in (0, 1):
        score += axes[number].measure(term, pairs.offset[:, number], pairs.case)
    if term is Term.FIXTURES and cases.holds:
        score += find_mains(axes, pairs).crossed
    return score


def measure_pairs(cases: Cases, axes: tuple[Axes, Axes], pairs: Pairs) -> tuple[_Floats, _Ints]:
    """Scores (n, terms) of layouts in all terms of the policy, and the phases (n,) of their mains."""
    panels = count_panels(cases, pairs.case, pairs.offset)
    mains = find_mains(axes, pairs)
    columns = []
    for term in cases.policy.terms:
        if term in JOINT:
            columns.append(measure_joint_term(term, panels, cases, pairs.case))
        elif term is Term.OBLIQUE_PIECES:
            columns.append(np.zeros(len(pairs)))
        elif term is Term.MAINS:
            columns.append(mains.length)
        else:
            columns.append(sum_of_parts(cases, axes, term, pairs))
    return np.stack(columns, axis=1), mains.phase
