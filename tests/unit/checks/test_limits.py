"""The data of the clash rules: each row has its source, each rule its row."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import pytest
from handmade_obstacles import light, room, rules

import ifcgrid.checks
from ifcgrid.checks.clash import find_clashes
from ifcgrid.checks.clash_table import format_clash_table
from ifcgrid.checks.limits import SHARED, limits_for, read_limits
from ifcgrid.domain.errors import PlanError


def _texts() -> set[str]:
    folder = Path(ifcgrid.checks.__file__).parent
    return {
        node.value
        for path in folder.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }


def test_every_row_is_used_in_the_code():
    used = _texts()
    made = {f"{kind}-in-{place}" for kind in ("wall", "column") for place in ("ceiling", "room")}
    assert [rule for rule in read_limits() if rule not in used | made] == []


def test_every_row_says_who_says_so():
    for limit in read_limits().values():
        assert limit.source
        assert limit.title
        assert limit.unit in ("mm", "m2", "devices", "hangers", "brace sets")
        assert limit.yields or limit.rule in SHARED | {"hanger-without-structure", "cavity-barrier"}
        assert ("no source" in limit.source) or limit.basis in ("published", "default") or limit.clause == ""


def test_a_caller_may_judge_by_limits_of_his_own():
    askew = light(1510.0, 900.0)
    assert rules(room(), askew) == ["device-off-module"]
    limits = dict(read_limits())
    limits["device-off-module"] = replace(limits["device-off-module"], value=15.0)
    assert find_clashes(room(), [askew], limits) == ()


def test_a_plan_changes_a_number_and_says_so_with_the_finding():
    limits = limits_for({"device-off-module": 9.0})
    assert find_clashes(room(), [light(1508.0, 900.0)], limits) == ()
    (finding,) = find_clashes(room(), [light(1510.0, 900.0)], limits)
    assert finding.limit == 9.0
    assert finding.source == "the project's plan, instead of 3 mm"


def test_a_plan_leaves_a_rule_out_but_not_a_number_that_rules_share():
    assert find_clashes(room(), [light(1510.0, 900.0)], limits_for({"device-off-module": False})) == ()
    with pytest.raises(PlanError, match="contact"):
        limits_for({"contact": False})


def test_a_rule_that_does_not_exist_is_refused_with_those_that_do():
    with pytest.raises(PlanError, match="panel-tilt-in"):
        limits_for({"tilt": 5.0})


def test_the_coordinators_table_is_made_from_the_data():
    page = Path(ifcgrid.checks.__file__).parent / "CLASHES.md"
    assert page.read_text(encoding="utf-8") == format_clash_table(), (
        "write what ifcgrid.checks.clash_table.format_clash_table gives into ifcgrid/checks/CLASHES.md"
    )
