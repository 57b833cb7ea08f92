"""ASTM E580 section 5 with ASCE 7: ceilings in seismic design categories D to F."""

from __future__ import annotations

import numpy as np

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures import brace, edges, extent, fixture, hanger
from ifcgrid.checks.measures.seismic import area_weight, closure_angle, runner_class, size_exemption
from ifcgrid.checks.measures.wires import device_wires
from ifcgrid.checks.rule import Measures, at_least, at_most, rule, statement
from ifcgrid.checks.rule_data import RuleRow
from ifcgrid.checks.units import find_slack, find_unit
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import DEVICES, Kind

__all__: list[str] = []

DOCUMENT, EDITION = "ASTM E580 SDC D-F", "14"
ASCE = "ASCE 7 13.5.6.2.2"

rule(DOCUMENT, EDITION, "1.4 (-06)", name="size-exemption")(size_exemption)
rule(DOCUMENT, EDITION, "ASCE 7 13.5.6.1", name="area-weight")(area_weight)
rule(DOCUMENT, EDITION, "5", name="runner-class")(runner_class)
rule(DOCUMENT, EDITION, f"{ASCE} b", name="closure-angle")(closure_angle)


@rule(DOCUMENT, EDITION, f"{ASCE} b")
def free_gap(case: Case, row: RuleRow) -> Measures | str:
    """At walls to which it is not attached the grid ends free by at least the gap."""
    return edges.free_gaps(case, row, is_attachment_allowed=True)


@rule(DOCUMENT, EDITION, f"{ASCE} b")
def attached_walls(case: Case, row: RuleRow) -> Measures | str:
    """The grid is attached to no more than two adjacent walls."""
    return edges.attached_walls(case, row)


@rule(DOCUMENT, EDITION)
def perimeter_hanger(case: Case, row: RuleRow) -> Measures | str:
    """Every main has a hanger near its ends at the walls."""
    ends = hanger.find_ends(case)
    limit = np.full(len(ends), row.number)
    if "tee_share_ratio" in row.also:
        tee = hanger.end_tees(case, ends) / find_unit(row.unit)[1]
        limit = np.fmin(limit, row.further("tee_share") * tee)
    subjects = [case.member_keys[k] for k in ends.main]
    return at_most(case, row, ends.value, subjects=subjects, points=ends.point, noun="main ends", limit=limit)


@rule(DOCUMENT, EDITION, "1.5 (-09a)")
def bracing_threshold(case: Case, row: RuleRow) -> Measures | str:
    """Ceilings larger than the limit have brace sets."""
    area = case.outline.area
    braces = case.ceiling.braces
    is_large = area / find_unit(row.unit)[1] > row.number + find_slack(row.unit, row.number)
    if not is_large:
        return statement(case, row, Verdict.PASS, "no brace sets are asked for at this size", value=area)
    count = 0 if braces is None else len(braces)
    verdict = Verdict.PASS if count else Verdict.FAIL
    return statement(case, row, verdict, f"larger than the limit; {count} brace sets", value=area)


def _no_braces(case: Case) -> str:
    return (
        "" if case.ceiling.braces is not None and len(case.ceiling.braces) else "there are no brace sets here"
    )


@rule(DOCUMENT, EDITION)
def brace_spacing(case: Case, row: RuleRow) -> Measures | str:
    """Brace sets are no farther apart than the limit, each way."""
    if case.ceiling.braces is None or _no_braces(case):
        return _no_braces(case)
    values, points = brace.spacings(case, case.ceiling.braces)
    return at_most(case, row, values, points=points, noun="parts", missing="a part has no brace set")


@rule(DOCUMENT, EDITION)
def first_brace(case: Case, row: RuleRow) -> Measures | str:
    """The first brace set is no farther from each wall than the limit."""
    if case.ceiling.braces is None or _no_braces(case):
        return _no_braces(case)
    values, points = brace.first_from_walls(case, case.ceiling.braces, row.further("spacing"))
    return at_most(case, row, values, points=points, noun="parts", missing="a part has no brace set")


@rule(DOCUMENT, EDITION)
def brace_position(case: Case, row: RuleRow) -> Measures | str:
    """Brace sets stand at a crossing of a main and a cross runner."""
    braces = case.ceiling.braces
    if braces is None or _no_braces(case):
        return _no_braces(case)
    away = brace.node_distances(case, braces)
    return at_most(
        case, row, away, subjects=brace.brace_keys(case, braces), points=braces.point, noun="brace sets"
    )


