"""Known answers; each names the published rules that fix it, and says what is derived or from memory."""

from __future__ import annotations

from dataclasses import replace
from math import ceil

import judged
import numpy as np
import pytest
from judged import FOOT, INCH, braced, carrying, in_unit, judge, room, verdict_of, with_hangers, with_system

from ifcgrid.checks.measures.wires import wires_needed
from ifcgrid.checks.rule_data import read_rule_file
from ifcgrid.domain.load_path import measure_loads
from ifcgrid.domain.loads import POUND_N
from ifcgrid.domain.obstacle import Kind
from ifcgrid.domain.seismic import Seismic
from ifcgrid.domain.weights import Strength


class TestHangersOnAMain:
    """At most 4 ft apart (NAVEDTRA 14044 p. 5-17), ends within 8 in (NWCB 401, second-hand)."""

    @pytest.mark.parametrize(("inches", "least"), [(163, 5), (124, 4)])
    def test_the_least_number_passes_and_one_less_does_not(self, inches: int, least: int) -> None:
        length = inches * INCH
        assert ceil((inches - 16) / 48) + 1 == least
        for count, verdict in ((least, "pass"), (least - 1, "fail")):
            places = np.linspace(8 * INCH, length - 8 * INCH, count).tolist()
            made = with_hangers(room(length, 3000), places)
            verdicts = {
                verdict_of(judge(made, "c636-19", "hanger-spacing")),
                verdict_of(judge(made, "e580-14-sdc-d", "perimeter-hanger")),
            }
            assert ("fail" in verdicts) == (verdict == "fail")

    @pytest.mark.parametrize(("inches", "least"), [(163, 3), (124, 2)])
    def test_ends_on_the_wall_angle_need_two_less(self, inches: int, least: int) -> None:
        # Only the spacing, with the ends of the main carried by the angle.
        assert ceil(inches / 48) - 1 == least
        places = np.linspace(0, inches * INCH, least + 2)[1:-1].tolist()
        made = with_hangers(room(inches * INCH, 3000), places)
        assert verdict_of(judge(made, "c636-19", "hanger-spacing")) == "pass"


class TestBraceGrid:
    """12 ft each way, first 6 ft (Daly City b18; NWCB 401) or 4 ft (a San Joaquin County sheet)."""

    @pytest.mark.parametrize(
        ("size", "switch", "count"),
        [
            ((40, 30), "six-foot", (4, 3)),
            ((36, 36), "six-foot", (3, 3)),
            ((40, 30), "four-foot", (4, 3)),
            ((36, 36), "four-foot", (4, 4)),
        ],
    )
    def test_the_least_grid_passes_and_one_row_less_does_not(self, size, switch, count) -> None:
        end = 6 if switch == "six-foot" else 4
        assert tuple(ceil((side - 2 * end) / 12) + 1 for side in size) == count
        ceiling = room(size[0] * FOOT, size[1] * FOOT)

        def judged_as(columns: int, rows: int) -> set[str]:
            sets = [
                (x * FOOT, y * FOOT) for x in _even(size[0], columns, end) for y in _even(size[1], rows, end)
            ]
            made = braced(sets, ceiling)
            switches = {"first-brace": switch}
            return {
                verdict_of(judge(made, "e580-14-sdc-d", name, switches=switches))
                for name in ("brace-spacing", "first-brace")
            }

        assert judged_as(*count) == {"pass"}
        assert "fail" in judged_as(count[0] - 1, count[1])
        assert "fail" in judged_as(count[0], count[1] - 1)


def _even(side: float, count: int, end: float) -> list[float]:
    """Places with the first at most `end` from the wall and equal steps."""
    first = max(min(end, side / count / 2), (side - 12 * (count - 1)) / 2) if count > 1 else side / 2
    return np.linspace(first, side - first, count).tolist()


