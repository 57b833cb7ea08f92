"""ASTM C635/C635M-17: duty class and deflection of mains and tees."""

from __future__ import annotations

import numpy as np

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures.bending import main_ratios, tee_ratios
from ifcgrid.checks.rule import Measures, at_most, rule
from ifcgrid.checks.rule_data import RuleRow
from ifcgrid.checks.units import find_unit
from ifcgrid.domain.loads import class_needed, scaled_line_load

__all__: list[str] = []


@rule("ASTM C635", "17", "4.1.1-4.1.2")
def main_deflection(case: Case, row: RuleRow) -> Measures | str:
    """Mains deflect by no more than span / 360, each span as a simple one."""
    return main_ratios(case, row, case.loads.span_simple)


@rule("ASTM C635", "17", "4.1.2, table 1")
def duty_class(case: Case, row: RuleRow) -> Measures | str:
    """The duty class of the mains carries their line load, turned to the test span."""
    loads = case.loads
    if len(loads.span_load) == 0:
        return "no main here hangs on two hangers"
    load = scaled_line_load(loads.span_load, loads.span_length, row.further("test_span"))
    least = row.values.get(case.strength.duty, np.nan)
    needed = class_needed(float(load.max()) / find_unit(row.unit)[1], row.values)
    members = case.ceiling.members
    return at_most(
        case,
        row,
        load,
        subjects=[case.member_keys[k] for k in loads.span_member],
        points=((members.start + members.end) / 2)[loads.span_member],
        noun="main spans",
        limit=np.full(len(load), least),
        detail=f"class needed: {needed}",
        missing=f"the system does not state its duty class; class needed: {needed}",
    )


@rule("ASTM C635", "17")
def tee_deflection(case: Case, row: RuleRow) -> Measures | str:
    """Cross tees deflect by no more than span / 360."""
    return tee_ratios(case, row)
