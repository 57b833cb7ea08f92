"""Fields as wholes: movement joints, fields over each other, heights that disagree; hangers on services."""

from __future__ import annotations

from dataclasses import replace

import pytest
from handmade_obstacles import LEVEL, room, rules, thing
from shapely import box

from ifcgrid.checks.clash import find_clashes_between
from ifcgrid.domain.bracing import SeparationJoint
from ifcgrid.domain.obstacle import Kind

ACROSS = box(2990, -500, 3010, 6000)


def joint(outline=ACROSS, bottom=-300.0, name="Movement joint 1"):
    return thing(Kind.OTHER, outline, bottom, bottom + 300, name)


def test_a_movement_joint_across_a_field_is_told_with_its_length():
    assert rules(room(), joint()) == ["joint-in-field"]
    assert rules(room(), joint(name="Skirting")) == []
    assert rules(room(), joint(bottom=-4000.0)) == []
    assert rules(room(), joint(bottom=9000.0)) == []
    assert rules(room(), joint(box(2990, -500, 3010, 290))) == []


def test_a_joint_of_the_ceiling_over_it_answers_it():
    ceiling = room()
    own = SeparationJoint(**{**_fields(ceiling), "start": (2900.0, 0.0), "end": (2900.0, 4800.0)})
    assert rules(replace(ceiling, joints=(own,)), joint()) == []
    across = replace(own, start=(0.0, 900.0), end=(6000.0, 900.0))
    assert rules(replace(ceiling, joints=(across,)), joint()) == ["joint-in-field"]


def _fields(ceiling):
    del ceiling
    names = SeparationJoint.__dataclass_fields__
    return {name: 0 for name in names if name not in ("start", "end")}


def test_fields_over_each_other_at_one_level_are_told_with_the_width():
    one, other = room(), room(at=(5900.0, 0.0))
    (finding,) = (f for f in find_clashes_between([one, other]) if f.rule == "fields-overlap")
    assert finding.value == pytest.approx(100)
    beside = room(at=(5996.0, 0.0))
    assert not [f for f in find_clashes_between([one, beside]) if f.rule == "fields-overlap"]
    above = replace(other, zone=replace(other.zone, level=LEVEL + 3000))
    assert not [f for f in find_clashes_between([one, above]) if f.rule == "fields-overlap"]


def test_heights_that_disagree_are_told_with_the_difference():
    (finding,) = find_clashes_between([room()])
    assert (finding.rule, finding.value) == ("heights-disagree", 100)
    assert "2800 mm (finish-ceiling-height)" in finding.message


def test_a_hanger_fixed_to_a_duct_is_told():
    ceiling = room()
    duct = thing(Kind.DUCT, box(0, 0, 10, 10), LEVEL + 500, LEVEL + 600, "duct")
    support = ("duct", *ceiling.hangers.support[1:])
    fixed = replace(ceiling, hangers=replace(ceiling.hangers, support=support))
    assert rules(fixed, duct) == ["hanger-on-service"]
    assert rules(ceiling, duct) == []
