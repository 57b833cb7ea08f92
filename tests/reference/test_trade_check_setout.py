"""Where the strings of a 28 ft 9 in by 68 ft 8 in room stand, solved and drawn.

Common practice, no source: with 24 in panels the borders are 16 1/2 and 16 in; the string
beside the first main stands 41 in from the wall (16 1/2 + 24 + half of a 15/16 in face,
taken as 1/2 in), the crossing string through the centre of the first full panel 28 in.
"""

from __future__ import annotations

from shapely import box

from ifcgrid.design.framing import place_members
from ifcgrid.design.layout import solve_layout
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.suspension import place_hangers
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.room import Room, Zone
from ifcgrid.domain.units import parse_length
from ifcgrid.outputs.paper.dimension import format_length
from ifcgrid.outputs.record import record_room
from ifcgrid.outputs.setout.control import find_control_lines
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system


def solved_hall() -> Ceiling:
    outline = box(0, 0, parse_length("28' 9\""), parse_length("68' 8\""))
    room = Room(
        key="hall",
        name="Hall",
        number="1",
        storey="",
        storey_key="",
        section=outline,
        outline=outline,
        floor=0.0,
        top=3000.0,
        height=None,
    )
    zone = Zone(key="hall", rooms=(room,), outline=outline, level=0.0)
    system = read_system("lay-in-2x2-ft")
    layout = solve_layout(outline, system, read_policy("half-module"), key="hall")
    members = place_members(zone, system, layout)
    return Ceiling(
        zone=zone,
        system=system,
        layout=layout,
        panels=cut_panels(zone, layout),
        members=members,
        hangers=place_hangers(zone, system, layout, members, []),
    )


def test_borders_and_full_panels_of_the_solved_room() -> None:
    record = record_room(solved_hall())
    borders = sorted((*record["borders_mm"]["along"], *record["borders_mm"]["across"]))
    assert borders == [406.4, 406.4, 419.1, 419.1]  # 16, 16, 16 1/2, 16 1/2 in
    assert record["panels"]["full"] == 13 * 33


def test_strings_of_the_solved_room_stand_41_and_28_in_from_the_walls() -> None:
    first, second = find_control_lines(solved_hall())
    assert format_length(first.distance, "ft-in") == "3'-5\""
    assert format_length(second.distance, "ft-in") == "2'-4\""
