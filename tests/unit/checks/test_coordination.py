"""Severity and trade come from data; every rule that finds something has a row."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from handmade_obstacles import LEVEL, light, room, thing
from shapely import box

import ifcgrid.checks
from ifcgrid.checks.coordination import grade, read_coordination
from ifcgrid.checks.limits import read_limits
from ifcgrid.domain.finding import Finding, Severity, Verdict
from ifcgrid.domain.obstacle import Kind

TOLD = read_coordination()
ROOM = room()


def finding(rule: str, *subjects: str, verdict: Verdict = Verdict.FAIL) -> Finding:
    return Finding(
        rule=rule,
        source="",
        clause="",
        verdict=verdict,
        room=ROOM.key,
        subjects=subjects,
        message="",
        value=1.0,
        point=(1.0, 2.0, LEVEL),
    )


def test_every_rule_of_the_clash_data_that_names_who_yields_has_a_row():
    # Rows without a word on who yields are numbers that several rules use, and rules that only tell.
    wanted = {rule for rule, limit in read_limits().items() if limit.yields}
    assert wanted <= set(TOLD.severities), sorted(wanted - set(TOLD.severities))
    assert set(TOLD.severities) <= set(read_limits())


def test_every_rule_that_the_checks_name_is_known():
    code = "".join(path.read_text("utf-8") for path in Path(ifcgrid.checks.__path__[0]).glob("*.py"))
    named = set(re.findall(r'scene\.finding\(\s*"([a-z-]+)"', code))
    assert named
    assert named <= set(read_limits())


def test_every_kind_of_the_order_has_a_trade_and_every_party_too():
    assert set(TOLD.order) <= set(TOLD.trades)
    parties = set(TOLD.yields.values()) - {"device", "service"}
    assert parties <= set(TOLD.trades)


@pytest.mark.parametrize(
    ("rule", "kinds", "trade"),
    [
        ("devices-overlap", {Kind.LIGHT, Kind.SPRINKLER}, "Lighting"),
        ("devices-overlap", {Kind.AIR_TERMINAL, Kind.SPRINKLER}, "Ventilation"),
        ("devices-overlap", {Kind.AIR_TERMINAL, Kind.LIGHT}, "Lighting"),
        ("service-in-ceiling", {Kind.DUCT, Kind.TRAY, Kind.PIPE}, "Electrical"),
        ("service-in-ceiling", {Kind.DUCT, Kind.PIPE}, "Ventilation"),
        ("fixture-depth", {Kind.DUCT, Kind.LIGHT}, "Ventilation"),
        ("hanger-through-service", {Kind.DUCT}, "Ceilings"),
        ("structure-in-ceiling", {Kind.BEAM}, "Architecture"),
        ("hanger-without-structure", set(), "Structure"),
        ("detector-near-air", {Kind.DETECTOR, Kind.AIR_TERMINAL}, "Fire safety"),
        ("a rule of somebody else", {Kind.DUCT}, "Ceilings"),
    ],
)
def test_life_safety_goes_before_air_before_light_and_gravity_before_duct_before_conduit(rule, kinds, trade):
    assert TOLD.trade_of(rule, kinds) == trade


def test_what_could_not_be_judged_is_low_and_unknown_rules_are_normal():
    assert TOLD.severity_of(finding("service-in-ceiling")) is Severity.HIGH
    assert TOLD.severity_of(finding("service-in-ceiling", verdict=Verdict.UNKNOWN)) is Severity.LOW
    assert TOLD.severity_of(finding("a rule of somebody else")) is Severity.NORMAL


def test_the_boxes_are_what_of_the_bodies_is_over_the_room_up_to_the_hangers_tops():
    duct = thing(Kind.DUCT, box(-500, 1000, 2000, 1400), LEVEL - 60, LEVEL + 10_000, "duct")
    (graded,) = grade([finding("service-in-ceiling", "duct", f"{ROOM.key}/main_runner/2/0")], ROOM, [duct])
    top = float(ROOM.hangers.top.max())
    assert graded.extents == (("duct", (0.0, 1000.0, LEVEL, 2000.0, 1400.0, top)),)
    aside = replace(duct, outline=box(9000, 0, 9100, 100))
    assert grade([finding("service-in-ceiling", "duct")], ROOM, [aside])[0].extents == ()


def test_a_light_and_a_duct_of_one_finding_have_their_own_boxes():
    lamp, duct = light(3300.0, 1500.0), thing(Kind.DUCT, box(500, 1300, 5500, 1700), 2800, 2900, "duct")
    (graded,) = grade([finding("fixture-depth", "duct", "light")], ROOM, [lamp, duct])
    assert [key for key, _ in graded.extents] == ["duct", "light"]
    assert dict(graded.extents)["light"][5] == lamp.top
