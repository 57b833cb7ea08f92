"""What records and sheets say of pieces and hangers that do not go straight up."""

from __future__ import annotations

import pytest
from handmade_lattices import LEVEL, make_layout, make_room, make_zone
from handmade_obstacles import thing
from shapely import box

from ifcgrid.design.framing import place_members
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.stock import cut_pieces
from ifcgrid.design.suspension import hang
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.marks import mark_panels
from ifcgrid.domain.obstacle import Kind
from ifcgrid.outputs.pieces import record_pieces
from ifcgrid.outputs.setout.control import plan_setout
from ifcgrid.outputs.setout.cuts import cut_lines, kind_lines
from ifcgrid.systems import read_system

TOP = LEVEL + 38


def _ceiling(*services, system="lay-in-600x600", has_pieces=True, halves=False) -> Ceiling:
    grid, room = read_system(system), box(0, 0, 6100, 4270)
    rooms = ()
    if halves:
        rooms = (make_room(box(0, 0, 6100, 1500), "S"), make_room(box(0, 1500, 6100, 4270), "N"))
    zone = make_zone(room, *rooms)
    layout = make_layout(room, grid.along, grid.across, node=(350, 335 + 600), main_every=grid.main_every)
    members = place_members(zone, grid, layout)
    cut = cut_pieces(grid, layout, members)
    assert cut
    slab = thing(Kind.SLAB, box(-500, -500, 6600, 4800), TOP + 1200, TOP + 1400, "slab")
    hung = hang(zone, grid, layout, members, [slab], pieces=cut.pieces, services=services)
    return Ceiling(
        zone=zone,
        system=grid,
        layout=layout,
        panels=cut_panels(zone, layout),
        members=members,
        hangers=hung.hangers,
        pieces=cut.pieces if has_pieces else None,
        trapezes=hung.trapezes,
    )


def test_the_record_counts_pieces_splices_and_stock():
    # Three runs of 6,100 mm with the first tee line at 350 mm: two mains of 3,600 mm each. What is
    # left, 1,078 mm, would start a run but leave 5,072 mm, again two mains.
    record = record_pieces(_ceiling(), 0)
    assert record["hanger_kinds"]["straight"] == len(_ceiling().hangers)
    assert record["trapezes"] == 0
    assert record["pieces"]["splices"] == 3
    assert record["pieces"]["stock"]["mains"] == [{"length_mm": 3600.0, "count": 6}]
    assert sum(record["pieces"]["marks"].values()) == record["pieces"]["count"]


def test_rooms_under_one_ceiling_share_its_pieces():
    ceiling = _ceiling(halves=True)
    both = [record_pieces(ceiling, k) for k in (0, 1)]
    assert ceiling.pieces is not None
    assert sum(r["pieces"]["count"] for r in both) == len(ceiling.pieces)
    mains = sum(row["count"] for r in both for row in r["pieces"]["stock"]["mains"])
    assert mains == 6
    assert sum(r["hanger_kinds"]["straight"] for r in both) == len(ceiling.hangers)


def test_a_ceiling_whose_pieces_are_not_known_says_so():
    ceiling = _ceiling(has_pieces=False)
    assert record_pieces(ceiling, 0)["pieces"] is None
    lines = cut_lines(ceiling, plan_setout(ceiling), "mm")
    assert not any("splice" in line or line.startswith("Stock") for line in lines)
    # Mains of 6,100 mm in a stock of 3,600: three whole bars and three rests of 2,500 mm.
    assert "Mains: M0 3 x 3600 whole; M1 3 x 2500." in "\n".join(lines).replace("\u00a0", " ")


def test_the_cut_list_names_every_mark_of_mains_with_its_first_hole():
    ceiling = _ceiling()
    assert ceiling.pieces is not None
    lines = cut_lines(ceiling, plan_setout(ceiling), "mm")
    text = "\n".join(lines).replace("\u00a0", " ")
    for mark in ceiling.pieces.mark:
        assert f"{mark} " in text
    # The first piece: first tee line at 350 mm, end gap 3 mm, so slot 375 comes to 347 from the cut.
    assert "(28 off a stock main)" in text
    assert "first hole 47 from that cut" in text
    assert lines[-1].startswith("Stock: 6 mains of 3600")


def test_the_cut_list_names_wall_angles_and_cut_panels_by_their_marks():
    ceiling = _ceiling()
    text = "\n".join(cut_lines(ceiling, plan_setout(ceiling), "mm")).replace("\u00a0", " ")
    # Walls of 6,100 and 4,270 mm from bars of 3,000 mm: 2 + 2 and 1 + 1 whole, rests of 100 and 1,270 mm.
    assert "Wall angle: A0 6 x 3000 whole; A1 2 x 1270; A2 2 x 100." in text
    for mark in set(mark_panels(ceiling.panels)) - {"P0"}:
        assert f" {mark} " in text


def test_hangers_that_lean_and_trapezes_are_named_by_number():
    pipe = thing(Kind.PIPE, box(-100, 2100, 6200, 2170), TOP + 900, TOP + 960, "pipe")
    leaning = kind_lines(_ceiling(pipe), "mm")
    assert any("lean past something, at most 1 in 6" in line for line in leaning)
    assert any("lean back" in line for line in leaning)
    duct = thing(Kind.DUCT, box(1500, -100, 3200, 4400), TOP + 120, TOP + 400, "duct")
    ceiling = _ceiling(duct)
    assert ceiling.trapezes is not None
    lines = kind_lines(ceiling, "mm")
    assert any("hang from trapezes" in line for line in lines)
    assert any(line.startswith(f"Trapeze bars between rods: {len(ceiling.trapezes)} x") for line in lines)


@pytest.mark.parametrize(("system", "has_wires"), [("lay-in-600x600", False), ("lay-in-2x2-ft", True)])
def test_wires_are_cut_longer_than_they_hang(system, has_wires):
    lines = kind_lines(_ceiling(system=system), "mm")
    assert any("for the wraps" in line for line in lines) == has_wires
