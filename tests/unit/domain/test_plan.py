"""The plan file: what it sets, and what it says when something is wrong."""

from __future__ import annotations

import pytest

from ifcgrid.domain.errors import PlanError
from ifcgrid.domain.plan import parse_plan

POLICIES = ("half-module", "six-inch")
SYSTEMS = ("lay-in-600x600", "lay-in-600x1200")

TEXT = """\
system = "lay-in-600x600"

[[rooms]]
storey = "Level 2"
name = "*corridor*"
system = "lay-in-600x1200"
height = "2.6 m"

[[rooms]]
key = "abc"
skip = "plant room"

[[rooms]]
query = 'IfcSpace, Pset_SpaceCommon.Category="Office"'
policy = "six-inch"
"""


def facts(**given: str) -> dict[str, str]:
    return {"key": "", "storey": "", "name": "", "number": "", **given}


def test_a_room_that_no_rule_picks_gets_the_default():
    settings = parse_plan(TEXT, SYSTEMS, POLICIES).settings_for(facts(storey="Level 1"))
    assert (settings.system, settings.height, settings.skip) == ("lay-in-600x600", None, None)
    assert settings.policy == "half-module"


def test_patterns_ignore_case_and_all_of_them_must_match():
    plan = parse_plan(TEXT, SYSTEMS, POLICIES)
    assert plan.settings_for(facts(storey="level 2", name="North Corridor 3")).height == 2600
    assert plan.settings_for(facts(storey="Level 1", name="North Corridor 3")).height is None


def test_queries_are_answered_by_the_caller_and_combine_with_other_rules():
    plan = parse_plan(TEXT, SYSTEMS, POLICIES)
    (query,) = plan.queries
    settings = plan.settings_for(facts(key="abc"), answered={query})
    assert (settings.policy, settings.skip) == ("six-inch", "plant room")


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("system = \n", 1, "not TOML"),
        ("\ncolour = 3\n", 2, "allowed: system, policy"),
        ('system = "brick"\n', 1, "choose one of lay-in-600x1200, lay-in-600x600"),
        ('[[rooms]]\nname = "x"\nheigth = 3\n', 3, "no entry 'heigth'; allowed: storey"),
        (
            '[[rooms]]\nname = "x"\nskip = "a"\n[[rooms]]\nname = "y"\nheight = "3 furlongs"\n',
            6,
            "'furlongs' is no unit",
        ),
        ('[[rooms]]\nname = "x"\nheight = -2400\n', 3, "greater than zero"),
        ('[[rooms]]\nname = "x"\nangle = "17"\n', 3, "degrees"),
        ('[[rooms]]\nname = "x"\nkeep = "yes"\n', 3, "true or false"),
        ('[[rooms]]\nname = "x"\n', 1, "changes nothing"),
        ('[[rooms]]\nskip = "x"\n', 1, "picks no room"),
        ('[[rooms]]\nname = "x"\npolicy = "best"\n', 3, "choose one of half-module"),
        ('[rooms]\nname = "x"\n', 1, "write [[rooms]]"),
        ('[[systems]]\nid = "mine"\n', 1, "main_every"),
    ],
)
def test_a_wrong_entry_gives_its_line_and_what_is_allowed(text, line, words):
    with pytest.raises(PlanError) as caught:
        parse_plan(text, SYSTEMS, POLICIES)
    assert words in str(caught.value)
    assert caught.value.line == line


def test_a_plan_can_bring_its_own_system():
    text = (
        '[[systems]]\nid = "mine"\ntitle = "t"\nbasis = "b"\nalong = "625 mm"\nacross = 625\nmain_every = 2\n'
        'panel_thickness = 15\nhanger_diameter = 4\nhanger_spacing = "1.25 m"\nhanger_end = 400\n'
        "main_stock = 3750\nangle_stock = 3000\n"
        "main = {height = 38, face = 24, thickness = 0.3}\ntee = {height = 25, face = 24, thickness = 0.3}\n"
        'angle = {height = 24, face = 24, thickness = 0.4}\n[[rooms]]\nname = "*"\nsystem = "mine"\n'
    )
    plan = parse_plan(text, SYSTEMS, POLICIES)
    assert plan.systems["mine"].main_spacing == 1250
    assert plan.settings_for(facts()).system == "mine"
