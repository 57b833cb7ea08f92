"""The plan's restraint table: categories, numbers, wires, and what is answered to mistakes."""

from __future__ import annotations

import pytest

from ifcgrid.domain.errors import PlanError
from ifcgrid.domain.plan import parse_plan
from ifcgrid.domain.restraint_plan import read_restraint

FOOT = 304.8


def test_a_category_brings_its_rules_and_the_wires_of_devices():
    settings = read_restraint({"category": "d"})
    assert settings.category == "D"
    assert settings.bracing is not None
    assert settings.bracing.first_brace == pytest.approx(6 * FOOT)
    assert settings.wires is not None
    assert settings.wires.id == "nwcb"


def test_entries_change_the_numbers():
    settings = read_restraint(
        {
            "category": "E",
            "first_brace": "4 ft",
            "braces": "always",
            "joints_by_ratio": True,
            "wires": "dsa",
        }
    )
    assert settings.bracing is not None
    assert settings.bracing.first_brace == pytest.approx(4 * FOOT)
    assert settings.bracing.brace_area == 0
    assert settings.bracing.is_ratio_alone
    assert settings.wires is not None
    assert settings.wires.id == "dsa"


def test_categories_a_and_b_lay_out_nothing():
    settings = read_restraint({"category": "B"})
    assert settings.bracing is None
    assert settings.wires is None


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ("D", "write a table"),
        ({}, "give one of A, B, C, D, E, F"),
        ({"category": "G"}, "'G'; choose one of A, B"),
        ({"category": "D", "wire": "dsa"}, "no entry 'wire'; allowed: category, braces"),
        ({"category": "D", "wires": "slack"}, "choose one of nwcb, dsa"),
        ({"category": "D", "braces": "some"}, '"by area", "always" or "never"'),
        ({"category": "D", "spacing": "0 mm"}, "greater than zero"),
        ({"category": "D", "joints": 1}, "give true or false"),
    ],
)
def test_a_mistake_is_answered_with_what_is_right(table, message):
    with pytest.raises(PlanError, match=message):
        read_restraint(table)


def test_a_plan_gives_it_to_all_rooms_or_to_some():
    plan = parse_plan(
        'restraint = {category = "C"}\n[[rooms]]\nname = "Hall"\nrestraint = {category = "D"}\n',
        ["lay-in-600x600"],
    )
    hall = plan.settings_for({"name": "Hall"})
    other = plan.settings_for({"name": "Office"})
    assert hall.restraint is not None
    assert other.restraint is not None
    assert (hall.restraint.category, other.restraint.category) == ("D", "C")
    with pytest.raises(PlanError) as error:
        parse_plan('system = "lay-in-600x600"\nrestraint = {category = "X"}\n', ["lay-in-600x600"])
    assert error.value.line == 2
