"""ASTM C636/C636M-19 with the handbooks and agencies that state the numbers of installation."""

from __future__ import annotations

import numpy as np

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures import fixture, hanger
from ifcgrid.checks.measures.bending import main_ratios
from ifcgrid.checks.rule import Measures, at_least, at_most, rule, statement
from ifcgrid.checks.rule_data import RuleRow
from ifcgrid.checks.units import find_unit
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.loads import wire_area

__all__: list[str] = []


@rule("ASTM C636", "19")
def hanger_spacing(case: Case, row: RuleRow) -> Measures | str:
    """Hangers along a main are no farther apart than the limit."""
    gaps = hanger.find_gaps(case)
    subjects = [case.member_keys[k] for k in gaps.main]
    return at_most(case, row, gaps.value, subjects=subjects, points=gaps.point, noun="hanger gaps")


@rule("ASTM C636", "19")
def hanger_wire(case: Case, row: RuleRow) -> Measures | str:
    """The hanger wire is no thinner than the gauge asks."""
    return at_least(case, row, case.ceiling.system.hanger_diameter)


@rule("ASTM C636", "19")
def hanger_plumb(case: Case, row: RuleRow) -> Measures | str:
    """Hangers lean by no more than the limit, or a hanger beside leans the other way."""
    return at_most(
        case,
        row,
        hanger.find_slopes(case),
        subjects=case.hanger_keys,
        points=case.ceiling.hangers.point,
        noun="hangers",
        excused=hanger.is_countered(case),
        missing="the model has no structure above these hangers",
    )


@rule("ASTM C636", "19")
def hanger_load(case: Case, row: RuleRow) -> Measures | str:
    """No hanger pulls harder than the least capacity of its connection."""
    return at_most(
        case,
        row,
        case.loads.tension_n,
        subjects=case.hanger_keys,
        points=case.ceiling.hangers.point,
        noun="hangers",
        missing="the slope of these hangers is not known",
        detail=case.weight_note,
    )


@rule("ASTM C636", "19")
def wire_strength(case: Case, row: RuleRow) -> Measures | str:
    """No hanger pulls harder than its wire bears with the safety factor."""
    area = wire_area(case.ceiling.system.hanger_diameter)
    capacity = row.further("tensile") * area / row.further("factor") / find_unit(row.unit)[1]
    tension = case.loads.tension_n
    return at_most(
        case,
        row,
        tension,
        subjects=case.hanger_keys,
        points=case.ceiling.hangers.point,
        noun="hangers",
        limit=np.full(len(tension), capacity),
        missing="the slope of these hangers is not known",
        detail=case.weight_note,
    )


@rule("ASTM C636", "19")
def wire_stress(case: Case, row: RuleRow) -> Measures | str:
    """The wire's stress at three times the load stays below its yield stress."""
    if len(case.ceiling.hangers) == 0:
        return "there are no hangers here"
    stress = row.further("load") * case.loads.tension_n / wire_area(case.ceiling.system.hanger_diameter)
    worst = float(np.nanmax(stress)) if not np.isnan(stress).all() else np.nan
    return statement(
        case, row, Verdict.UNKNOWN, "the yield stress of the wire that is bought is not known", value=worst
    )


@rule("ASTM C636", "19")
def splice_hanger(case: Case, row: RuleRow) -> Measures | str:
    """Every splice of a main has a hanger near it."""
    splices = hanger.find_splices(case)
    if splices is None:
        return "where mains are spliced is not in the model"
    if len(splices) == 0:
        return "no main here is spliced"
    subjects = [case.member_keys[k] for k in splices.main]
    return at_most(case, row, splices.value, subjects=subjects, points=splices.point, noun="splices")


@rule("ASTM C636", "19")
def fixture_hanger(case: Case, row: RuleRow) -> Measures | str:
    """Every corner of a lay-in light has a hanger or a wire near it."""
    keys, apart, points = fixture.corner_distances(case)
    if not keys:
        return "there are no lay-in lights here"
    return at_most(case, row, apart, subjects=keys, points=points, noun="corners of lights")


@rule("ASTM C636", "19")
def deflection_in_place(case: Case, row: RuleRow) -> Measures | str:
    """Mains deflect in place, running through over their hangers, by no more than span / 360."""
    return main_ratios(case, row, case.loads.span_built)


@rule("ASTM C636", "19")
def main_level(case: Case, row: RuleRow) -> Measures | str:
    """Mains are level within the length that the limit names."""
    steps = hanger.find_level_steps(case, row.further("within"))
    if len(steps) == 0:
        return "there are no hangers here"
    subjects = [case.member_keys[k] for k in steps.main]
    return at_most(
        case,
        row,
        steps.value,
        subjects=subjects,
        points=steps.point,
        noun="hangers",
        detail="as modelled; the ceiling that hangs is to be levelled on site",
    )


@rule("ASTM C636", "19")
def wire_wraps(case: Case, row: RuleRow) -> Measures | str:
    """Hanger wires are wrapped round themselves by at least three turns at each end."""
    _ = case
    return f"wraps are not in the model: {row.number:g} {row.unit} at each end"


@rule("ASTM C636", "19")
def wall_angle_fixing(case: Case, row: RuleRow) -> Measures | str:
    """Wall angles are fixed no farther apart than the limit."""
    _ = case
    return f"fixings of the wall angle are not in the model: at most {row.number:g} {row.unit} on site"
