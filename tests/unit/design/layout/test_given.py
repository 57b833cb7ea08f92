"""A given lattice is measured as the solver measures its own."""

from __future__ import annotations

import pytest
import shapely
from shapely import affinity

from ifcgrid.design.layout import measure_layout, solve_layout
from ifcgrid.domain.frame import Frame
from ifcgrid.policies import read_policy
from ifcgrid.systems import list_systems, read_system

L_ROOM = shapely.Polygon([(0, 0), (6350, 0), (6350, 3200), (3708, 3200), (3708, 5080), (0, 5080)])


@pytest.mark.parametrize("system_id", list_systems())
@pytest.mark.parametrize("turn", [0.0, 17.0, 107.0])
def test_the_solvers_own_lattice_measures_the_same(system_id, turn):
    system, policy = read_system(system_id), read_policy("half-module")
    outline = affinity.rotate(L_ROOM, turn, origin=(0, 0))
    solved = solve_layout(outline, system, policy)
    given = measure_layout(outline, system, policy, solved.frame, solved.main_phase)
    assert given.certificate.method == "given"
    assert (given.columns, given.rows, given.main_phase) == (solved.columns, solved.rows, solved.main_phase)
    assert given.frame.to_local([[solved.frame.x, solved.frame.y]]) == pytest.approx(0, abs=1e-6)
    assert [b.least for b in given.borders] == pytest.approx([b.least for b in solved.borders], abs=1e-6)


def test_any_node_will_do_and_the_mains_stay_where_they_are():
    system, policy = read_system("lay-in-600x600"), read_policy("half-module")
    near = measure_layout(L_ROOM, system, policy, Frame(x=-200.0, y=-100.0), 1)
    far = measure_layout(L_ROOM, system, policy, Frame(x=-200.0 + 4 * 600, y=-100.0 - 3 * 600), 0)
    turned = measure_layout(L_ROOM, system, policy, Frame(x=-200.0, y=-100.0, angle_deg=180.0), 1)
    assert near.frame == far.frame == turned.frame == Frame(x=-200.0, y=-100.0)
    assert near.main_phase == far.main_phase == turned.main_phase == 1
