"""Every numeric rule just inside, at and just outside its limit.

The limits are those of the rule data with their sources; nothing here repeats a number.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import judged
import numpy as np
import pytest
from judged import FOOT, braced, in_unit, judge, room, verdict_of, with_hangers, with_system
from shapely import box

from ifcgrid.checks.rule_data import RuleRow, list_rule_files, read_rule_file
from ifcgrid.checks.units import find_unit
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Members, Role
from ifcgrid.domain.load_path import measure_loads
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.weights import Strength

Made = Ceiling | tuple[Ceiling, Any]
HAIR = 1e-4
"""Step by which loads, areas and ratios pass a limit, as a share of it; lengths pass it by 0.02 mm."""


def _members(ceiling: Ceiling, **changes: Any) -> Ceiling:
    return replace(ceiling, members=replace(ceiling.members, **changes))


def _shifted(value: float) -> Ceiling:
    ceiling = room()
    start, end = ceiling.members.start.copy(), ceiling.members.end.copy()
    start[0, 1] += value
    end[0, 1] += value
    return _members(ceiling, start=start, end=end)


def _shortened(value: float) -> Ceiling:
    """A cross tee between two mains that ends short of the second."""
    ceiling = room()
    members: Members = ceiling.members
    inner = np.flatnonzero((members.role == 1) & (members.length == 1200))[0]
    end = members.end.copy()
    end[inner, 1] -= value
    return _members(ceiling, end=end)


def _off(value: float) -> Ceiling:
    ceiling = room()
    point = ceiling.hangers.point.copy()
    point[0, 1] += value
    return replace(ceiling, hangers=replace(ceiling.hangers, point=point))


def _gapped(value: float) -> Ceiling:
    """Hangers with one gap of `value`, the others small."""
    rest = np.arange(300 + value, 6000, 300).tolist()
    return with_hangers(room(), [0, 300, *rest])


def _ended(value: float) -> Ceiling:
    return with_hangers(room(), [value, *np.arange(600, 5990, 300).tolist(), 5990])


def _bare(value: float) -> Made:
    """Hangers on each main: `value` of them."""
    return with_hangers(room(), np.linspace(500, 5500, round(value)).tolist())


def _joined(value: float) -> Ceiling:
    """A ceiling in one part of an area; a square."""
    return room(np.sqrt(value), np.sqrt(value))


def _long(value: float) -> Ceiling:
    return room(3000 * value, 3000)


def _spread(value: float) -> Ceiling:
    """Two by two sets `value` apart, the first half of that from the walls."""
    sets = [(value * (i + 0.5), value * (j + 0.5)) for i in range(2) for j in range(2)]
    return braced(sets, room(2 * value, 2 * value))


def _near_wall(value: float) -> Ceiling:
    """Two by two sets 10 ft apart, the first `value` from every wall."""
    places = (value, value + 10 * FOOT)
    side = 10 * FOOT + 2 * value
    return braced([(x, y) for x in places for y in places], room(side, side))


def _near_node(value: float) -> Ceiling:
    ceiling = room(24 * FOOT, 24 * FOOT)
    node = ceiling.layout.frame.to_world([(1200.0 + value, 1200.0)])[0]
    return braced([tuple(node)], ceiling)


def _clear(value: float) -> tuple[Ceiling, list[Obstacle]]:
    """A duct above the set's four wires, which all rise at 45 degrees: `value` beside one of them."""
    ceiling = braced([(3000.0, 3000.0)])
    top = judged.LEVEL + 38.0 + 500.0
    duct = box(2000, 3000 + 500 + value, 4000, 3000 + 500 + value + 300)
    return ceiling, [
        Obstacle(key="duct", kind=Kind.DUCT, name="duct", outline=duct, bottom=top - 100, top=top + 100)
    ]


def _safe(value: float) -> Ceiling:
    """Hangers whose failure load is 1000 N at a factor of 2.5 carry 400 N."""
    return with_system(judged.loaded(value), strength=Strength(hanger_failure_n=1000.0, basis="test"))