class TestAreaThresholds:
    """144 ft2 (E580-06 1.4), 1,000 ft2 (E580-09a 1.5), 2,500 ft2 (ASCE 7-05 d), ratio 4 (memory)."""

    @pytest.mark.parametrize(
        ("feet", "rule", "verdict"),
        [
            ((12, 12), "size-exemption", "pass"),
            ((12, 13), "size-exemption", "not checked"),
            ((31, 32), "bracing-threshold", "pass"),
            ((25, 40), "bracing-threshold", "pass"),
            ((32, 32), "bracing-threshold", "fail"),
            ((50, 50), "separation-joint", "pass"),
            ((50, 51), "separation-joint", "fail"),
            ((25, 100), "separation-joint", "pass"),
            ((25, 100), "part-ratio", "pass"),
            ((25, 101), "part-ratio", "fail"),
        ],
    )
    def test_rooms_at_the_thresholds(self, feet, rule, verdict) -> None:
        seismic = Seismic(walls_to_structure=True)
        answer = judge(room(feet[0] * FOOT, feet[1] * FOOT), "e580-14-sdc-d", rule, seismic=seismic)
        assert verdict_of(answer) == verdict

    def test_the_exemption_needs_a_word_on_the_walls(self) -> None:
        small = room(12 * FOOT, 12 * FOOT)
        assert verdict_of(judge(small, "e580-14-sdc-d", "size-exemption")) == "unknown"
        told = Seismic(walls_to_structure=False)
        assert "not to be connected" in judge(small, "e580-14-sdc-d", "size-exemption", seismic=told)

    def test_an_exempt_ceiling_is_judged_by_nothing_else_of_the_set(self) -> None:
        small, seismic = room(12 * FOOT, 12 * FOOT), Seismic(walls_to_structure=True)
        assert judge(small, "e580-14-sdc-d", "closure-angle", seismic=seismic) == "exempt by size"
        assert verdict_of(judge(small, "e580-14-sdc-d", "closure-angle")) == "fail"

    def test_thresholds_in_si_are_numbers_of_their_own(self) -> None:
        # 92.9 m2 is less than 1,000 ft2 (92.903 m2): one room, two answers.
        between = room(np.sqrt(92.902e6), np.sqrt(92.902e6))
        assert verdict_of(judge(between, "e580-14-sdc-d", "bracing-threshold")) == "pass"
        assert verdict_of(judge(between, "e580m-14-sdc-d", "bracing-threshold")) == "fail"


class TestForceOnABraceSet:
    """ASCE 7-16 and 7-22 (second-hand), 4 psf, 0.7 and 306 lb from memory: the same sets, two answers."""

    @pytest.mark.parametrize(
        ("edition", "height", "wire", "connection", "verdict"),
        [
            ("7-16", 1.0, 273.70, 547.4, "pass"),
            ("7-16", 0.5, 182.47, 364.9, "pass"),
            ("7-16", 0.0, 171.06, 342.1, "pass"),
            ("7-22", 1.0, 409.38, 818.8, "fail"),
            ("7-22", 0.0, 171.06, 342.1, "pass"),
        ],
    )
    def test_twelve_feet_square_a_set(self, edition, height, wire, connection, verdict) -> None:
        # 24 x 24 ft with four sets: each holds 144 ft2 at the least weight of 4 psf.
        sets = [(x * FOOT, y * FOOT) for x in (6, 18) for y in (6, 18)]
        made = judged.with_panels(braced(sets, room(24 * FOOT, 24 * FOOT)), 5.0)
        site = Seismic(sds=1.0, z_over_h=height, edition=edition)
        assert verdict_of(judge(made, "e580-14-sdc-d", "brace-spacing")) == "pass"
        (force,) = judge(made, f"asce{edition}", "brace-wire-force", seismic=site)
        assert force.value == pytest.approx(wire, abs=0.01)
        assert force.verdict == verdict
        (joint,) = judge(made, f"asce{edition}", "brace-connection", seismic=site)
        assert joint.value == pytest.approx(connection, abs=0.06)
        assert joint.verdict == "unknown"
        (post,) = judge(made, f"asce{edition}", "brace-post-force", seismic=site)
        assert post.value == pytest.approx(wire / 2**0.5, abs=0.01)

    def test_a_heavier_ceiling_than_the_least_weight_counts_as_it_is(self) -> None:
        light, heavy = (judged.with_panels(braced([(3000, 2400)], room()), kg) for kg in (5.0, 40.0))
        site = Seismic(sds=1.0, z_over_h=1.0)
        one, two = (judge(c, "asce7-16", "brace-wire-force", seismic=site)[0].value for c in (light, heavy))
        assert two / one == pytest.approx(40.0 / (4 * POUND_N / FOOT**2 * 1e6 / 9.80665))

    def test_without_a_site_nothing_is_said_of_forces(self) -> None:
        answer = judge(braced([(3000, 2400)], room()), "asce7-16", "brace-wire-force")
        assert answer == "needs sds and z_over_h of the project"


BY_WEIGHT = read_rule_file("e580-14-sdc-d").row("light-wires", {"light-wires": "by-weight"})
TWO_FOR_ALL = read_rule_file("e580-14-sdc-d").row("light-wires", {"light-wires": "two-for-all"})


