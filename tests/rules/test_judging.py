"""What the judge says besides numbers: counts, what is not known, what was not checked and why."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import judged
import numpy as np
import pytest
from handmade_ceilings import L2, ROUND_ENDED, T1, TP1
from judged import FOOT, braced, judge, room, verdict_of, walled, with_bars, with_hangers, with_system
from shapely import Polygon, box

import ifcgrid.checks
from ifcgrid.checks.case import Case
from ifcgrid.checks.judge import judge_rules
from ifcgrid.checks.measures.brace import first_from_walls, force_on_wires, spacings
from ifcgrid.checks.measures.extent import find_parts
from ifcgrid.checks.rule_sets import RULE_SETS, choose_sets
from ifcgrid.domain.bracing import SeparationJoint
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.weights import Strength


def _without_member(ceiling: Ceiling, index: int) -> Ceiling:
    members = ceiling.members
    keep = np.arange(len(members)) != index
    return replace(
        ceiling,
        members=replace(
            members,
            **{
                name: getattr(members, name)[keep]
                for name in ("role", "line", "index", "room", "start", "end")
            },
        ),
    )


def test_the_judge_never_asks_the_designer() -> None:
    folder = Path(ifcgrid.checks.__file__).parent
    imported = {
        node.module or ""
        for path in folder.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom)
    }
    assert not [name for name in imported if name.startswith("ifcgrid.design")]


def test_every_rule_of_every_set_says_something_or_why_not() -> None:
    chosen = choose_sets([s.id for s in RULE_SETS])
    findings, unchecked = judge_rules(room(), [], chosen)
    said = {(f.document, f.edition, f.rule) for f in findings}
    left = {(u.document, u.edition, u.rule) for u in unchecked}
    assert not said & left
    rules = {(f.document, f.edition, rule) for f in chosen.files for rule in (*f.rows, *f.left_out)}
    assert said | left == rules
    assert all(u.reason for u in unchecked)
    assert all(f.basis and f.source and f.measured for f in findings)


def test_no_word_of_approval_is_ever_said() -> None:
    findings, unchecked = judge_rules(room(), [], choose_sets([s.id for s in RULE_SETS]))
    texts = " ".join([*(f.message for f in findings), *(u.reason for u in unchecked)]).lower()
    assert not [word for word in ("complies", "compliant", "safe ", "approved") if word in texts]


def test_a_finding_carries_value_limit_and_margin_of_the_worst() -> None:
    made = with_hangers(room(), [300, 1500, 2600, 3999, 5000, 5700])
    findings = judge(made, "c636-19", "hanger-spacing")
    assert [(f.verdict, f.measured) for f in findings] == [(Verdict.FAIL, 4), (Verdict.PASS, 16)]
    worst, best = findings
    assert worst.value == pytest.approx(1399 / FOOT)
    assert (worst.limit, worst.unit) == (4.0, "ft")
    assert worst.margin == pytest.approx(4 - 1399 / FOOT)
    assert best.margin == pytest.approx(4 - 1200 / FOOT)
    assert worst.subjects == tuple(
        f"{made.key}/main_runner/{j}/0" for j in sorted(set(made.hangers.line.tolist()))
    )
    x, _ = made.layout.frame.to_local([worst.point[:2]])[0]
    assert x == pytest.approx(300 + (2600 + 3999) / 2)


class TestLayout:
    def test_a_missing_tee_bares_two_panel_edges(self) -> None:
        ceiling = room()
        second = np.flatnonzero(ceiling.members.role == Role.SECOND_TEE)
        made = _without_member(ceiling, int(second[len(second) // 2]))
        (fail, _) = judge(made, "layout-1", "panel-edge-without-member")
        assert fail.measured == 2
        assert len(fail.subjects) == 2

    def test_a_main_without_hangers_is_named_and_its_length_is_one_gap(self) -> None:
        ceiling = with_hangers(room(), [300, 1500, 2600, 3700, 4800, 5700])
        line = int(ceiling.hangers.line[0])
        keep = ceiling.hangers.line != line
        hangers = ceiling.hangers
        bare = replace(
            ceiling,
            hangers=replace(
                hangers,
                line=hangers.line[keep],
                index=hangers.index[keep],
                room=hangers.room[keep],
                point=hangers.point[keep],
                bottom=hangers.bottom[keep],
                top=hangers.top[keep],
                support=tuple(np.array(hangers.support)[keep]),
            ),
        )
        main = f"{bare.key}/main_runner/{line}/0"
        assert judge(bare, "layout-1", "main-unhung")[0].subjects == (main,)
        assert judge(bare, "layout-1", "hanger-spacing")[0].value == pytest.approx(6000)
        assert judge(bare, "layout-1", "hanger-spacing")[0].subjects == (main,)

    @pytest.mark.parametrize("shape", [L2, TP1, ROUND_ENDED, T1], ids=["L", "T", "round", "oblique"])
    @pytest.mark.parametrize("angle", [0.0, 31.0])
    def test_rooms_of_any_shape_pass_as_they_are_made(self, shape: Polygon, angle: float) -> None:
        made = judged.build_ceiling(shape, (330.0, 400.0), angle_deg=angle)
        for name in ("member-off-line", "member-end-unsupported", "panel-edge-without-member"):
            assert verdict_of(judge(made, "layout-1", name)) == "pass", name

    def test_a_tee_at_a_missing_main_is_unsupported(self) -> None:
        ceiling = room()
        main = int(np.flatnonzero(ceiling.members.role == Role.MAIN_RUNNER)[1])
        made = _without_member(ceiling, main)
        (fail, _) = judge(made, "layout-1", "member-end-unsupported")
        assert all("/cross_tee/" in subject for subject in fail.subjects)
        assert judge(made, "layout-1", "panel-edge-without-member")[0].verdict is Verdict.FAIL


class TestBraces:
    @pytest.mark.parametrize(("wires", "verdict"), [(4, "pass"), (3, "fail"), (0, "fail")])
    def test_sets_have_four_wires(self, wires: int, verdict: str) -> None:
        assert (
            verdict_of(judge(braced([(3000, 3000)], wires=wires), "e580-14-sdc-d", "brace-wires")) == verdict
        )

    def test_a_post_without_structure_is_not_known(self) -> None:
        assert verdict_of(judge(braced([(3000, 3000)]), "e580-14-sdc-d", "brace-post")) == "pass"
        made = braced([(3000, 3000)], has_post=False)
        assert verdict_of(judge(made, "e580-14-sdc-d", "brace-post")) == "unknown"

    def test_angles_of_wires_that_end_nowhere_are_not_known(self) -> None:
        assert verdict_of(judge(braced([(3000, 3000)], wires=0), "e580-14-sdc-d", "brace-angle")) == "unknown"

    def test_a_large_ceiling_with_sets_passes_the_threshold(self) -> None:
        large = room(32 * FOOT, 32 * FOOT)
        assert verdict_of(judge(large, "e580-14-sdc-d", "bracing-threshold")) == "fail"
        assert (
            verdict_of(judge(braced([(3000, 3000)], large), "e580-14-sdc-d", "bracing-threshold")) == "pass"
        )

    def test_without_services_there_is_no_clearance_to_measure(self) -> None:
        assert "no ducts" in judge(braced([(3000, 3000)]), "e580-14-sdc-d", "splay-clearance")

    @pytest.mark.parametrize("seed", range(5))
    def test_the_spacing_is_that_of_a_search_over_places(self, seed: int) -> None:
        rng = np.random.default_rng(seed)
        sets = [(float(x), float(y)) for x, y in rng.uniform(0, 24 * FOOT, (5, 2))]
        case = Case(ceiling=braced(sets))
        (value,), _ = spacings(case, case.ceiling.braces)
        ticks = np.linspace(0, 24 * FOOT, 241)
        places = case.ceiling.layout.frame.to_local(np.stack(np.meshgrid(ticks, ticks), -1).reshape(-1, 2))
        apart = np.abs(places[:, None] - case.ceiling.braces.point[None]).max(axis=2).min(axis=1)
        assert 2 * apart.max() <= value + 0.01
        assert value <= 2 * apart.max() + 2 * (ticks[1] - ticks[0])

    def test_every_part_needs_sets_of_its_own(self) -> None:
        made = braced([(3000, 3000)])
        joint = _joint(made, 4)
        parted = replace(made, joints=(joint,))
        answer = judge(parted, "e580-14-sdc-d", "brace-spacing")
        assert {f.verdict for f in answer} == {Verdict.FAIL, Verdict.UNKNOWN}

    def test_the_force_of_a_set_is_that_of_the_ceiling_nearest_to_it(self) -> None:
        sets = [(6 * FOOT, 6 * FOOT), (18 * FOOT, 6 * FOOT), (12 * FOOT, 18 * FOOT)]
        case = Case(ceiling=judged.with_panels(braced(sets), 5.0))
        force, _ = force_on_wires(case, case.ceiling.braces, 1.0, 0.0)
        assert force.sum() == pytest.approx(case.loads.weight_n)
        ticks = (np.arange(240) + 0.5) * 24 * FOOT / 240
        places = np.stack(np.meshgrid(ticks, ticks), -1).reshape(-1, 2)
        nearest = np.hypot(*np.moveaxis(places[:, None] - np.array(sets)[None], 2, 0)).argmin(axis=1)
        assert force / force.sum() == pytest.approx(np.bincount(nearest) / len(places), abs=5e-3)

    def test_a_wire_at_an_angle_to_the_force_pulls_harder(self) -> None:
        made = braced([(12 * FOOT, 12 * FOOT)])
        turned = made.braces.wire_top.copy()
        foot = made.braces.point[0]
        step = turned[0, :, :2] - foot
        c = np.cos(np.radians(45))
        turned[0, :, :2] = foot + step @ np.array([[c, c], [-c, c]])
        one = Case(ceiling=made)
        two = Case(ceiling=replace(made, braces=replace(made.braces, wire_top=turned)))
        (_, straight), (_, askew) = (force_on_wires(k, k.ceiling.braces, 1.0, 0.0) for k in (one, two))
        assert askew[0] / straight[0] == pytest.approx(2**0.5)

    def test_first_sets_farther_than_half_a_spacing_are_measured_too(self) -> None:
        case = Case(ceiling=braced([(8 * FOOT, 8 * FOOT)], room(16 * FOOT, 16 * FOOT)))
        (value,), _ = first_from_walls(case, case.ceiling.braces, 12 * FOOT)
        assert value == pytest.approx(8 * FOOT, abs=0.02)


def _joint(ceiling: Ceiling, line: int) -> SeparationJoint:
    """A joint on a cross-tee line, from wall to wall."""
    u = line * ceiling.layout.along
    _, low, _, high = ceiling.layout.frame.shape_to_local(ceiling.zone.outline).bounds
    return SeparationJoint(axis="u", line=line, number=0, start=(u, low), end=(u, high), gap=19.05)


def test_joints_part_a_ceiling_and_each_part_is_judged() -> None:
    ceiling = room(50 * FOOT, 51 * FOOT)
    assert verdict_of(judge(ceiling, "e580-14-sdc-d", "separation-joint")) == "fail"
    parted = replace(ceiling, joints=(_joint(ceiling, 12),))
    parts = find_parts(Case(ceiling=parted))
    assert len(parts) == 2
    assert sum(part.area for part in parts) == pytest.approx(ceiling.zone.outline.area)
    assert verdict_of(judge(parted, "e580-14-sdc-d", "separation-joint")) == "pass"


class TestWalls:
    @pytest.mark.parametrize(
        ("gaps", "verdict"),
        [
            ((None, None, 19.05, 19.05), "pass"),
            ((None, 19.05, 19.05, 19.05), "pass"),
            ((None, None, None, 19.05), "fail"),
        ],
    )
    def test_at_most_two_walls_hold_the_grid(self, gaps, verdict) -> None:
        assert verdict_of(judge(walled(*gaps), "e580-14-sdc-d", "attached-walls")) == verdict

    def test_category_c_attaches_to_no_wall(self) -> None:
        # ASTM E580 section 4, from memory.
        assert verdict_of(judge(walled(None, None, 20, 20), "e580-14-sdc-c", "free-gap")) == "fail"
        assert verdict_of(judge(walled(10, 10, 10, 10), "e580-14-sdc-c", "free-gap")) == "pass"

    def test_members_drawn_up_to_the_walls_say_nothing_of_gaps(self) -> None:
        assert verdict_of(judge(room(), "e580-14-sdc-d", "free-gap")) == "unknown"
        assert verdict_of(judge(room(), "e580-14-sdc-d", "attached-walls")) == "unknown"

    def test_members_drawn_short_of_a_wall_are_measured(self) -> None:
        ceiling = room()
        mains = ceiling.members.role == Role.MAIN_RUNNER
        for gap, verdict in ((19.1, "pass"), (15.0, "fail")):
            end = ceiling.members.end.copy()
            end[mains, 0] -= gap
            made = replace(ceiling, members=replace(ceiling.members, end=end))
            assert verdict_of(judge(made, "e580-14-sdc-d", "free-gap")) == verdict

    @pytest.mark.parametrize(
        ("bars", "border", "verdict"),
        [(0, 450.0, "fail"), (1, 450.0, "pass"), (0, 300.0, "pass")],
    )
    def test_runner_ends_at_free_walls_are_tied_or_near_a_parallel_runner(
        self, bars, border, verdict
    ) -> None:
        # 12 in from memory: a border of 300 mm has its first parallel runner within it.
        made = with_bars(bars, (border, 450.0))
        assert verdict_of(judge(made, "e580-14-sdc-d", "stabiliser")) == verdict


class TestWhatNoModelHolds:
    @pytest.mark.parametrize(
        ("file_id", "rule", "part"),
        [
            ("c636-19", "wire-wraps", "3 turns"),
            ("c636-19", "wall-angle-fixing", "24 in"),
            ("e580-14-sdc-c", "connection-strength", "60 lb"),
            ("e580-14-sdc-d", "connection-strength", "180 lb"),
            ("e580-14-sdc-d", "penetration", "1 in"),
            ("en13964-14", "interior-wind", "20 N/m2"),
            ("c636-19", "splice-hanger", "not in the model"),
        ],
    )
    def test_it_is_named_with_its_number(self, file_id: str, rule: str, part: str) -> None:
        assert part in judge(room(), file_id, rule)

    def test_the_wires_stress_is_told_without_a_verdict(self) -> None:
        (answer,) = judge(room(), "c636-19", "wire-stress")
        assert answer.verdict is Verdict.UNKNOWN
        assert answer.value > 0

    def test_a_wire_of_64_lb_has_the_stress_of_three_times_that(self) -> None:
        # 192 lb on a 12 ga wire: 21.96 ksi (derived).
        made = with_system(judged.loaded(judged.in_unit(64, "lb")), hanger_diameter=0.1055 * 25.4)
        (answer,) = judge(made, "c636-19", "wire-stress")
        assert answer.value == pytest.approx(21.96, abs=5e-3)

    def test_hangers_under_nothing_have_no_slope(self) -> None:
        ceiling = room()
        hangers = replace(ceiling.hangers, top=np.full(len(ceiling.hangers), np.nan))
        answer = judge(replace(ceiling, hangers=hangers), "c636-19", "hanger-plumb")
        assert verdict_of(answer) == "unknown"

    def test_hangers_of_unknown_strength_are_told_what_is_needed(self) -> None:
        (answer,) = judge(with_system(room(), strength=Strength(basis="test")), "en13964-14", "hanger-safety")
        assert answer.verdict is Verdict.UNKNOWN
        assert "needed:" in answer.message


def test_a_ceiling_over_two_rooms_is_judged_by_room() -> None:
    ceiling = room()
    (first,) = ceiling.zone.rooms
    left, right = box(0, 0, 3000, 4800), box(3000, 0, 6000, 4800)
    rooms = (
        replace(first, section=left, outline=left),
        replace(first, key="B", section=right, outline=right),
    )
    made = replace(ceiling, zone=replace(ceiling.zone, rooms=rooms))
    made = with_hangers(made, [300, 1500, 2600, 4200, 5000, 5700])
    findings = judge(made, "layout-1", "hanger-spacing")
    assert {(f.room, f.verdict) for f in findings} == {
        (first.key, Verdict.PASS),
        ("B", Verdict.FAIL),
        ("B", Verdict.PASS),
    }


def test_a_sprinkler_does_not_count_as_a_device_with_wires() -> None:
    ceiling, obstacles = judged.carrying(Kind.SPRINKLER, 500.0, 0)
    assert isinstance(obstacles[0], Obstacle)
    assert judge(ceiling, "e580-14-sdc-d", "terminal-wires", obstacles=obstacles).startswith("there are none")
