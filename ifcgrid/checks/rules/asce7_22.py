"""ASCE 7-22: earthquake force on a ceiling, and what its brace sets have to bear. Second-hand."""

from __future__ import annotations

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures.earthquake import connection, post, wire
from ifcgrid.checks.rule import Measures, rule
from ifcgrid.checks.rule_data import RuleRow
from ifcgrid.domain.seismic import force_7_22

__all__: list[str] = []


@rule("ASCE 7", "22", "13.3.1, 13.5.6")
def brace_wire_force(case: Case, row: RuleRow) -> Measures | str:
    """One splay wire bears the earthquake force of its set (allowable stress)."""
    return wire(case, row, force_7_22)


@rule("ASCE 7", "22")
def brace_connection(case: Case, row: RuleRow) -> Measures | str:
    """The connection of a splay wire bears what its wire's force asks for."""
    return connection(case, row, force_7_22)


@rule("ASCE 7", "22")
def brace_post_force(case: Case, row: RuleRow) -> Measures | str:
    """The post of a set bears the vertical part of its wires' force."""
    return post(case, row, force_7_22)