class TestWiresOfLights:
    """10 and 56 lb (NWCB 401, second-hand), or 56 lb alone (San Joaquin County sheet, n. 12)."""

    @pytest.mark.parametrize(
        ("pounds", "by_weight", "two_for_all"),
        [
            (9.9, (1, False), (2, False)),
            (10.0, None, (2, False)),
            (10.1, (2, False), (2, False)),
            (55.9, (2, False), (2, False)),
            (56.0, None, (4, True)),
            (56.1, (4, True), (4, True)),
        ],
    )
    def test_wires_by_weight(self, pounds, by_weight, two_for_all) -> None:
        assert wires_needed(BY_WEIGHT, pounds * POUND_N) == by_weight
        assert wires_needed(TWO_FOR_ALL, pounds * POUND_N) == two_for_all

    def test_a_four_by_four_light_gets_a_wire_at_each_corner(self) -> None:
        size = (4 * FOOT, 4 * FOOT)
        assert wires_needed(TWO_FOR_ALL, 20 * POUND_N, size) == (4, False)
        assert wires_needed(BY_WEIGHT, 20 * POUND_N, size) == (2, False)
        assert wires_needed(TWO_FOR_ALL, 20 * POUND_N, (2 * FOOT, 4 * FOOT)) == (2, False)

    @pytest.mark.parametrize(
        ("pounds", "slack", "taut", "verdict"),
        [
            (9.9, 1, 0, "pass"),
            (9.9, 0, 0, "fail"),
            (10.0, 4, 0, "unknown"),
            (10.1, 2, 0, "pass"),
            (10.1, 1, 0, "fail"),
            (56.0, 4, 4, "unknown"),
            (56.1, 4, 0, "fail"),
            (56.1, 0, 4, "pass"),
        ],
    )
    def test_the_wires_that_are_there(self, pounds, slack, taut, verdict) -> None:
        ceiling, obstacles = carrying(Kind.LIGHT, pounds * POUND_N, slack, taut)
        assert verdict_of(judge(ceiling, "e580-14-sdc-d", "light-wires", obstacles=obstacles)) == verdict

    def test_wires_that_the_model_does_not_hold_are_not_known(self) -> None:
        ceiling, obstacles = carrying(Kind.LIGHT, 20 * POUND_N, 2)
        answer = judge(replace(ceiling, wires=None), "e580-14-sdc-d", "light-wires", obstacles=obstacles)
        assert verdict_of(answer) == "unknown"
        assert "not in the model" in answer[0].message

    def test_an_assumed_weight_is_told(self) -> None:
        ceiling, obstacles = carrying(Kind.LIGHT, None, 2)
        answer = judge(ceiling, "e580-14-sdc-d", "light-wires", obstacles=obstacles)
        assert "weight of 1 assumed" in answer[0].message

    @pytest.mark.parametrize(
        ("pounds", "slack", "taut", "verdict"),
        [
            (19.9, 0, 0, "pass"),
            (20.0, 2, 0, "unknown"),
            (20.1, 1, 0, "fail"),
            (20.1, 2, 0, "pass"),
            (57, 2, 0, "fail"),
        ],
    )
    def test_air_terminals_by_weight(self, pounds, slack, taut, verdict) -> None:
        # 20 and 56 lb: ASTM E580 5.4, from memory.
        ceiling, obstacles = carrying(Kind.AIR_TERMINAL, pounds * POUND_N, slack, taut)
        assert verdict_of(judge(ceiling, "e580-14-sdc-d", "terminal-wires", obstacles=obstacles)) == verdict


class TestDutyClass:
    """5, 12 and 16 lb/ft (ASTM C635 table 1, from memory) at mains 4 ft apart on a 4 ft span."""

    @pytest.mark.parametrize(
        ("psf", "needed"),
        [
            *((1.25, "light"), (1.26, "intermediate"), (3.0, "intermediate")),
            *((3.01, "heavy"), (4.0, "heavy"), (4.01, "over")),
        ],
    )
    def test_the_class_that_is_needed(self, psf: float, needed: str) -> None:
        made = judged.line_loaded(in_unit(psf * 4, "lb/ft"), 4 * FOOT)
        made = with_system(made, strength=None)
        (answer,) = judge(made, "c635-17", "duty-class")
        assert answer.verdict == "unknown"
        assert answer.message.endswith(f"class needed: {needed}")

    @pytest.mark.parametrize(
        ("file_id", "duty", "verdict"),
        [
            ("e580-14-sdc-c", "light", "fail"),
            ("e580-14-sdc-c", "intermediate", "pass"),
            ("e580-14-sdc-d", "intermediate", "fail"),
            ("e580-14-sdc-d", "heavy", "pass"),
            ("e580m-14-sdc-d", "heavy", "pass"),
            ("e580-14-sdc-d", "", "unknown"),
        ],
    )
    def test_classes_that_the_categories_allow(self, file_id, duty, verdict) -> None:
        # D to F heavy: Municipality of Anchorage A.04 3.1; C: from memory.
        made = with_system(room(), strength=Strength(duty=duty, basis="test"))
        assert verdict_of(judge(made, file_id, "runner-class")) == verdict


