"""Ways out of clashes: their size follows from the scene, and the judge agrees when they are taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from handmade_ceilings import build_ceiling, rectangle
from handmade_obstacles import LEVEL, SOFFIT, head, light, thing
from shapely import affinity, box

from ifcgrid.checks.clash import find_clashes
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.restraint_plan import read_restraint
from ifcgrid.domain.room import Zone
from ifcgrid.domain.waiver import Waiver
from ifcgrid.domain.way_out import WayKind, WayOut
from ifcgrid.pipeline.flow import hang_ceiling
from ifcgrid.pipeline.judging import judge_ceiling
from ifcgrid.pipeline.ways_out import add_ways_out
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

SYSTEM, POLICY = read_system("lay-in-600x600"), read_policy("half-module")
ZONE = build_ceiling(rectangle(6100, 4270), (350, 335)).zone
SLAB = thing(Kind.SLAB, box(-500, -500, 7000, 5000), SOFFIT, SOFFIT + 200, "slab")
TILT_IN, MAIN = 100.0, 38.0


def hang(_: Ceiling, zone: Zone, layout: Layout, near: Sequence[Obstacle]) -> Ceiling:
    return hang_ceiling(zone, SYSTEM, POLICY, near, shared=layout)


def failing(ceiling: Ceiling, near: Sequence[Obstacle]) -> list[Finding]:
    return [f for f in find_clashes(ceiling, near) if f.verdict is Verdict.FAIL]


def solved(
    rule: str, *things: Obstacle, ceiling: Ceiling | None = None, zone: Zone = ZONE
) -> tuple[Ceiling, list[Obstacle], Finding]:
    """The ceiling, what is near it, and the finding of a rule with its ways out."""
    near = [SLAB, *things]
    made = ceiling or hang_ceiling(zone, SYSTEM, POLICY, near)
    found = add_ways_out(judge_ceiling(made, near), [made], near, hang=hang, judge=judge_ceiling)
    (finding,) = (f for f in found if f.rule == rule)
    return made, near, finding


def way(finding: Finding, kind: WayKind) -> WayOut:
    (found,) = (w for w in finding.ways_out if w.kind is kind)
    return found


def lowered(ceiling: Ceiling, by: float, near: Sequence[Obstacle]) -> Ceiling:
    return hang(ceiling, replace(ceiling.zone, level=ceiling.zone.level - by), ceiling.layout, near)


def duct(bottom: float, top: float | None = None, **more: float) -> Obstacle:
    y = more.get("y", 1500.0)
    return thing(
        Kind.DUCT, box(-200, y, 6500, y + more.get("width", 400.0)), bottom, top or bottom + 250, "duct"
    )


class TestHeights:
    @pytest.mark.parametrize("above", [-60.0, 0.0, 20.0, 37.0])
    def test_the_ceiling_is_lowered_by_what_is_missing_to_the_mm(self, above: float):
        ceiling, near, finding = solved("service-in-ceiling", duct(LEVEL + above))
        found = way(finding, WayKind.LOWER_CEILING)
        assert found.amount == TILT_IN - above
        assert found.is_clear
        assert not failing(lowered(ceiling, found.amount, near), near)
        assert failing(lowered(ceiling, found.amount - 1, near), near)
        (change,) = found.changes
        assert (change.before, change.after) == (2700.0, 2700.0 - found.amount)
        assert found.steps[0].key == ZONE.rooms[0].key
        assert found.steps[0].vector == (0.0, 0.0, -found.amount)

    def test_what_lies_too_low_for_tilting_alone_is_lowered_for_that(self):
        _, _, finding = solved("panel-tilt-in", duct(LEVEL + 70))
        assert way(finding, WayKind.LOWER_CEILING).amount == TILT_IN - 70

    def test_a_service_is_raised_where_there_is_room_over_it(self):
        _, near, finding = solved("service-in-ceiling", duct(LEVEL + 10))
        found = way(finding, WayKind.MOVE_OBSTACLE)
        assert found.amount == TILT_IN - 10
        assert found.who == "Ventilation"
        up = [affinity_z(o, found.amount) if o.key == "duct" else o for o in near]
        assert not failing(hang_ceiling(ZONE, SYSTEM, POLICY, up), up)

    def test_it_is_not_raised_into_what_is_over_it(self):
        tray = thing(Kind.TRAY, box(0, 1500, 3000, 1800), LEVEL + 300, LEVEL + 360, "tray")
        _, _, finding = solved("service-in-ceiling", duct(LEVEL + 10), tray)
        assert [w.kind for w in finding.ways_out if w.is_clear] == [WayKind.LOWER_CEILING]
        assert way(finding, WayKind.MOVE_OBSTACLE).amount == MAIN - 10  # as far as it can go

    def test_a_beam_is_not_raised(self):
        beam = thing(Kind.BEAM, box(-500, 2000, 7000, 2300), LEVEL + 30, SOFFIT, "beam")
        _, _, finding = solved("structure-in-ceiling", beam)
        assert {w.kind for w in finding.ways_out} == {WayKind.LOWER_CEILING}
        assert finding.ways_out[0].amount == TILT_IN - 30

    def test_what_else_fails_then_is_said(self):
        door = thing(Kind.DOOR, box(1000, -150, 1900, -50), 0.0, LEVEL - 50, "door")
        _, _, finding = solved("service-in-ceiling", duct(LEVEL, SOFFIT), door)
        found = way(finding, WayKind.LOWER_CEILING)
        assert not found.is_clear
        assert any("head" in words for words in found.brings)
        assert any("2650 mm" in words for words in found.limits)


def affinity_z(obstacle: Obstacle, rise: float) -> Obstacle:
    return replace(obstacle, bottom=obstacle.bottom + rise, top=obstacle.top + rise)


class TestPlan:
    def test_a_light_off_the_module_moves_back(self):
        # Cells begin at 350 and 335; the middle of cell 4, 3 is at 350 + 3.5 x 600, 335 + 2.5 x 600.
        middle = (350 + 3.5 * 600, 335 + 2.5 * 600)
        others = [light(350 + 600 * (k + 0.5), middle[1], key=f"other {k}") for k in (0, 1, 6)]
        near = [SLAB, light(middle[0] + 40, middle[1] - 25), *others]
        layout = hang_ceiling(ZONE, SYSTEM, POLICY, [SLAB, *others]).layout
        ceiling = hang_ceiling(ZONE, SYSTEM, POLICY, near, shared=layout)
        _, _, finding = solved("device-off-module", *near[1:], ceiling=ceiling)
        found = way(finding, WayKind.MOVE_DEVICE)
        assert found.is_clear
        assert found.steps[0].vector == pytest.approx((-40, 25, 0))
        shifted = way(finding, WayKind.SHIFT_GRID)
        assert shifted.steps[0].vector == pytest.approx((40, -25, 0))
        assert not shifted.is_clear  # the other lights are then off

    def test_the_grid_goes_to_a_light_that_stands_alone_at_the_cost_that_arithmetic_says(self):
        free = hang_ceiling(ZONE, SYSTEM, POLICY, [SLAB]).layout
        lamp = light(350 + 3.5 * 600 + 40, 335 + 2.5 * 600)
        ceiling = hang_ceiling(ZONE, SYSTEM, POLICY, [SLAB, lamp], shared=free)
        _, near, finding = solved("device-off-module", lamp, ceiling=ceiling)
        found = way(finding, WayKind.SHIFT_GRID)
        assert found.is_clear
        cost = {c.what: (c.before, c.after) for c in found.changes}
        assert cost["narrowest border along the mains"] == pytest.approx((350, 310))
        assert cost["narrowest border across the mains"] == pytest.approx((335, 335))
        frame = replace(free.frame, x=free.frame.x + 40)
        moved = hang(ceiling, ZONE, replace(free, frame=frame), near)
        assert not failing(moved, near)

    def test_a_border_that_becomes_too_narrow_is_no_clear_way(self):
        free = hang_ceiling(ZONE, SYSTEM, POLICY, [SLAB]).layout
        lamp = light(350 + 3.5 * 600 + 60, 335 + 2.5 * 600)
        ceiling = hang_ceiling(ZONE, SYSTEM, POLICY, [SLAB, lamp], shared=free)
        _, _, finding = solved("device-off-module", lamp, ceiling=ceiling)
        found = way(finding, WayKind.SHIFT_GRID)
        assert not found.is_clear
        assert found.brings == ("the policy's least border (1/2 module) is no longer met",)

    def test_a_sprinkler_on_a_tee_goes_to_an_agreed_point(self):
        spot = (350 + 3 * 600, 335 + 2.5 * 600)
        ceiling, _, finding = solved("sprinkler-on-member", head(*spot))
        found = way(finding, WayKind.MOVE_DEVICE)
        assert found.is_clear
        end = np.array(spot) + found.steps[0].vector[:2]
        share = ceiling.layout.frame.to_local([end])[0] / 600 % 1
        assert all(min(abs(s - q) for q in (0.25, 0.5, 0.75)) < 1e-6 for s in share)
        assert found.amount == pytest.approx(150)

    def test_of_two_that_overlap_the_light_yields_to_a_free_cell(self):
        lamp, pipe = (350 + 3.5 * 600, 335 + 2.5 * 600), (350 + 3 * 600 + 150, 335 + 2.5 * 600)
        beside = light(lamp[0] + 600, lamp[1], key="beside")
        _, near, finding = solved("devices-overlap", light(*lamp), head(*pipe), beside)
        found = way(finding, WayKind.MOVE_DEVICE)
        assert found.is_clear
        assert found.who == finding.trade == "Lighting"
        assert [step.key for step in found.steps] == ["light"]
        x, y, _ = found.steps[0].vector
        after = [
            replace(o, outline=affinity.translate(o.outline, x, y)) if o.key == "light" else o for o in near
        ]
        assert not failing(hang_ceiling(ZONE, SYSTEM, POLICY, after), after)
        assert (round(x) % 600, round(y) % 600) == (0, 0)
        assert (x, y) != (600, 0)  # that cell is taken


class TestHangers:
    def test_hangers_that_run_into_a_new_duct_are_hung_again(self):
        before = hang_ceiling(ZONE, SYSTEM, POLICY, [SLAB])
        line = float(before.layout.frame.to_world(before.hangers.point)[0, 0])
        riser = thing(Kind.DUCT, box(line - 150, -100, line + 150, 4400), LEVEL + 250, LEVEL + 400, "duct")
        _, near, finding = solved("hanger-through-service", riser, ceiling=before)
        found = way(finding, WayKind.REROUTE_HANGER)
        assert found.is_clear
        assert found.amount > 150
        assert all(step.key.startswith(f"{before.key}/hanger/") for step in found.steps)
        assert not failing(hang_ceiling(ZONE, SYSTEM, POLICY, near), near)

    def test_mains_under_a_wide_low_duct_are_lowered_until_a_trapeze_fits(self):
        wide = duct(LEVEL + 105, LEVEL + 400, y=500.0, width=1500.0)
        turned = thing(Kind.DUCT, box(2000, -300, 3500, 4600), LEVEL + 105, LEVEL + 400, "duct")
        assert wide.bottom == turned.bottom
        _, near, finding = solved("main-without-hanger", turned)
        found = way(finding, WayKind.LOWER_CEILING)
        rules = SYSTEM.hanging
        room = MAIN + rules.shortest + rules.bar_depth + rules.clearance
        assert found.amount == pytest.approx(room - 105)
        low = hang_ceiling(replace(ZONE, level=LEVEL - found.amount), SYSTEM, POLICY, near)
        assert not failing(low, near)
        assert low.trapezes is not None


class TestBraces:
    HALL = build_ceiling(rectangle(12_000, 11_000), (600, 400)).zone

    def hung(self, near: Sequence[Obstacle]) -> Ceiling:
        held = read_restraint({"category": "D"})
        return hang_ceiling(self.HALL, SYSTEM, POLICY, near, restraint=held)

    def again(self, _: Ceiling, zone: Zone, layout: Layout, near: Sequence[Obstacle]) -> Ceiling:
        held = read_restraint({"category": "D"})
        return hang_ceiling(zone, SYSTEM, POLICY, near, shared=layout, restraint=held)

    def test_sets_whose_wires_pass_a_new_pipe_too_near_are_laid_out_again(self):
        slab = thing(Kind.SLAB, box(-500, -500, 13_000, 12_000), SOFFIT, SOFFIT + 200, "slab")
        before = self.hung([slab])
        assert before.braces is not None
        x, y = before.layout.frame.to_world(before.braces.point)[0]
        pipe = thing(Kind.PIPE, box(x + 150, y - 400, x + 250, y + 400), LEVEL + 200, LEVEL + 300, "pipe")
        near = [slab, pipe]
        told = judge_ceiling(before, near)
        found = add_ways_out(told, [before], near, hang=self.again, judge=judge_ceiling)
        (finding,) = (f for f in found if f.rule == "brace-near-service")
        (first, *_) = [w for w in finding.ways_out if w.kind is WayKind.REROUTE_HANGER]
        assert first.is_clear
        assert first.text.startswith("lay the braces out again")
        assert "brace-near-service" not in {f.rule for f in failing(self.hung(near), near)}

    def test_where_nothing_is_known_of_what_holds_it_none_are_laid_out(self):
        slab = thing(Kind.SLAB, box(-500, -500, 13_000, 12_000), SOFFIT, SOFFIT + 200, "slab")
        before = self.hung([slab])
        assert before.braces is not None
        x, y = before.layout.frame.to_world(before.braces.point)[0]
        pipe = thing(Kind.PIPE, box(x + 150, y - 400, x + 250, y + 400), LEVEL + 200, LEVEL + 300, "pipe")
        near = [slab, pipe]
        found = add_ways_out(judge_ceiling(before, near), [before], near, hang=hang, judge=judge_ceiling)
        (finding,) = (f for f in found if f.rule == "brace-near-service")
        assert finding.ways_out == ()


def test_what_somebody_waived_is_left_alone():
    near = [SLAB, duct(LEVEL)]
    ceiling = hang_ceiling(ZONE, SYSTEM, POLICY, near)
    waived = [
        replace(f, waiver=Waiver(reason="boxed in", by="A. Person")) for f in judge_ceiling(ceiling, near)
    ]
    found = add_ways_out(waived, [ceiling], near, hang=hang, judge=judge_ceiling)
    assert all(f.ways_out == () for f in found)


def test_a_trial_that_breaks_stops_no_other_cause():
    near = [SLAB, duct(LEVEL)]
    ceiling = hang_ceiling(ZONE, SYSTEM, POLICY, near)
    told = judge_ceiling(ceiling, near)

    def broken(*_: object) -> Ceiling:
        raise IndexError

    found = add_ways_out(told, [ceiling], near, hang=broken, judge=judge_ceiling)
    assert [replace(f, ways_out=()) for f in found] == list(told)
    assert all(f.ways_out == () for f in found)
