"""Deflections as span over deflection."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ifcgrid.checks.case import Case
from ifcgrid.checks.rule import Measures, at_least
from ifcgrid.checks.rule_data import RuleRow
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Role

__all__ = ["main_ratios", "ratio_of", "tee_ratios"]

STIFFEST = 9999.0
"""A span over deflection beyond this is told as this."""


def ratio_of(span: NDArray[np.float64], deflection: NDArray[np.float64]) -> NDArray[np.float64]:
    """Span over deflection, at most `STIFFEST`."""
    bent = np.maximum(np.abs(deflection), span / STIFFEST)
    ratio: NDArray[np.float64] = span / np.maximum(bent, tolerance.PRECISION)
    return np.minimum(ratio, STIFFEST)


def main_ratios(case: Case, row: RuleRow, deflection: NDArray[np.float64]) -> Measures | str:
    """The spans of mains between hangers, with a deflection each, against the row's ratio."""
    loads, members = case.loads, case.ceiling.members
    if len(deflection) == 0:
        return "no main here hangs on two hangers"
    left = case.ceiling.hangers.point[loads.span_left]
    middle = left + np.column_stack([loads.span_length / 2, np.zeros(len(left))])
    worst = int(np.argmax(deflection))
    return at_least(
        case,
        row,
        ratio_of(loads.span_length, deflection),
        subjects=[case.member_keys[k] for k in loads.span_member],
        points=middle if len(members) else None,
        noun="main spans",
        detail=f"greatest {deflection[worst]:.2f} mm on {loads.span_length[worst]:.0f} mm; "
        f"{case.strength.basis}",
    )


def tee_ratios(case: Case, row: RuleRow) -> Measures | str:
    """Cross tees as simple spans against the row's ratio."""
    members = case.ceiling.members
    tees = np.flatnonzero(members.role == Role.CROSS_TEE)
    if len(tees) == 0:
        return "there are no cross tees here"
    deflection = case.loads.tee_deflection[tees]
    return at_least(
        case,
        row,
        ratio_of(members.length[tees], deflection),
        subjects=[case.member_keys[k] for k in tees],
        points=((members.start + members.end) / 2)[tees],
        noun="cross tees",
        detail=f"greatest {deflection.max():.2f} mm; {case.strength.basis}",
    )
