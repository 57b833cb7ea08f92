"""What a plan says of judging."""

from __future__ import annotations

import pytest

from ifcgrid.domain.errors import PlanError
from ifcgrid.domain.plan import parse_plan

SYSTEMS = ["lay-in-600x600"]


def test_a_plan_names_rule_sets_switches_and_site() -> None:
    plan = parse_plan(
        'rules = ["c636-19", "e580-14-sdc-d"]\n'
        'switches = { first-brace = "four-foot" }\n'
        "seismic = { sds = 1.0, z_over_h = 0.5, walls_to_structure = true }\n",
        SYSTEMS,
    )
    assert plan.judging.sets == ("c636-19", "e580-14-sdc-d")
    assert plan.judging.switches == {"first-brace": "four-foot"}
    assert (plan.judging.seismic.sds, plan.judging.seismic.z_over_h) == (1.0, 0.5)
    assert plan.judging.edition == "7-16"


def test_a_plan_that_says_nothing_asks_for_no_rules() -> None:
    judging = parse_plan("", SYSTEMS).judging
    assert judging.sets == ()
    assert judging.edition is None


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('rules = "c636-19"', "give a list of rule sets"),
        ("rules = [1]", "give a list of rule sets"),
        ('switches = "four-foot"', "give a table"),
        ("switches = { first-brace = 4 }", "give a table"),
        ("seismic = 1.0", "give a table with some of sds"),
        ("seismic = { sdc = 1.0 }", "no entry 'sdc'; allowed: sds"),
        ("seismic = { sds = -1 }", "sds is -1; give a number from 0"),
        ('seismic = { edition = "7-10" }', "7-16, 7-22"),
    ],
)
def test_a_mistake_is_answered_with_its_line_and_what_is_right(text: str, message: str) -> None:
    with pytest.raises(PlanError, match=message) as caught:
        parse_plan(f'system = "lay-in-600x600"\n{text}\n', SYSTEMS)
    assert caught.value.line == 2


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ('panel-tilt-in = "3 in"', {"panel-tilt-in": 76.2}),
        ("device-off-module = 5", {"device-off-module": 5.0}),
        ("sprinkler-off-point = false", {"sprinkler-off-point": False}),
    ],
)
def test_a_project_gives_its_own_numbers_for_clash_rules(text, read):
    assert parse_plan(f"[clash]\n{text}\n", ()).judging.clash == pytest.approx(read)


@pytest.mark.parametrize("text", ["run = true", 'run = "soon"', "run = -1", "run = [1]"])
def test_a_wrong_number_of_a_clash_rule_is_told_with_its_line(text):
    with pytest.raises(PlanError, match="clash run") as error:
        parse_plan(f"\n[clash]\n{text}\n", ())
    assert error.value.line