def _sagging(share: float, ratio: float, most: float = np.inf) -> Ceiling:
    """Mains and tees whose worst deflection is a share of min(span / ratio, most)."""

    def worst(ceiling: Ceiling) -> float:
        loads, tees = measure_loads(ceiling), ceiling.members.role == Role.CROSS_TEE
        span = np.concatenate([loads.span_length, ceiling.members.length[tees]])
        drop = np.concatenate([loads.span_simple, loads.tee_deflection[tees]])
        return float((drop / np.minimum(span / ratio, most)).max())

    return judged.with_panels(room(), share / worst(judged.with_panels(room(), 1.0)))


def _main_gap(value: float) -> Ceiling:
    ceiling = room()
    scale = value / 1200.0
    start, end = ceiling.members.start.copy(), ceiling.members.end.copy()
    start[:, 1] *= scale
    end[:, 1] *= scale
    return _members(ceiling, start=start, end=end)


MOST, LEAST = 1, -1

CASES: dict[tuple[str, str, str], tuple[int, Callable[[float], Made]]] = {
    ("layout-1", "member-off-line", ""): (MOST, _shifted),
    ("layout-1", "member-end-unsupported", ""): (MOST, _shortened),
    ("layout-1", "hanger-off-line", ""): (MOST, _off),
    ("c635-17", "main-deflection", ""): (LEAST, lambda x: judged.bending(x, "span_simple")),
    ("c635-17", "tee-deflection", ""): (LEAST, lambda x: judged.bending(x, "tee_deflection")),
    ("c635m-17", "main-deflection", ""): (LEAST, lambda x: judged.bending(x, "span_simple")),
    ("c635m-17", "tee-deflection", ""): (LEAST, lambda x: judged.bending(x, "tee_deflection")),
    ("c636-19", "deflection-in-place", ""): (LEAST, lambda x: judged.bending(x, "span_built")),
    ("c636m-19", "deflection-in-place", ""): (LEAST, lambda x: judged.bending(x, "span_built")),
    ("c636-19", "hanger-spacing", "12-gauge"): (MOST, _gapped),
    ("c636-19", "hanger-spacing", "10-gauge"): (MOST, _gapped),
    ("c636-19", "hanger-wire", "12-gauge"): (LEAST, lambda x: with_system(room(), hanger_diameter=x)),
    ("c636-19", "hanger-wire", "10-gauge"): (LEAST, lambda x: with_system(room(), hanger_diameter=x)),
    ("c636-19", "hanger-plumb", ""): (MOST, judged.leaning),
    ("c636m-19", "hanger-plumb", ""): (MOST, judged.leaning),
    ("c636-19", "hanger-load", ""): (MOST, judged.loaded),
    ("c636-19", "splice-hanger", ""): (MOST, judged.spliced),
    ("c636-19", "fixture-hanger", "three-inch"): (MOST, judged.lit),
    ("c636-19", "fixture-hanger", "six-inch"): (MOST, judged.lit),
    ("c636-19", "main-level", ""): (MOST, judged.stepped),
    ("c636m-19", "main-level", ""): (MOST, judged.stepped),
    ("e580-14-sdc-c", "area-weight", ""): (MOST, judged.weighing),
    ("e580-14-sdc-d", "area-weight", ""): (MOST, judged.weighing),
    ("e580m-14-sdc-d", "area-weight", ""): (MOST, judged.weighing),
    ("en13964-14", "area-weight", ""): (MOST, judged.weighing),
    ("e580-14-sdc-c", "closure-angle", ""): (
        LEAST,
        lambda x: with_system(room(), angle=replace(room().system.angle, face=x)),
    ),
    ("e580-14-sdc-d", "closure-angle", ""): (
        LEAST,
        lambda x: with_system(room(), angle=replace(room().system.angle, face=x)),
    ),
    ("e580m-14-sdc-d", "closure-angle", ""): (
        LEAST,
        lambda x: with_system(room(), angle=replace(room().system.angle, face=x)),
    ),
    ("e580-14-sdc-c", "free-gap", ""): (LEAST, lambda x: judged.walled(x, x, x, x)),
    ("e580-14-sdc-d", "free-gap", "three-quarter-inch"): (LEAST, lambda x: judged.walled(None, None, x, x)),
    ("e580-14-sdc-d", "free-gap", "half-inch"): (LEAST, lambda x: judged.walled(None, None, x, x)),
    ("e580m-14-sdc-d", "free-gap", ""): (LEAST, lambda x: judged.walled(None, None, x, x)),
    ("e580-14-sdc-d", "perimeter-hanger", "eight-inch"): (MOST, _ended),
    ("e580-14-sdc-d", "brace-spacing", ""): (MOST, _spread),
    ("e580-14-sdc-d", "first-brace", "six-foot"): (MOST, _near_wall),
    ("e580-14-sdc-d", "first-brace", "four-foot"): (MOST, _near_wall),
    ("e580-14-sdc-d", "brace-position", ""): (MOST, _near_node),
    ("e580-14-sdc-d", "brace-angle", ""): (MOST, lambda x: braced([(3000, 3000)], angle_deg=x)),
    ("e580-14-sdc-d", "splay-clearance", ""): (LEAST, _clear),
    ("e580-14-sdc-d", "separation-joint", ""): (MOST, _joined),
    ("e580m-14-sdc-d", "separation-joint", ""): (MOST, _joined),
    ("e580-14-sdc-d", "part-ratio", ""): (MOST, _long),
    ("asce7-16", "brace-wire-force", ""): (MOST, lambda x: judged.pulled(x, "7-16")),
    ("asce7-22", "brace-wire-force", ""): (MOST, lambda x: judged.pulled(x, "7-22")),
    ("en13964-14", "level-per-metre", ""): (MOST, judged.stepped),
    ("en13964-14", "level-in-five-metres", ""): (MOST, judged.stepped),
    ("en13964-14", "hanger-spacing", ""): (MOST, _gapped),
    ("en13964-14", "first-hanger", ""): (MOST, _ended),
    ("en13964-14", "main-spacing", ""): (MOST, _main_gap),
}
"""By file, rule and switch position: which side of the limit is right, and a ceiling with a wanted value."""

