"""What the set-out sheet says of devices that stand off the grid."""

from __future__ import annotations

from dataclasses import replace

import pytest
from handmade_ceilings import build_ceiling, rectangle

from ifcgrid.domain.seat import Hold, Move, Seat, Seating
from ifcgrid.outputs.setout import draw_setout
from ifcgrid.outputs.setout.devices import device_lines

LIGHT = Move(
    key="0a", kind="light", name="Light 7", room=0, hold=Hold.FIXED, seat=Seat.CELL,
    start=(940.0, 915.0), end=(900.0, 927.0),
)  # fmt: skip


def lines(*moves: Move, units: str = "mm") -> list[str]:
    made = build_ceiling(rectangle(6100, 4270), (350, 335))
    return device_lines(replace(made, seating=Seating(moves=moves)), units)


def test_the_way_is_told_by_the_walls_of_the_sheet():
    # The outline begins at the right: wall A, then B above, C at the left, D below.
    assert lines(LIGHT) == ["Off the grid: light Light 7, move 40 towards wall C and 12 towards wall B"]


@pytest.mark.parametrize(("units", "length"), [("mm", "40"), ("ft-in", '1 9/16"')])
def test_lengths_are_in_the_sheet_s_unit(units, length):
    (line,) = lines(replace(LIGHT, end=(980.0, 915.0)), units=units)
    assert line.endswith(f"move {length} towards wall A")


def test_a_device_without_a_seat_says_why_and_a_turned_one_how_far():
    assert lines(replace(LIGHT, end=None, reason="no cell is free")) == [
        "Off the grid: light Light 7, no cell is free"
    ]
    assert lines(replace(LIGHT, end=LIGHT.start, turn_deg=-90.0)) == [
        "Off the grid: light Light 7, stays in its place, turn by -90.0°"
    ]


def test_many_are_cut_short_and_none_says_nothing():
    assert lines() == []
    told = lines(*(replace(LIGHT, key=f"{k}") for k in range(9)))
    assert len(told) == 7
    assert told[-1] == "... and 3 more: see the record."


def test_the_sheet_prints_it():
    made = build_ceiling(rectangle(6100, 4270), (350, 335))
    assert "Off the grid" in draw_setout(replace(made, seating=Seating(moves=(LIGHT,))), units="mm", stamp={})
