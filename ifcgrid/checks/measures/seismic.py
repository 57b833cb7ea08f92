"""Rules that several seismic categories share; each category registers them with its own numbers."""

from __future__ import annotations

import numpy as np

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures import extent
from ifcgrid.checks.rule import Measures, at_least, at_most, statement
from ifcgrid.checks.rule_data import RuleRow
from ifcgrid.checks.units import find_slack, find_unit
from ifcgrid.domain.finding import Verdict

__all__ = ["area_weight", "closure_angle", "is_exempt", "runner_class", "size_exemption"]


def is_small(case: Case, row: RuleRow) -> bool:
    """Whether the ceiling's area is at most that of the exemption."""
    area = case.outline.area / find_unit(row.unit)[1]
    return bool(area <= row.number + find_slack(row.unit, row.number))


def is_exempt(case: Case, row: RuleRow) -> bool:
    """Whether the exemption by size holds: small, and the walls said to be tied to the structure."""
    return is_small(case, row) and case.seismic.walls_to_structure is True


def size_exemption(case: Case, row: RuleRow) -> Measures | str:
    """Small ceilings between walls tied to the structure above are exempt."""
    if not is_small(case, row):
        return "the ceiling is larger than the exemption by size"
    if case.seismic.walls_to_structure is False:
        return "the walls are said not to be connected to the structure above"
    told = case.seismic.walls_to_structure is True
    text = (
        "exempt, as the walls are said to be connected so"
        if told
        else "how the walls are connected is not said"
    )
    verdict = Verdict.PASS if told else Verdict.UNKNOWN
    return statement(case, row, verdict, text, value=case.outline.area)


def area_weight(case: Case, row: RuleRow) -> Measures | str:
    """The ceiling weighs no more than the limit, with all that it carries."""
    return at_most(case, row, extent.area_weight(case), detail=case.weight_note)


def runner_class(case: Case, row: RuleRow) -> Measures | str:
    """The mains are of a duty class that is allowed."""
    duty = case.strength.duty
    allowed = " or ".join(name for name, is_allowed in row.values.items() if is_allowed)
    if not duty:
        return statement(
            case, row, Verdict.UNKNOWN, f"the system does not state its duty class; allowed: {allowed}"
        )
    verdict = Verdict.PASS if row.values[duty] else Verdict.FAIL
    return statement(
        case, row, verdict, f"{duty} duty; allowed: {allowed}", value=row.values[duty], limit=1.0
    )


def closure_angle(case: Case, row: RuleRow) -> Measures | str:
    """The wall angle's leg under the grid is no narrower than the limit."""
    return at_least(case, row, np.array([case.ceiling.system.angle.face]))
