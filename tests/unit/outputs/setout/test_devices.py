"""What the set-out sheet says of devices that stand off the grid."""

from __future__ import annotations

from dataclasses import replace

import pytest
from handmade_ceilings import build_ceiling, light, rectangle

from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.seat import Hold, Move, Seat, Seating
from ifcgrid.outputs.setout import draw_setout
from ifcgrid.outputs.setout.control import plan_setout
from ifcgrid.outputs.setout.devices import device_block, find_devices

LIGHT = Move(
    key="0a", kind="light", name="Light 7", room=0, hold=Hold.FIXED, seat=Seat.CELL,
    start=(940.0, 915.0), end=(900.0, 927.0),
)  # fmt: skip


def lines(*moves: Move, units: str = "mm", most: int = 100) -> list[str]:
    made = build_ceiling(rectangle(6100, 4270), (350, 335))
    ceiling = replace(made, seating=Seating(moves=moves))
    block = device_block(ceiling, plan_setout(ceiling), units, find_devices(ceiling), most)
    assert block.lines[0].startswith(
        "Middles: along the mains from string 2 (+ away from wall C), then across"
    )
    return list(block.lines[1:])


def test_the_offsets_from_both_strings_and_the_way_are_told_by_the_walls_of_the_sheet():
    # Walls: A at the right, then B above, C at the left, D below. String 2 is 650 from wall C and string 1
    # 947 from wall D (derived): 940 - 650 = 290, 915 - 947 = -32.
    assert lines(LIGHT) == [
        "D1* +290, -32: Light 7, off the grid: move 40 towards wall C and 12 towards wall B"
    ]


@pytest.mark.parametrize(
    ("units", "length"), [("mm", "40"), ("ft-in", '1\u00a09/16"'), ("ft-in/4", '1\u00a01/2"')]
)
def test_lengths_are_in_the_sheet_s_unit(units, length):
    (line,) = lines(replace(LIGHT, end=(980.0, 915.0)), units=units)
    assert line.endswith(f"move {length} towards wall A")


def test_a_device_without_a_seat_says_why_and_a_turned_one_how_far():
    assert lines(replace(LIGHT, end=None, reason="no cell is free"))[0].endswith(
        "off the grid: no cell is free"
    )
    assert lines(replace(LIGHT, end=LIGHT.start, turn_deg=-90.0))[0].endswith(
        "stays in its place, turn by -90.0°"
    )


def test_more_than_are_wanted_are_counted_and_none_gives_no_line():
    assert lines() == []
    told = lines(*(replace(LIGHT, key=f"{k}") for k in range(9)), most=6)
    assert len(told) == 7
    assert told[-1] == "... and 3 more: see the record."


def test_a_very_long_name_is_cut_and_a_device_in_its_cell_is_laid_in():
    ceiling = build_ceiling(rectangle(6100, 4270), (350, 335), openings=(light(3, 2),))
    (opening,) = ceiling.openings
    thing = Obstacle(
        key=opening.key, kind=Kind.LIGHT, name="n" * 500, outline=opening.outline, bottom=2700, top=2800
    )
    devices = find_devices(ceiling, [thing])
    (line,) = device_block(ceiling, plan_setout(ceiling), "mm", devices, 9).lines[1:]
    # Two columns beyond the first full one; 1500 - 1212 from string 1, 12 off its main at line 2 (derived).
    assert line.startswith("D1 +1200, +288: light n")
    assert line.endswith("…, laid in")
    assert len(line) < 80


def test_the_sheet_prints_it():
    made = build_ceiling(rectangle(6100, 4270), (350, 335))
    assert "off the grid" in draw_setout(replace(made, seating=Seating(moves=(LIGHT,))), units="mm", stamp={})
