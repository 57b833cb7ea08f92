"""Forces on brace sets by an edition's equation."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures import brace
from ifcgrid.checks.rule import Measures, at_most
from ifcgrid.checks.rule_data import RuleRow
from ifcgrid.checks.units import find_unit
from ifcgrid.domain.seismic import Force

__all__ = ["connection", "post", "wire"]

Equation = Callable[[float, float, float], Force]


def _forces(
    case: Case, row: RuleRow, equation: Equation
) -> tuple[NDArray[np.float64], NDArray[np.float64], str] | str:
    """Allowable-stress force and wire tension of each set in N, and how they came about; else why not."""
    seismic, braces = case.seismic, case.ceiling.braces
    if braces is None or len(braces) == 0:
        return "there are no brace sets here"
    if seismic.sds is None or seismic.z_over_h is None:
        return "needs sds and z_over_h of the project"
    found = equation(seismic.sds, seismic.z_over_h, seismic.importance)
    share = found.share * row.further("allowable")
    force, tension = brace.force_on_wires(case, braces, share, row.further("least"))
    text = (
        f"Fp = {found.share:.4g} Wp (calculated {found.calculated:.4g}, at least {found.least:.4g}, "
        f"at most {found.greatest:.4g}); "
        f"greatest {row.further('allowable'):g} Fp {force.max() / find_unit(row.unit)[1]:.1f} {row.unit}"
    )
    return force, tension, text


def wire(case: Case, row: RuleRow, equation: Equation) -> Measures | str:
    """The tension of the wire of each set that takes the force alone."""
    found = _forces(case, row, equation)
    if isinstance(found, str) or case.ceiling.braces is None:
        return str(found)
    _, tension, text = found
    return at_most(
        case,
        row,
        tension,
        subjects=brace.brace_keys(case, case.ceiling.braces),
        points=case.ceiling.braces.point,
        noun="brace sets",
        detail=text,
        missing="the upper ends of their wires are not known",
    )


def connection(case: Case, row: RuleRow, equation: Equation) -> Measures | str:
    """What each connection has to bear; the model does not say what it bears."""
    found = _forces(case, row, equation)
    if isinstance(found, str) or case.ceiling.braces is None:
        return str(found)
    needed = np.maximum(row.further("least_capacity"), row.further("times") * found[1])
    return _demand(case, row, needed, "connections are not in the model; the value is what they have to bear")


def post(case: Case, row: RuleRow, equation: Equation) -> Measures | str:
    """What each post has to bear: tension times the sine of the wire's angle."""
    found = _forces(case, row, equation)
    if isinstance(found, str) or case.ceiling.braces is None:
        return str(found)
    steepest = np.nanmax(brace.wire_angles(case, case.ceiling.braces), axis=1)
    needed = found[1] * np.sin(np.radians(steepest))
    return _demand(
        case, row, needed, "posts have no section in the model; the value is what they have to bear"
    )


def _demand(case: Case, row: RuleRow, needed: NDArray[np.float64], missing: str) -> Measures:
    braces = case.ceiling.braces
    return at_most(
        case,
        row,
        needed,
        subjects=brace.brace_keys(case, braces) if braces is not None else None,
        points=braces.point if braces is not None else None,
        noun="brace sets",
        limit=np.full(len(needed), np.nan),
        missing=missing,
    )