COUNTED = {
    "layout-1": {"panel-edge-without-member", "main-unhung", "hanger-spacing", "hanger-end"},
    "c635-17": {"duty-class"},
    "c635m-17": {"duty-class"},
    "c636-19": {"wire-strength", "wire-stress", "wire-wraps", "wall-angle-fixing"},
    "c636m-19": {"wire-wraps"},
    "e580-14-sdc-c": {"size-exemption", "runner-class", "connection-strength"},
    "e580-14-sdc-d": {
        *("size-exemption", "runner-class", "attached-walls", "perimeter-hanger", "bracing-threshold"),
        *("brace-wires", "brace-post", "stabiliser", "light-wires", "terminal-wires"),
        *("connection-strength", "penetration"),
    },
    "e580m-14-sdc-d": {"size-exemption", "runner-class", "bracing-threshold"},
    "asce7-16": {"brace-connection", "brace-post-force"},
    "asce7-22": {"brace-connection", "brace-post-force"},
    "en13964-14": {"deflection-class", "hanger-safety", "interior-wind"},
}
"""Rules of counts, categories, derived limits and of what no model holds: tested one by one elsewhere."""


def _row(file_id: str, rule: str, variant: str) -> RuleRow:
    return read_rule_file(file_id).row(rule, {rule: variant} if variant else {})


def _verdict(made: Made, file_id: str, rule: str, variant: str) -> str:
    given: dict[str, Any] = {"switches": {rule: variant} if variant else {}}
    ceiling = made
    if isinstance(made, tuple):
        ceiling, more = made
        given["obstacles" if isinstance(more, list) else "seismic"] = more
    return verdict_of(judge(ceiling, file_id, rule, **given))


