"""Braces and device wires against services and structure, about each limit by 1 mm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from handmade_obstacles import GRID_TOP, LEVEL, SOFFIT, meshed, only, rod, room, rules, thing
from shapely import box

from ifcgrid.checks.clash import find_clashes
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.hanging import Braces, Wires
from ifcgrid.domain.obstacle import Kind

RISE = SOFFIT - GRID_TOP
CLEARANCE = 152.4
"""6 in, from memory: California DSA IR 25-2; ASTM E580 5.2.8."""

SLAB = thing(Kind.SLAB, box(-500, -500, 6500, 5300), SOFFIT, SOFFIT + 250, "slab")


def braced(**changes) -> Ceiling:
    """The room with one set at u = 3000, v = 2400, wires at 45 degrees along the axes."""
    at = np.array([3000.0, 2400.0])
    run = np.array([(RISE, 0), (0, RISE), (-RISE, 0), (0, -RISE)])
    values = {
        "line": np.array([4], dtype=np.int32),
        "column": np.array([5], dtype=np.int32),
        "point": at[None],
        "post_top": np.array([SOFFIT]),
        "wire_top": np.concatenate([at + run, np.full((4, 1), SOFFIT)], axis=1)[None],
        "support": (("slab",) * 5,),
    }
    return replace(room(), braces=Braces(**(values | changes)))


def _duct_by_the_wire(gap: float):
    """A round duct along v whose skin passes the wire to +u at a distance, and crosses no hanger."""
    ceiling = braced()
    # The wire runs along (1, 0, 1): a duct under its middle stands square to it.
    middle = np.array([3000 + RISE / 2, GRID_TOP + RISE / 2])
    away = (gap + 100.0) / np.sqrt(2)
    x, z = middle[0] + away, middle[1] - away
    return ceiling, meshed(Kind.DUCT, rod((x, 1500, z), (x, 3300, z), 100.0, sides=360), "duct")


@pytest.mark.parametrize(("gap", "hits"), [(CLEARANCE + 1, False), (CLEARANCE - 1, True)])
def test_a_splay_wire_keeps_six_inches_from_a_duct(gap, hits):
    ceiling, duct = _duct_by_the_wire(gap)
    found = [f for f in rules(ceiling, SLAB, duct) if f.startswith("brace")]
    assert found == (["brace-near-service"] if hits else [])


def test_a_wire_through_a_duct_says_so_and_names_wire_and_duct():
    ceiling, _ = _duct_by_the_wire(0)
    duct = thing(Kind.DUCT, box(3150, 2250, 3400, 2550), GRID_TOP + 150, GRID_TOP + 500, "duct")
    finding = only(ceiling, SLAB, duct)
    assert finding.rule == "brace-near-service"
    assert finding.verdict is Verdict.FAIL
    assert finding.value == 0.0
    assert finding.limit == pytest.approx(CLEARANCE)
    assert "passes through duct 'duct'" in finding.message or "pass through duct 'duct'" in finding.message
    assert finding.subjects[0] == "duct"
    assert f"{ceiling.key}/brace/4/5/wire/0" in finding.subjects


def test_the_message_gives_the_distance_and_what_the_model_does_not_say():
    ceiling, duct = _duct_by_the_wire(80.0)
    finding = next(f for f in _findings(ceiling, duct) if f.rule == "brace-near-service")
    assert finding.value == pytest.approx(80.0, abs=0.5)
    assert "80 mm from duct 'duct'; whether it is braced is not in the model" in finding.message


def _findings(ceiling: Ceiling, *obstacles):
    return find_clashes(ceiling, [SLAB, *obstacles])


def test_a_duct_over_a_post_is_told_with_the_post():
    tray = thing(Kind.TRAY, box(2950, 2350, 3050, 2450), GRID_TOP + 500, GRID_TOP + 560, "tray")
    found = {f.rule: f for f in _findings(braced(), tray)}
    assert found["post-through-service"].subjects == ("tray", f"{braced().key}/brace/4/5/post")


def test_a_beam_that_a_wire_runs_through_is_told_unless_the_wire_is_fixed_to_it():
    beam = thing(Kind.BEAM, box(3300, -500, 3350, 5300), GRID_TOP + 280, SOFFIT, "beam")
    found = [f.rule for f in _findings(braced(), beam)]
    assert "brace-through-structure" in found
    wire_top = braced().braces.wire_top.copy()
    wire_top[0, 0] = (3300.0, 2400.0, GRID_TOP + 300)
    fixed = braced(wire_top=wire_top, support=(("slab", "beam", "slab", "slab", "slab"),))
    assert "brace-through-structure" not in [f.rule for f in _findings(fixed, beam)]


def test_a_set_that_lacks_a_wire_fails_and_without_any_structure_it_is_unknown():
    wire_top = braced().braces.wire_top.copy()
    wire_top[0, 2] = np.nan
    found = next(f for f in _findings(braced(wire_top=wire_top)) if f.rule == "brace-incomplete")
    assert found.verdict is Verdict.FAIL
    assert "1 wires or posts" in found.message
    bare = braced(wire_top=np.full((1, 4, 3), np.nan), post_top=np.array([np.nan]), support=(("",) * 5,))
    unknown = next(f for f in find_clashes(bare, []) if f.rule == "brace-incomplete")
    assert unknown.verdict is Verdict.UNKNOWN


@pytest.mark.parametrize(("x", "hits"), [(1352.0, False), (1348.0, True)])
def test_a_device_wire_that_runs_through_a_pipe_is_told(x, hits):
    wires = Wires(
        device=("lamp",),
        number=np.array([0], dtype=np.int32),
        point=np.array([(1350.0, 1500.0)]),
        bottom=np.array([LEVEL + 80]),
        top=np.array([SOFFIT]),
        is_slack=np.array([True]),
        support=("slab",),
    )
    pipe = thing(Kind.PIPE, box(x, 1450, x + 60, 1550), GRID_TOP + 200, GRID_TOP + 260, "pipe")
    found = [f for f in _findings(replace(room(), wires=wires), pipe)]
    assert [f.rule for f in found] == (["device-wire-through-service"] if hits else [])
    if hits:
        assert found[0].subjects == ("pipe", f"{room().key}/wire/lamp/0")


def test_pieces_of_one_run_are_one_finding():
    pieces = [
        thing(Kind.DUCT, box(3200, 2000 + 400 * k, 3350, 2390 + 400 * k), GRID_TOP + 150, SOFFIT, f"d{k}")
        for k in range(3)
    ]
    found = [f for f in _findings(braced(), *pieces) if f.rule == "brace-near-service"]
    assert len(found) == 1
    assert found[0].subjects == ("d0", "d1", f"{room().key}/brace/4/5/wire/0")
