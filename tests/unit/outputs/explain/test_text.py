"""An explanation, word for word."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import shapely

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.explanation import Flip
from ifcgrid.domain.policy import Term
from ifcgrid.domain.seat import Hold, Move, Seat, Seating, Shift
from ifcgrid.outputs.explain import draw_explanation, format_explanation
from ifcgrid.pipeline.flow import hang_ceiling
from ifcgrid.pipeline.one_room import room_zone
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

GOLDEN = Path(__file__).parent / "golden"
SCREEN = (48, 100)
"""Lines and columns of one screen."""

LIGHT = Move(
    key="a", kind="light", name="Light 7", room=0, hold=Hold.FIXED, seat=Seat.CELL,
    start=(940.0, 915.0), end=(900.0, 915.0),
)  # fmt: skip
INCH = replace(LIGHT, key="b", name="Light 8\x1b[31m", end=None, reason="609.6 x 609.6 mm are too large")


def lay_out(outline, policy="half-module") -> Ceiling:
    return hang_ceiling(room_zone(outline), read_system("lay-in-600x600"), read_policy(policy))


def told(ceiling: Ceiling, flips=()) -> str:
    text = format_explanation(ceiling, flips) + "\n"
    lines = text.splitlines()
    assert len(lines) <= SCREEN[0]
    assert max(map(len, lines)) <= SCREEN[1]
    return text


def check(name: str, text: str) -> None:
    # How many layouts were compared is the search's business; all else is held word for word.
    text = re.sub(r"\d+ layouts compared", "so many layouts compared", text)
    assert text == (GOLDEN / f"{name}.txt").read_text(encoding="utf-8")


def test_a_rectangle_with_devices_and_a_count_that_is_about_to_flip():
    cost = (
        Shift(term=Term.FIXTURES, heeded=0.0, unheeded=1.0),
        Shift(term=Term.EQUAL_BORDERS, heeded=74.0, unheeded=0.0),
    )
    ceiling = replace(
        lay_out(shapely.box(0, 0, 6019, 4270)),
        seating=Seating(seated=("c", "d"), moves=(LIGHT, INCH), cost=cost),
    )
    flip = Flip(axis="u", change=-19.0, before=11, after=10, border=600.0)
    check("rectangle", told(ceiling, [flip]))


def test_a_room_whose_minimum_cannot_be_met_names_the_walls():
    # A cross: its arms are too narrow for half a panel on both sides of every line.
    cross = shapely.union_all([shapely.box(0, 2125, 6150, 4625), shapely.box(2125, 0, 4025, 6640)])
    ceiling = lay_out(shapely.Polygon(shapely.remove_repeated_points(cross).exterior))
    assert not ceiling.layout.meets_minimum
    check("cross", told(ceiling))


def test_of_many_walls_the_narrowest_are_listed():
    steps = [(0, 0), (9000, 0)]
    for k in range(9):
        steps += [(9000 - 700 * k, 700 * (k + 1)), (9000 - 700 * (k + 1), 700 * (k + 1))]
    stairs = shapely.Polygon([*steps, (0, 6300)])
    lines = told(lay_out(stairs)).splitlines()
    assert any("more walls, none with less than" in line for line in lines)


def test_the_picture_holds_every_candidate_and_says_why_each_lost():
    ceiling = lay_out(shapely.box(0, 0, 6100, 4270))
    drawing = draw_explanation(ceiling, stamp={"room": "6100 x 4270"})
    assert "1. chosen" in drawing
    for place in range(2, 7):
        assert f">{place}. " in drawing
    assert "lost on equal borders" in drawing
    assert "MM" not in drawing.replace("COMMON", "")  # an empty line would break its path
    assert drawing == draw_explanation(ceiling, stamp={"room": "6100 x 4270"})
