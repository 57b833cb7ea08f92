"""The ceiling against its own layout and its own system, as it stands in the model now.

Tolerances are choices of this project. A member is measured against the line that it
belongs to: one that was moved fails, its neighbours do not.
"""

from __future__ import annotations

import numpy as np

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures import hanger, member
from ifcgrid.checks.rule import Measures, at_least, at_most, rule
from ifcgrid.checks.rule_data import RuleRow

__all__: list[str] = []


@rule("Layout", "1")
def member_off_line(case: Case, row: RuleRow) -> Measures | str:
    """Mains and tees lie on their grid lines."""
    chosen, off = member.find_offsets(case)
    ends = case.ceiling.members
    return at_most(
        case,
        row,
        off,
        subjects=[case.member_keys[k] for k in chosen],
        points=(ends.start[chosen] + ends.end[chosen]) / 2,
        noun="members",
    )


@rule("Layout", "1")
def member_end_unsupported(case: Case, row: RuleRow) -> Measures | str:
    """Both ends of every main and tee lie on a main, a tee or the wall angle."""
    ends = member.find_ends(case)
    subjects = [case.member_keys[k] for k in ends.member]
    return at_most(case, row, ends.gap, subjects=subjects, points=ends.point, noun="member ends")


@rule("Layout", "1")
def panel_edge_without_member(case: Case, row: RuleRow) -> Measures | str:
    """Every panel edge on a grid line has a member under it."""
    edges = member.find_bare_edges(case)
    keys = case.ceiling.panels.keys()
    return at_least(
        case,
        row,
        np.where(edges.is_bare, 0.0, 1.0),
        subjects=lambda k: case.part(keys[edges.panel[k]]),
        points=edges.point,
        noun="panel edges",
    )


@rule("Layout", "1")
def hanger_off_line(case: Case, row: RuleRow) -> Measures | str:
    """Hangers hold the line of their main."""
    points = case.ceiling.hangers.point
    off = member.find_hanger_offsets(case)
    return at_most(case, row, off, subjects=case.hanger_keys, points=points, noun="hangers")


@rule("Layout", "1")
def main_unhung(case: Case, row: RuleRow) -> Measures | str:
    """Every main has a hanger."""
    held = np.bincount(case.hanger_main[case.hanger_main >= 0], minlength=len(case.ceiling.members))
    ends = case.ceiling.members
    return at_least(
        case,
        row,
        held[case.mains],
        subjects=[case.member_keys[k] for k in case.mains],
        points=((ends.start + ends.end) / 2)[case.mains],
        noun="mains",
    )


@rule("Layout", "1")
def hanger_spacing(case: Case, row: RuleRow) -> Measures | str:
    """Hangers along a main are no farther apart than the system allows."""
    gaps = hanger.find_gaps(case)
    most = np.full(len(gaps), case.ceiling.system.hanger_spacing)
    subjects = [case.member_keys[k] for k in gaps.main]
    return at_most(
        case, row, gaps.value, subjects=subjects, points=gaps.point, noun="hanger gaps", limit=most
    )


@rule("Layout", "1")
def hanger_end(case: Case, row: RuleRow) -> Measures | str:
    """The first hanger is no farther from a main's end than the system allows."""
    ends = hanger.find_ends(case)
    most = np.full(len(ends), case.ceiling.system.hanger_end)
    subjects = [case.member_keys[k] for k in ends.main]
    return at_most(case, row, ends.value, subjects=subjects, points=ends.point, noun="main ends", limit=most)
