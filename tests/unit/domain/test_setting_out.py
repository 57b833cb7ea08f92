"""What a plan may say of where a grid starts."""

import pytest

from ifcgrid.domain.errors import PlanError
from ifcgrid.domain.plan import parse_plan
from ifcgrid.domain.setting_out import (
    BuildingLine,
    Control,
    ControlKind,
    Soffits,
    read_control,
    read_lines,
    read_soffits,
    read_turn,
)


@pytest.mark.parametrize(
    ("text", "control"),
    [
        ("longest", Control(kind=ControlKind.LONGEST)),
        (" Entrance ", Control(kind=ControlKind.ENTRANCE)),
        ("wall 3", Control(kind=ControlKind.EDGE, name="3")),
        ("Wall 012", Control(kind=ControlKind.EDGE, name="12")),
        ("wall c", Control(kind=ControlKind.LETTER, name="C")),
        ("wall AB", Control(kind=ControlKind.LETTER, name="AB")),
        ("north", Control(kind=ControlKind.SIDE, name="north")),
    ],
)
def test_a_control_wall_is_named_in_words(text, control):
    assert read_control(text) == control


@pytest.mark.parametrize("text", ["", "wall", "wall 0", "wall A1", "north-east", 3, None])
def test_any_other_control_is_refused_with_what_is_allowed(text):
    with pytest.raises(PlanError, match=r'control is .*give "longest", "entrance", "wall 3", "wall C"'):
        read_control(text)


@pytest.mark.parametrize(
    ("value", "lines"),
    [
        ({"through": "B"}, (BuildingLine(through="B"),)),
        ({"through": "12"}, (BuildingLine(through="12"),)),
        ({"through": "12", "axis": "x"}, (BuildingLine(through="12", axis="x"),)),
        ({"through": 12000, "axis": "x"}, (BuildingLine(through=12000.0, axis="x"),)),
        ({"through": "-3.5 m", "axis": "y"}, (BuildingLine(through=-3500.0, axis="y"),)),
        ({"through": "B", "on": "panel"}, (BuildingLine(through="B", is_joint=False),)),
        ([{"through": "B"}, {"through": "2"}], (BuildingLine(through="B"), BuildingLine(through="2"))),
    ],
)
def test_a_building_line_is_a_tag_or_a_coordinate(value, lines):
    assert read_lines(value) == lines


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ({"through": 12000}, "without an axis"),
        ({"through": ""}, "through is empty"),
        ({}, "through is None"),
        ({"through": True, "axis": "x"}, "through is True"),
        ({"through": float("nan"), "axis": "x"}, "through is nan"),
        ({"through": "B", "axis": "z"}, "axis is 'z'"),
        ({"through": "B", "on": "edge"}, "on is 'edge'"),
        ({"through": "B", "at": 3}, "no entry 'at'"),
        ([], "holds 0 lines"),
        ([{"through": "A"}] * 3, "holds 3 lines"),
        ("B", "line is 'B'"),
    ],
)
def test_a_wrong_building_line_is_refused(value, words):
    with pytest.raises(PlanError, match=words):
        read_lines(value)


def test_turns_and_soffits_are_read_or_refused():
    assert read_turn(45) == 45.0
    assert read_soffits("own zone") is Soffits.OWN_ZONE
    with pytest.raises(PlanError, match="turn is '45'; give degrees"):
        read_turn("45")
    with pytest.raises(PlanError, match='soffits is \'gone\'; give "cut out" or "own zone"'):
        read_soffits("gone")


def test_a_plan_carries_them_to_its_rooms_and_names_the_line_of_a_wrong_one():
    plan = parse_plan(
        'turn = 45\n[[rooms]]\nnumber = "1*"\ncontrol = "wall C"\nzone = "front"\n'
        'line = {axis = "x", through = "12 m"}\nsoffits = "own zone"\n',
        ["lay-in-600x600"],
    )
    facts = {"key": "K", "storey": "", "name": "", "number": "12"}
    given = plan.settings_for(facts)
    assert (given.control, given.zone, given.turn) == (read_control("wall C"), "front", 45.0)
    assert given.line == (BuildingLine(through=12000.0, axis="x"),)
    assert given.soffits is Soffits.OWN_ZONE
    assert plan.settings_for({**facts, "number": "2"}).control is None
    with pytest.raises(PlanError) as caught:
        parse_plan('[[rooms]]\nnumber = "1"\nturn = 10\ncontrol = "sideways"\n', ["lay-in-600x600"])
    assert caught.value.line == 4
