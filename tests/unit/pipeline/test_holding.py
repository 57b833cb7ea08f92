"""What carries a zone's ceiling, put together: each gap at a wall or joint is left once."""

from __future__ import annotations

import numpy as np
import pytest
from handmade_lattices import make_layout, make_zone
from shapely import box

from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.restraint_plan import read_restraint
from ifcgrid.pipeline.holding import Holding, hold_up
from ifcgrid.systems import read_system

SYSTEM = read_system("lay-in-600x600")
ROOM = box(0, 0, 8000, 6000)
END_GAP = 3.0  # of the system


LAYOUT = make_layout(ROOM, 600, 600, node=(250, 150), main_every=2)


def _hold(category: str | None) -> Holding:
    wanted = read_restraint({"category": category}) if category else None
    return hold_up(make_zone(ROOM), SYSTEM, LAYOUT, (), (), wanted)


def _gaps_at_walls(held: Holding) -> np.ndarray:
    """How far from the walls across the mains their first and last pieces stop (mains, 2)."""
    members, pieces = held.restraint.members, held.pieces
    assert pieces is not None
    low, _, high, _ = LAYOUT.frame.shape_to_local(ROOM).bounds
    gaps = []
    for main in np.flatnonzero(members.role == Role.MAIN_RUNNER).tolist():
        own = pieces.member == main
        begin = members.start[main, 0] + pieces.start[own].min()
        end = members.start[main, 0] + pieces.end[own].max()
        gaps.append((begin - low, high - end))
    return np.array(gaps)


@pytest.mark.parametrize(
    ("category", "wanted"),
    [
        (None, {END_GAP}),
        ("C", {9.525}),  # 3/8 in at all walls
        ("D", {0.0, 19.05}),  # attached at one end, 3/4 in at the other: ASCE 7-05 13.5.6.2.2 b
    ],
)
def test_pieces_stop_short_of_walls_by_one_gap(category: str | None, wanted: set[float]) -> None:
    assert set(np.round(_gaps_at_walls(_hold(category)), 6).ravel().tolist()) == wanted


def test_pieces_of_a_restrained_ceiling_fill_its_members() -> None:
    held = _hold("D")
    assert held.pieces is not None
    total = np.zeros(len(held.restraint.members))
    np.add.at(total, held.pieces.member, held.pieces.length)
    roles = held.restraint.members.role
    cut = np.isin(roles, (Role.MAIN_RUNNER, Role.CROSS_TEE, Role.SECOND_TEE))
    assert total[cut] == pytest.approx(held.restraint.members.length[cut])
