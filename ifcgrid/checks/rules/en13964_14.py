"""EN 13964:2014 from memory, with metric practice for spacings."""

from __future__ import annotations

import numpy as np

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures import hanger
from ifcgrid.checks.measures.seismic import area_weight
from ifcgrid.checks.rule import Measures, at_most, rule
from ifcgrid.checks.rule_data import RuleRow
from ifcgrid.domain.ceiling import Role

__all__: list[str] = []

DOCUMENT, EDITION = "EN 13964", "14"


@rule(DOCUMENT, EDITION)
def deflection_class(case: Case, row: RuleRow) -> Measures | str:
    """Mains and cross tees deflect by no more than their class allows."""
    loads, members = case.loads, case.ceiling.members
    tees = np.flatnonzero(members.role == Role.CROSS_TEE)
    span = np.concatenate([loads.span_length, members.length[tees]])
    if len(span) == 0:
        return "there are no spans here"
    limit = span / row.further("span")
    if row.value is not None:
        limit = np.minimum(limit, row.value)
    member = np.concatenate([loads.span_member, tees])
    return at_most(
        case,
        row,
        np.concatenate([loads.span_simple, loads.tee_deflection[tees]]),
        subjects=[case.member_keys[k] for k in member],
        points=((members.start + members.end) / 2)[member],
        noun="spans",
        limit=limit,
        detail=case.strength.basis,
    )


@rule(DOCUMENT, EDITION)
def hanger_safety(case: Case, row: RuleRow) -> Measures | str:
    """Hangers carry no more than their failure load over the factor."""
    failure = case.strength.hanger_failure_n
    allowed = np.nan if failure is None else failure / row.further("factor")
    tension = case.loads.tension_n
    return at_most(
        case,
        row,
        tension,
        subjects=case.hanger_keys,
        points=case.ceiling.hangers.point,
        noun="hangers",
        limit=np.full(len(tension), allowed),
        missing="the system does not state the failure load of its hangers; "
        f"needed: {np.nanmax(tension, initial=0.0) * row.further('factor'):.0f} N",
    )


@rule(DOCUMENT, EDITION, "annex A")
def level_per_metre(case: Case, row: RuleRow) -> Measures | str:
    """Mains are level within a metre."""
    return _level(case, row)


@rule(DOCUMENT, EDITION, "annex A")
def level_in_five_metres(case: Case, row: RuleRow) -> Measures | str:
    """Mains are level within five metres."""
    return _level(case, row)


def _level(case: Case, row: RuleRow) -> Measures | str:
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


rule(DOCUMENT, EDITION, name="area-weight")(area_weight)


@rule(DOCUMENT, EDITION)
def hanger_spacing(case: Case, row: RuleRow) -> Measures | str:
    """Hangers along a main are no farther apart than the limit."""
    gaps = hanger.find_gaps(case)
    subjects = [case.member_keys[k] for k in gaps.main]
    return at_most(case, row, gaps.value, subjects=subjects, points=gaps.point, noun="hanger gaps")


@rule(DOCUMENT, EDITION)
def first_hanger(case: Case, row: RuleRow) -> Measures | str:
    """The first hanger of a main is no farther from the wall than the limit."""
    ends = hanger.find_ends(case)
    subjects = [case.member_keys[k] for k in ends.main]
    return at_most(case, row, ends.value, subjects=subjects, points=ends.point, noun="main ends")


@rule(DOCUMENT, EDITION)
def main_spacing(case: Case, row: RuleRow) -> Measures | str:
    """Mains are no farther apart than the limit."""
    members = case.ceiling.members
    at = np.unique(np.round(members.start[case.mains, 1], 1))
    if len(at) < 2:
        return "there are no two mains here"
    return at_most(case, row, np.diff(at), noun="gaps between mains")


@rule(DOCUMENT, EDITION, "7.1.9 of the manual")
def interior_wind(case: Case, row: RuleRow) -> Measures | str:
    """Wind inside the building is no stronger than the limit."""
    _ = case
    return f"wind is not in the model: more than {row.number:g} {row.unit} is stated by the designer"