class TestOneHanger:
    """A hanger of 4 x 4 ft at 4 psf carries 64 lb of the 100 lb of its connection (Daly City b18)."""

    def test_force_slope_and_stress(self) -> None:
        # Mains 4 ft apart, hangers 4 ft apart, all weight in the panels.
        ceiling = judged.build_ceiling(
            judged.rectangle(20 * FOOT, 16 * FOOT), (2 * FOOT, 2 * FOOT), system="lay-in-2x2-ft"
        )
        ceiling = with_hangers(ceiling, [k * 4 * FOOT + 2 * FOOT for k in range(5)])
        ceiling = judged.with_panels(ceiling, 4 * POUND_N / FOOT**2 * 1e6 / 9.80665)
        inner = np.flatnonzero((ceiling.hangers.line == 4) & (ceiling.hangers.index == 2))
        (main,) = inner.tolist()
        aside = ceiling.hangers.point.copy()
        rise = ceiling.hangers.top[main] - ceiling.hangers.bottom[main]
        aside[main, 1] += rise / 6
        leaning = replace(ceiling, hangers=replace(ceiling.hangers, top_point=aside))
        plumb, leant = measure_loads(ceiling), measure_loads(leaning)
        assert plumb.hanger_n[main] / POUND_N == pytest.approx(64.0, rel=1e-9)
        assert leant.side_n[main] / leant.force_n[main] == pytest.approx(1 / 6)
        assert leant.tension_n[main] / leant.force_n[main] == pytest.approx(64.88 / 64, abs=1e-4)
        assert verdict_of(judge(leaning, "c636-19", "hanger-plumb")) == "pass"
        assert leant.tension_n[main] / POUND_N < 100

    def test_a_counter_sloping_hanger_excuses_a_steeper_one(self) -> None:
        # Daly City b18: more than 1 in 6 out of plumb needs a counter-sloping wire.
        ceiling = judged.leaning(0.3)
        assert verdict_of(judge(ceiling, "c636-19", "hanger-plumb")) == "fail"
        hangers = ceiling.hangers
        aside, kind = hangers.top_points.copy(), hangers.kinds.copy()
        aside[1, 1] -= 0.3 * 600
        kind[:2] = (1, 2)
        beside = hangers.point.copy()
        beside[1, 0] = beside[0, 0] + 200
        aside[1, 0] = beside[1, 0]
        countered = replace(hangers, top_point=aside, kind=kind, point=beside)
        assert verdict_of(judge(replace(ceiling, hangers=countered), "c636-19", "hanger-plumb")) == "pass"


class TestEdgesAlongWalls:
    """A room of whole modules, turned, has walls that lie on grid lines but for the noise of floats."""

    @pytest.mark.parametrize("angle", [0.0, 17.0, 107.000000004])
    def test_no_member_is_asked_for_under_an_edge_on_the_wall_angle(self, angle: float) -> None:
        made = judged.build_ceiling(judged.rectangle(6000, 4800), (600, 600), angle_deg=angle, at=(8e4, -3e4))
        assert verdict_of(judge(made, "layout-1", "panel-edge-without-member")) == "pass"


class TestDeflectionClasses:
    """EN 13964 classes from memory: span / 500 and at most 4.0 mm; span / 300."""

    @pytest.mark.parametrize(("span", "first"), [(600, 1.2), (1200, 2.4), (2000, 4.0), (2400, 4.0)])
    def test_limits_of_the_classes(self, span: float, first: float) -> None:
        file = read_rule_file("en13964-14")
        one, two = (file.row("deflection-class", {"deflection-class": f"class-{k}"}) for k in (1, 2))
        assert min(span / one.further("span"), one.number) == pytest.approx(first)
        assert 1200 / two.further("span") == pytest.approx(4.0)
