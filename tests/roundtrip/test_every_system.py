"""What is built of every system that comes with the library passes the judge of its own layout."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ifcopenshell
import numpy as np
import pytest

import ifcgrid
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.judging import Judging
from ifcgrid.domain.load_path import measure_loads
from ifcgrid.domain.plan import Plan
from ifcgrid.pipeline.flow import judge_by_rules
from ifcgrid.systems import list_systems

MODEL = Path(__file__).parents[2] / "models" / "gatehouse.ifc"


@pytest.mark.parametrize("system", list_systems())
def test_a_ceiling_as_built_fails_nothing_of_its_layout(system: str) -> None:
    plan = Plan()
    plan = replace(plan, default=replace(plan.default, system=system))
    done = ifcgrid.build(ifcopenshell.open(str(MODEL)), plan)
    findings, unchecked = judge_by_rules(done.ceilings, done.intake.obstacles, Judging())
    assert len(done.ceilings) == 5
    assert [(f.rule, f.message) for f in findings if f.verdict is not Verdict.PASS] == []
    assert {u.rule for u in unchecked} <= {"main-unhung", "hanger-spacing", "hanger-end", "hanger-off-line"}
    for ceiling in done.ceilings:
        loads = measure_loads(ceiling, done.intake.obstacles)
        assert loads.hanger_n.sum() + loads.unhung_n == pytest.approx(loads.weight_n, rel=1e-9)
        assert loads.area == pytest.approx(ceiling.zone.outline.area, rel=1e-4)
        tees = ceiling.members.role == Role.CROSS_TEE
        # A shifted row of a narrow room may have no tee at all: its panels lie on mains and walls.
        if tees.any() and not ceiling.layout.row_shift:
            assert np.nansum(loads.member_area[tees]) == pytest.approx(loads.area, rel=1e-9)