@rule(DOCUMENT, EDITION)
def brace_wires(case: Case, row: RuleRow) -> Measures | str:
    """Every brace set has four splay wires that reach structure."""
    braces = case.ceiling.braces
    if braces is None or _no_braces(case):
        return _no_braces(case)
    found = (~np.isnan(braces.wire_top).any(axis=2)).sum(axis=1)
    return at_least(
        case, row, found, subjects=brace.brace_keys(case, braces), points=braces.point, noun="brace sets"
    )


@rule(DOCUMENT, EDITION)
def brace_angle(case: Case, row: RuleRow) -> Measures | str:
    """Splay wires rise from the ceiling's plane by no more than the limit."""
    braces = case.ceiling.braces
    if braces is None or _no_braces(case):
        return _no_braces(case)
    angles = brace.wire_angles(case, braces)
    steepest = np.where(np.isnan(angles).all(axis=1), np.nan, np.nan_to_num(angles, nan=0.0).max(axis=1))
    return at_most(
        case,
        row,
        steepest,
        subjects=brace.brace_keys(case, braces),
        points=braces.point,
        noun="brace sets",
        missing="no upper end of their wires was found",
    )


@rule(DOCUMENT, EDITION)
def brace_post(case: Case, row: RuleRow) -> Measures | str:
    """Every brace set has a post up to the structure."""
    braces = case.ceiling.braces
    if braces is None or _no_braces(case):
        return _no_braces(case)
    has_post = np.where(np.isnan(braces.post_top), np.nan, 1.0)
    return at_least(
        case,
        row,
        has_post,
        subjects=brace.brace_keys(case, braces),
        points=braces.point,
        noun="brace sets",
        missing="the model has no structure above their posts",
    )


@rule(DOCUMENT, EDITION, "5.2.8")
def splay_clearance(case: Case, row: RuleRow) -> Measures | str:
    """Splay wires keep clear of ducts, pipes, trays and equipment."""
    braces = case.ceiling.braces
    if braces is None or _no_braces(case):
        return _no_braces(case)
    clear = brace.find_clearances(case, braces)
    near = np.flatnonzero(np.isfinite(clear))
    if len(near) == 0:
        return "no ducts, pipes, trays or equipment are in the models here"
    keys = brace.brace_keys(case, braces)
    return at_least(
        case, row, clear[near], subjects=[keys[k] for k in near], points=braces.point[near], noun="brace sets"
    )


@rule(DOCUMENT, EDITION, f"{ASCE} d")
def separation_joint(case: Case, row: RuleRow) -> Measures | str:
    """No part of the ceiling between joints and walls is larger than the limit."""
    parts = extent.find_parts(case)
    spots = [part.representative_point() for part in parts]
    return at_most(case, row, [p.area for p in parts], points=[(s.x, s.y) for s in spots], noun="parts")


@rule(DOCUMENT, EDITION, ASCE)
def part_ratio(case: Case, row: RuleRow) -> Measures | str:
    """No part is longer than the limit times its width."""
    parts = extent.find_parts(case)
    spots = [part.representative_point() for part in parts]
    ratios = [extent.long_over_short(part) for part in parts]
    return at_most(case, row, ratios, points=[(s.x, s.y) for s in spots], noun="parts")


@rule(DOCUMENT, EDITION)
def stabiliser(case: Case, row: RuleRow) -> Measures | str:
    """Runner ends at free walls are tied against spreading."""
    return edges.stabilisers(case, row)


@rule(DOCUMENT, EDITION)
def light_wires(case: Case, row: RuleRow) -> Measures | str:
    """Lights have the wires to the structure that their weight asks for."""
    return device_wires(case, row, fixture.find_devices(case, {Kind.LIGHT}), is_first_wired=True)


@rule(DOCUMENT, EDITION, "5.4")
def terminal_wires(case: Case, row: RuleRow) -> Measures | str:
    """Air terminals and services have the wires to the structure that their weight asks for."""
    kinds = DEVICES - {Kind.LIGHT, Kind.SPRINKLER}
    return device_wires(case, row, fixture.find_devices(case, kinds), is_first_wired=False)


@rule(DOCUMENT, EDITION, "5.1")
def connection_strength(case: Case, row: RuleRow) -> Measures | str:
    """Runner splices and crossings bear at least the limit."""
    _ = case
    return f"the strength of joints is not in the model: at least {row.number:g} {row.unit}"


@rule(DOCUMENT, EDITION, f"{ASCE} e")
def penetration(case: Case, row: RuleRow) -> Measures | str:
    """Sprinkler heads and other penetrations are free to move by the limit all ways."""
    heads = [o for o in case.obstacles if o.kind is Kind.SPRINKLER]
    if not heads and not np.any(case.ceiling.members.role == Role.MAIN_RUNNER):
        return "nothing passes through this ceiling"
    return f"clearances at penetrations are not in the model: {row.number:g} {row.unit} all ways"
