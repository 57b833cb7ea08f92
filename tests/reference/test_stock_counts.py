"""Stock of the manual's room, counted on paper.

The room of 13 ft 7 in by 10 ft 4 in, 12 ft stock and the rule that no more than two border
tees come from one cross tee stand in NAVEDTRA 14044, Builder, p. 5-16 and 5-17. Every count
below is derived from them: two runs of 163 in need two 12 ft mains each, three in all when
the off-cut of the first starts the second; border tees of 38 in need a 4 ft tee each, those
of 21 1/2 in share one by twos.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from handmade_lattices import make_layout, make_zone
from shapely import box

from ifcgrid.design.framing import place_members
from ifcgrid.design.stock import cut_pieces
from ifcgrid.domain.ceiling import Role
from ifcgrid.systems import read_system

INCH = 25.4

CASES = {
    "2 x 4 ft, mains along 13 ft 7 in": ((163, 124), "lay-in-2x4-ft", (21.5, 38), (4, 3), 2, 18, 0),
    "2 x 2 ft, mains along 13 ft 7 in": ((163, 124), "lay-in-2x2-ft", (21.5, 38), (4, 3), 2, 18, 21),
    "2 x 4 ft, mains along 10 ft 4 in": ((124, 163), "lay-in-2x4-ft", (14, 33.5), (3, 3), 0, 20, 0),
    "2 x 2 ft, mains along 10 ft 4 in": ((124, 163), "lay-in-2x2-ft", (14, 21.5), (3, 3), 0, 18, 18),
}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("chain", [0, 1, 3])
def test_stock_parts_and_splices(name: str, chain: int) -> None:
    (length, width), system_id, node, mains, splices, cross_tees, second_tees = CASES[name]
    system = read_system(system_id)
    assert system.cutting
    system = replace(system, cutting=replace(system.cutting, end_gap=0.0, offcut_chain=chain))
    room = box(0, 0, length * INCH, width * INCH)
    layout = make_layout(
        room, system.along, system.across, node=(node[0] * INCH, node[1] * INCH), main_every=system.main_every
    )
    members = place_members(make_zone(room), system, layout)
    cut = cut_pieces(system, layout, members)
    assert cut
    role = members.role[cut.pieces.member]
    assert cut.pieces.stock is not None
    found = {r: len(np.unique(cut.pieces.stock[role == r])) for r in Role}
    assert found[Role.MAIN_RUNNER] == mains[chain > 0]
    assert found[Role.CROSS_TEE] == cross_tees
    assert found[Role.SECOND_TEE] == second_tees
    assert int((cut.pieces.number > 0).sum()) == splices
    assert cut.notes == ()
