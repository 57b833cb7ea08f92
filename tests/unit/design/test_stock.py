"""Cuts of mains and tees, case by case.

Slots of mains at 3 in and every 6 in, or 75 mm and every 150 mm: from memory, so the trims
that follow from them test the arithmetic only.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from handmade_lattices import make_layout, make_zone
from shapely import Polygon, box

from ifcgrid.design.framing import place_members
from ifcgrid.design.main_cuts import MainCutter, MainRun, first_cut
from ifcgrid.design.stock import Cut, carried_ends, cut_pieces
from ifcgrid.domain.ceiling import Members, Opening, Role
from ifcgrid.domain.hanging import Pieces
from ifcgrid.domain.scheme import Cutting
from ifcgrid.domain.system import GridSystem
from ifcgrid.systems import read_system

INCH = 25.4
INCHES = Cutting(hole_pitch=6 * INCH, first_hole=3 * INCH, tees=(48 * INCH, 24 * INCH))
METRIC = read_system("lay-in-600x600")


def _cut(
    room: Polygon,
    system: GridSystem = METRIC,
    node: tuple[float, float] = (0, 1200),
    openings: tuple[Opening, ...] = (),
    **cutting: object,
) -> tuple[Members, Cut]:
    assert system.cutting
    system = replace(system, cutting=replace(system.cutting, **cutting))
    layout = make_layout(room, system.along, system.across, node=node, main_every=system.main_every)
    members = place_members(make_zone(room), system, layout, openings)
    cut = cut_pieces(system, layout, members)
    assert cut
    return members, cut


def _of(members: Members, pieces: Pieces, role: Role) -> np.ndarray:
    return np.flatnonzero(members.role[pieces.member] == role)


@pytest.mark.parametrize(
    ("first_line", "gap", "trim", "slot"),
    [(21.5, 0.0, 5.5, 27.0), (14.0, 0.0, 1.0, 15.0), (21.5, 0.125, 5.625, 27.0)],
)
def test_the_first_slot_beyond_the_first_tee_line_is_brought_onto_it(first_line, gap, trim, slot) -> None:
    at = first_cut((first_line - gap) * INCH, INCHES)
    assert at == pytest.approx(trim * INCH)
    assert at + (first_line - gap) * INCH == pytest.approx(slot * INCH)


def test_the_same_in_millimetres() -> None:
    assert first_cut(350.0, Cutting(hole_pitch=150, first_hole=75, tees=())) == pytest.approx(25.0)


def test_a_line_nearer_than_the_first_slot_is_met_by_that_slot() -> None:
    assert first_cut(2 * INCH, INCHES) == pytest.approx(1 * INCH)


def test_a_run_longer_than_the_stock_is_spliced_and_leaves_an_offcut() -> None:
    cutter = MainCutter(cutting=INCHES, stock_length=144 * INCH, spacing=1)
    pieces = cutter.cut(MainRun(line=0, start=0.0, length=163 * INCH, first_line=21.5 * INCH))
    assert [round((p.end - p.start) / INCH, 6) for p in pieces] == [138.5, 24.5]
    assert cutter.used == 2
    ((begin, stock),) = cutter.offcuts
    assert (144 - begin / INCH, stock) == (pytest.approx(119.5), 1)


def test_an_offcut_starts_the_next_run_cut_on_to_the_same_phase() -> None:
    cutter = MainCutter(cutting=INCHES, stock_length=144 * INCH, spacing=1)
    run = MainRun(line=0, start=0.0, length=163 * INCH, first_line=21.5 * INCH)
    cutter.cut(run)
    second = cutter.cut(replace(run, line=1))
    assert cutter.used == 3
    assert (second[0].stock, second[0].stock_start / INCH) == (1, pytest.approx(29.5))
    assert (29.5 - 5.5) % 6 == 0


def test_an_offcut_that_saves_nothing_stays_where_it_is() -> None:
    cutter = MainCutter(cutting=INCHES, stock_length=144 * INCH, spacing=1)
    run = MainRun(line=0, start=0.0, length=124 * INCH, first_line=14 * INCH)
    for line in range(3):
        (piece,) = cutter.cut(replace(run, line=line))
        assert piece.stock_start == pytest.approx(INCH)
    assert cutter.used == 3


def test_splices_of_neighbouring_mains_are_staggered_when_asked() -> None:
    room = box(0, 0, 8000, 4800)
    members, plain = _cut(room, offcut_chain=0)
    _, cut = _cut(room, offcut_chain=0, stagger=600.0)
    for found, least in ((plain, 0.0), (cut, 600.0)):
        splices: dict[int, list[float]] = {}
        pieces = found.pieces
        for k in _of(members, pieces, Role.MAIN_RUNNER).tolist():
            if pieces.number[k]:
                splices.setdefault(int(members.line[pieces.member[k]]), []).append(float(pieces.start[k]))
        lines = sorted(splices)
        apart = min(
            abs(a - b) for one, other in pairwise(lines) for a in splices[one] for b in splices[other]
        )
        assert apart >= least
        assert (least > 0) == (apart > 0)
    assert cut.notes == ()


def test_a_stagger_that_cannot_be_kept_is_told() -> None:
    _, cut = _cut(box(0, 0, 8000, 2500), offcut_chain=0, stagger=1900.0, node=(0, 50))
    assert any("nearer than 1900 mm" in note for note in cut.notes)


def test_no_piece_is_shorter_than_the_least_piece() -> None:
    # 3620 mm from a hole 75 mm in: the plain cut would leave a last piece of 20 mm.
    room = box(0, 0, 3620, 2400)
    _, short = _cut(room, node=(75, 1200), end_gap=0.0, least_piece=0.0)
    _, cut = _cut(room, node=(75, 1200), end_gap=0.0, least_piece=150.0)
    assert short.pieces.length[short.pieces.number > 0].min() == pytest.approx(20.0)
    assert cut.pieces.length[cut.pieces.number > 0].min() >= 150.0
    assert cut.notes == ()


def test_holes_that_do_not_divide_the_module_are_told() -> None:
    _, cut = _cut(box(0, 0, 5000, 2400), hole_pitch=175.0)
    assert any("do not divide the module" in note for note in cut.notes)
    assert any("do not divide the stock length" in note for note in cut.notes)


def test_whole_tees_stay_whole_and_border_tees_keep_one_factory_end() -> None:
    members, cut = _cut(box(0, 0, 3600, 3300), node=(0, 1050))
    pieces = cut.pieces
    tees = _of(members, pieces, Role.CROSS_TEE)
    carried = carried_ends(
        members, make_layout(box(0, 0, 3600, 3300), 600, 600, node=(0, 1050), main_every=2)
    )
    whole = carried[pieces.member[tees]].all(axis=1)
    assert whole.any()
    assert (pieces.is_factory[tees] == carried[pieces.member[tees]]).all()
    assert (pieces.length[tees[whole]] == 1200).all()
    assert pieces.length[tees[~whole]] == pytest.approx(1050 - 3.0)  # the end gap


def test_two_border_tees_come_from_one_stock_tee_only_where_both_fit() -> None:
    # Borders of 400 mm on both sides: 400 + 400 <= 1200; of 700 mm: 1400 > 1200.
    for depth, each in ((2000, 0.5), (2600, 1.0)):
        border = (depth - 1200) / 2
        members, cut = _cut(box(0, 0, 3600, depth), node=(0, border), end_gap=0.0)
        tees = _of(members, cut.pieces, Role.CROSS_TEE)
        border_tees = tees[cut.pieces.length[tees] < 1200 - 1]
        assert cut.pieces.length[border_tees] == pytest.approx(border)
        assert cut.pieces.stock is not None
        assert len(np.unique(cut.pieces.stock[border_tees])) == each * len(border_tees)


def test_equal_pieces_share_a_mark_and_different_ones_do_not() -> None:
    members, cut = _cut(box(0, 0, 6100, 4270), node=(350, 335))
    pieces = cut.pieces
    by_mark: dict[str, set[tuple[float, ...]]] = {}
    for k, mark in enumerate(pieces.mark):
        role = int(members.role[pieces.member[k]])
        ends = tuple(sorted(pieces.is_factory[k].tolist())) if role else tuple(pieces.is_factory[k].tolist())
        by_mark.setdefault(mark, set()).add((role, round(float(pieces.length[k]), 3), *ends))
    assert all(len(kinds) == 1 for kinds in by_mark.values())
    assert {mark[0] for mark in by_mark} == {"M", "T", "S"}


def test_a_tee_along_a_long_opening_is_a_header_cut_from_a_main() -> None:
    # Five cells in a row are one device: the tees that would end in it are carried by one long tee.
    room = box(0, 0, 6000, 4800)
    opening = Opening(key="L", outline=box(1200, 600, 4200, 1200), room=0, is_lay_in=True, cells=(2, 1, 5, 1))
    members, cut = _cut(room, openings=(opening,))
    pieces = cut.pieces
    long = _of(members, pieces, Role.SECOND_TEE)
    long = long[pieces.length[long] > 1200]
    assert len(long)
    assert pieces.stock_length is not None
    assert (pieces.stock_length[long] == METRIC.main_stock).all()
    assert any("headers" in note for note in cut.notes)


def test_a_system_that_does_not_say_what_it_is_cut_from_has_no_pieces() -> None:
    room = box(0, 0, 3600, 2400)
    layout = make_layout(room, 600, 600, node=(0, 1200), main_every=2)
    bare = replace(METRIC, cutting=None)
    assert cut_pieces(bare, layout, place_members(make_zone(room), bare, layout)) is None


def test_a_room_without_mains_is_cut_as_well() -> None:
    members, cut = _cut(box(0, 0, 500, 500), node=(-100, -100))
    assert len(cut.pieces) == len(members.role[members.role != Role.WALL_ANGLE])


@pytest.mark.parametrize(("chain", "patterns", "mains"), [(0, 1, 48), (1, 2, 42), (9, 10, 38)])
def test_off_cuts_of_off_cuts_save_mains_and_make_more_patterns(chain, patterns, mains) -> None:
    # Twelve runs of 10,970 mm with the first tee line at 385 mm: 11,113 mm with the trim of 143.
    assert METRIC.cutting
    cutting = replace(METRIC.cutting, offcut_chain=chain)
    cutter = MainCutter(cutting=cutting, stock_length=3600.0, spacing=2)
    run = MainRun(line=0, start=0.0, length=10_970.0, first_line=385.0)
    cuts = [cutter.cut(replace(run, line=2 * k)) for k in range(12)]
    assert len({tuple((p.start, p.end) for p in cut) for cut in cuts}) == patterns
    assert cutter.used == mains
