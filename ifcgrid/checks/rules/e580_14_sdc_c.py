"""ASTM E580 section 4: ceilings in seismic design category C. Mostly from memory."""

from __future__ import annotations

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures.edges import free_gaps
from ifcgrid.checks.measures.seismic import area_weight, closure_angle, runner_class, size_exemption
from ifcgrid.checks.rule import Measures, rule
from ifcgrid.checks.rule_data import RuleRow

__all__: list[str] = []

DOCUMENT, EDITION = "ASTM E580 SDC C", "14"

rule(DOCUMENT, EDITION, "1.4 (-06)", name="size-exemption")(size_exemption)
rule(DOCUMENT, EDITION, "4", name="area-weight")(area_weight)
rule(DOCUMENT, EDITION, "4", name="runner-class")(runner_class)
rule(DOCUMENT, EDITION, "4", name="closure-angle")(closure_angle)


@rule(DOCUMENT, EDITION, "4")
def free_gap(case: Case, row: RuleRow) -> Measures | str:
    """The grid ends free of every wall by at least the gap."""
    return free_gaps(case, row, is_attachment_allowed=False)


@rule(DOCUMENT, EDITION, "4")
def connection_strength(case: Case, row: RuleRow) -> Measures | str:
    """Runner splices and crossings bear at least the limit."""
    _ = case
    return f"the strength of joints is not in the model: at least {row.number:g} {row.unit}"