@pytest.mark.parametrize("case", CASES, ids="/".join)
def test_a_rule_holds_up_to_its_limit_and_not_beyond(case: tuple[str, str, str]) -> None:
    side, make = CASES[case]
    row = _row(*case)
    limit = in_unit(row.number, row.unit)
    step = side * (2 * tolerance.LENGTH if find_unit(row.unit)[0] == "length" else HAIR * limit)
    assert _verdict(make(limit - step), *case) == "pass"
    assert _verdict(make(limit), *case) == "pass"
    assert _verdict(make(limit + step), *case) == "fail"


def test_every_row_of_the_data_is_tested_here_or_named_as_tested_elsewhere() -> None:
    rows = {
        (file_id, rule, row.variant)
        for file_id in list_rule_files()
        for rule, found in read_rule_file(file_id).rows.items()
        for row in found
    }
    named = {(f, r) for f, rules in COUNTED.items() for r in rules}
    assert {case for case in rows if (case[0], case[1]) not in named} == {
        case for case in CASES if (case[0], case[1]) not in named
    }
    assert {case for case in rows if case[:2] in named} | set(CASES) == rows


@pytest.mark.parametrize(("factor", "verdict"), [(1 - HAIR, "pass"), (1.0, "pass"), (1 + HAIR, "fail")])
class TestDerivedLimits:
    """Rules whose limit follows from the system or the span."""

    def test_hangers_by_the_systems_spacing(self, factor: float, verdict: str) -> None:
        made = with_hangers(room(), [300, 300 + 1200 * factor, 2600, 3700, 4800, 5700])
        assert verdict_of(judge(made, "layout-1", "hanger-spacing")) == verdict

    def test_hangers_by_the_systems_end(self, factor: float, verdict: str) -> None:
        made = with_hangers(room(), [450 * factor, 1500, 2600, 3700, 4800, 5700])
        assert verdict_of(judge(made, "layout-1", "hanger-end")) == verdict

    def test_the_wires_strength(self, factor: float, verdict: str) -> None:
        # 70 ksi and the factor 2 are from memory.
        capacity = 70_000 * np.pi * (4 / 25.4) ** 2 / 4 / 2
        made = judged.loaded(in_unit(capacity, "lb") * factor)
        assert verdict_of(judge(made, "c636-19", "wire-strength")) == verdict

    @pytest.mark.parametrize(
        ("file_id", "unit", "span"), [("c635-17", "lb/ft", 4 * FOOT), ("c635m-17", "N/m", 1200.0)]
    )
    def test_the_duty_class(self, file_id: str, unit: str, span: float, factor: float, verdict: str) -> None:
        least = read_rule_file(file_id).row("duty-class", {}).values["light"]
        made = judged.line_loaded(in_unit(least, unit) * factor, span)
        assert verdict_of(judge(made, file_id, "duty-class")) == verdict

    def test_the_failure_load_of_hangers(self, factor: float, verdict: str) -> None:
        assert verdict_of(judge(_safe(400.0 * factor), "en13964-14", "hanger-safety")) == verdict

    def test_the_first_deflection_class(self, factor: float, verdict: str) -> None:
        assert (
            verdict_of(judge(_sagging(1 + 100 * (factor - 1), 500, 4.0), "en13964-14", "deflection-class"))
            == verdict
        )

    def test_the_second_deflection_class(self, factor: float, verdict: str) -> None:
        switches = {"deflection-class": "class-2"}
        answer = judge(
            _sagging(1 + 100 * (factor - 1), 300), "en13964-14", "deflection-class", switches=switches
        )
        assert verdict_of(answer) == verdict

    def test_end_hangers_by_a_quarter_of_the_end_tee(self, factor: float, verdict: str) -> None:
        # Borders of 300 mm: a quarter is 75 mm, less than 8 in.
        made = with_hangers(room(), [75 + 500 * (factor - 1), 1500, 2600, 3700, 4800, 5950])
        answer = judge(
            made, "e580-14-sdc-d", "perimeter-hanger", switches={"perimeter-hanger": "quarter-tee"}
        )
        assert verdict_of(answer) == verdict
