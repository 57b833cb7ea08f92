"""Cutting and hanging data of grid systems: what is read, and what is said of what is wrong."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import pytest

from ifcgrid.domain.errors import PlanError, SystemDataError
from ifcgrid.domain.plan import parse_plan
from ifcgrid.domain.scheme import (
    Cutting,
    HangerRules,
    cutting_from_table,
    hanger_rules_from_table,
    read_hanging,
)
from ifcgrid.systems import list_systems, read_system

TABLE: dict[str, Any] = {
    "hole_pitch": "6 in",
    "first_hole": "3 in",
    "tees": ["4 ft", "2 ft"],
    "basis": "test",
}


@pytest.mark.parametrize("name", list_systems())
def test_every_system_says_what_it_is_cut_from_and_who_says_so(name: str) -> None:
    system = read_system(name)
    assert system.cutting
    assert system.cutting.basis
    assert "no source" in system.hanging.basis or "NAVEDTRA" in system.hanging.basis
    # Holes stay on the tee lines from part to part, and tees have the length of the grid.
    for length in (system.along, system.main_stock):
        assert length / system.cutting.hole_pitch == pytest.approx(round(length / system.cutting.hole_pitch))
    tees = (system.main_spacing, system.along)[: min(system.main_every, 2)]
    assert system.cutting.tees == pytest.approx(tees)


def test_mains_stand_apart_as_the_schemes_say() -> None:
    spacing = {name: round(read_system(name).main_spacing) for name in list_systems()}
    assert spacing["lay-in-600x600"] == 1200
    assert spacing["lay-in-600x600-mains-600"] == 600
    assert spacing["lay-in-2x2-ft"] == round(4 * 304.8)
    assert spacing["lay-in-2x2-ft-mains-2-ft"] == spacing["lay-in-2x4-ft-mains-2-ft"] == round(2 * 304.8)
    heavy, usual = read_system("lay-in-2x4-ft-mains-2-ft"), read_system("lay-in-2x4-ft")
    assert heavy.main.height > usual.main.height
    assert heavy.main.thickness > usual.main.thickness


def test_lengths_are_read_with_their_units() -> None:
    cutting = cutting_from_table({**TABLE, "stagger": "2 ft", "end_gap": 0}, "S", ranks=2)
    assert cutting == Cutting(
        hole_pitch=152.4, first_hole=76.2, tees=(1219.2, 609.6), stagger=609.6, end_gap=0.0, basis="test"
    )


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"hole_pitch": None}, "hole_pitch is missing"),
        ({"hole_pitch": 0}, "it must be greater than zero"),
        ({"end_gap": "-1 mm"}, "end_gap"),
        ({"tees": ["4 ft"]}, "the system has 2 ranks of tees, so give 2"),
        ({"tees": "4 ft"}, "give a list of lengths"),
        ({"offcut_chain": "yes"}, "give 0, 1, 2"),
        ({"holes": 3}, "unknown entry 'holes'"),
    ],
)
def test_a_wrong_entry_is_named_with_what_would_be_right(change: dict[str, Any], said: str) -> None:
    table = {k: v for k, v in {**TABLE, **change}.items() if v is not None}
    with pytest.raises(SystemDataError, match=said):
        cutting_from_table(table, "S", ranks=2)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ({"splice_sides": 3}, "give 0, 1 or 2"),
        ({"splay": 0.5}, "give 6 for 1 in 6"),
        ({"clearance": "wide"}, "clearance"),
        ({"reach": 3}, "unknown entry 'reach'"),
        ("two", "write it as a table"),
    ],
)
def test_a_wrong_hanger_rule_is_named(table: Any, said: str) -> None:
    with pytest.raises(SystemDataError, match=said):
        hanger_rules_from_table(table, "S")
    with pytest.raises(PlanError, match=said):
        read_hanging(table)


def test_what_a_table_does_not_name_stays() -> None:
    base = HangerRules(clearance=10.0, splay=8.0)
    rules = hanger_rules_from_table({"splice_sides": 2, "basis": "theirs"}, "S", base)
    changed = {f.name for f in fields(HangerRules) if getattr(rules, f.name) != getattr(base, f.name)}
    assert changed == {"splice_sides", "basis"}


def test_a_plan_changes_the_rules_of_a_room() -> None:
    plan = parse_plan(
        'hanging = {clearance = "50 mm"}\n[[rooms]]\nname = "Hall"\nhanging = {splice_sides = 2}\n',
        list_systems(),
    )
    system = read_system(plan.default.system)
    facts = {"key": "", "storey": "", "number": "", "name": "Hall"}
    hall = plan.settings_for(facts).hanging
    assert plan.default.hanging
    assert hall
    assert plan.default.hanging.applied_to(system.hanging).clearance == 50.0
    assert hall.applied_to(system.hanging).splice_sides == 2
    with pytest.raises(PlanError, match="splice_sides") as error:
        parse_plan('system = "lay-in-600x600"\nhanging = {splice_sides = 5}\n', list_systems())
    assert error.value.line == 2
