"""Border dimensions: every straight wall has one, from the wall's face to the grid's first line."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from drawn_storeys import STAMP, keyed, storey
from handmade_ceilings import L2, T1, build_ceiling, rectangle

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.outputs.paper.dimension import format_length
from ifcgrid.outputs.plan import lay_out_storey
from ifcgrid.outputs.plan.drawing import DimensionLine, Tag


def lines_of(ceilings: list[Ceiling], units: str = "mm") -> list[DimensionLine]:
    sheet = lay_out_storey("x", ceilings, stamp=STAMP, units=units)
    return [thing for thing in sheet.drawing.things if isinstance(thing, DimensionLine)]


@pytest.mark.parametrize("ceiling", storey()[:5], ids=lambda c: c.zone.rooms[0].name)
def test_each_begins_on_a_wall_and_ends_on_the_first_line_of_the_grid(ceiling: Ceiling) -> None:
    lines = lines_of([ceiling])
    assert lines
    walls = ceiling.zone.outline.exterior
    local = ceiling.layout.frame.shape_to_local(ceiling.zone.outline)
    for line in lines:
        assert walls.distance(shapely.Point(line.start)) < 0.01
        start, end = ceiling.layout.frame.to_local([line.start, line.end])
        axis = int(abs(end - start)[1] > abs(end - start)[0])
        module = (ceiling.layout.along, ceiling.layout.across)[axis]
        steps = end[axis] / module
        assert abs(steps - round(steps)) * module < 0.01  # on a line of the grid
        assert line.length <= module + 0.01  # and on the first one
        assert abs(end - start)[1 - axis] < 0.01  # square to it
        assert local.buffer(1.0).covers(shapely.LineString([start, end]))


@pytest.mark.parametrize("ceiling", storey()[:5], ids=lambda c: c.zone.rooms[0].name)
def test_each_is_as_long_as_the_layout_says_and_its_text_tells_it_rounded_once(ceiling: Ceiling) -> None:
    border_of = {(b.ring, b.edge): b for b in ceiling.layout.borders}
    for units in ("mm", "ft-in", "ft-in/8"):
        for line in lines_of([ceiling], units):
            border = border_of[line.edge]
            assert border.least - 0.01 <= line.length <= border.greatest + 0.01
            assert line.words.text == format_length(line.length, units)


def test_a_rectangle_has_four_and_an_l_shape_one_for_each_wall() -> None:
    assert len(lines_of([build_ceiling(rectangle(6100, 4270), (350, 335))])) == 4
    room = build_ceiling(L2, (300, 300))
    assert sorted(line.edge[1] for line in lines_of([room])) == [0, 1, 2, 3, 4, 5]


def test_a_wall_that_tapers_has_its_width_at_both_ends() -> None:
    room = build_ceiling(T1, (300, 300))
    tapering = [b.edge for b in room.layout.borders if b.greatest - b.least > 1 and b.axis == "u"]
    assert len(tapering) == 1
    widths = sorted(line.length for line in lines_of([room]) if line.edge[1] == tapering[0])
    border = room.layout.borders[tapering[0]]
    assert len(widths) == 2
    # Near the ends, where the last panels' middles are: two thirds of the taper at least.
    assert widths[1] - widths[0] > (border.greatest - border.least) * 2 / 3


def test_shifted_rows_have_the_widths_of_both_rows() -> None:
    room = build_ceiling(rectangle(6100, 4270), (350, 335))
    shifted = replace(
        room,
        layout=replace(
            room.layout,
            row_shift=0.5,
            borders=tuple(
                replace(b, least=50.0, greatest=350.0) if b.axis == "u" else b for b in room.layout.borders
            ),
        ),
    )
    widths = {round(line.length) for line in lines_of([shifted])}
    assert {50, 350} <= widths


def test_curves_and_columns_have_none() -> None:
    round_ended = storey()[2]
    points = np.asarray(round_ended.zone.outline.exterior.coords)
    for line in lines_of([round_ended]):
        a, b = points[line.edge[1]], points[line.edge[1] + 1]
        assert math.hypot(*(b - a)) > 1000


def test_what_finds_no_room_is_in_the_list() -> None:
    rooms = [
        keyed(build_ceiling(rectangle(700, 650), (350, 325), number=f"{k}", at=(800 * k, 0)), f"k{k}")
        for k in range(4)
    ]
    hall = keyed(build_ceiling(rectangle(60000, 30000), (600, 600), number="9", at=(0, 1000)), "hall")
    sheet = lay_out_storey("x", [*rooms, hall], stamp=STAMP)
    drawn = [t for t in sheet.drawing.things if isinstance(t, DimensionLine)]
    told = " ".join(text.label.text.strip() for text in sheet.furniture.texts)
    for k, room in enumerate(rooms):
        missing = 4 - sum(line.zone == room.key for line in drawn)
        assert missing > 0
        found = re.search(rf"\b{k}: borders not drawn for want of space: ((?:\d+(?:, )?)+)", told)
        assert found
        assert len(found[1].strip(", ").split(", ")) == missing


def test_texts_stand_in_their_own_room_where_that_is_possible() -> None:
    sheet = lay_out_storey("x", storey()[:2], stamp=STAMP)
    outlines = {c.key: c.zone.outline for c in storey()}
    for thing in sheet.drawing.things:
        if isinstance(thing, DimensionLine):
            assert outlines[thing.zone].contains(shapely.Point(thing.words.point))


def test_no_tag_hides_a_dimension_line() -> None:
    sheet = lay_out_storey("x", storey(), stamp=STAMP)
    masks = [shapely.box(*thing.mask) for thing in sheet.drawing.things if isinstance(thing, Tag)]
    for thing in sheet.drawing.things:
        if isinstance(thing, DimensionLine):
            stroke = shapely.LineString([thing.start, thing.end])
            assert not any(mask.intersection(stroke).length > 1 for mask in masks)


def test_a_grid_that_no_wall_follows_is_tied_to_a_crossing_from_two_walls() -> None:
    plain = build_ceiling(rectangle(8000, 6000), (300, 300), angle_deg=45)
    outline = rectangle(8000, 6000)
    borders = tuple(
        replace(b, start=s, end=e, length=math.dist(s, e), axis="oblique")
        for b, s, e in zip(
            plain.layout.borders, outline.exterior.coords[:-1], outline.exterior.coords[1:], strict=True
        )
    )
    frame = replace(plain.layout.frame, x=4000.0, y=-4100.0)
    layout = replace(plain.layout, borders=borders, frame=frame, columns=30, rows=30)
    turned = replace(plain, zone=replace(plain.zone, outline=outline), layout=layout)
    one, two = lines_of([turned])
    assert one.end == two.end
    u, v = layout.frame.to_local([one.end])[0] / [layout.along, layout.across]
    assert (u, v) == pytest.approx((round(u), round(v)), abs=1e-6)  # a crossing of two lines
    assert outline.contains(shapely.Point(one.end))
    for line in (one, two):
        a, b = (np.array(outline.exterior.coords[line.edge[1] + k]) for k in (0, 1))
        assert abs(np.dot(b - a, np.subtract(line.end, line.start))) < 1e-3  # square to the wall
        assert shapely.LineString([a, b]).distance(shapely.Point(line.start)) < 1e-6
        assert line.words.text == format_length(line.length, "mm")
    assert len({line.edge for line in (one, two)}) == 2


def test_a_round_room_is_left_to_its_set_out_sheet() -> None:
    circle = shapely.Point(0, 0).buffer(3000, quad_segs=16)
    sheet = lay_out_storey("x", [build_ceiling(circle, (300, 300))], stamp=STAMP)
    assert not any(isinstance(thing, DimensionLine) for thing in sheet.drawing.things)
    told = " ".join(text.label.text.strip() for text in sheet.furniture.texts)
    assert "borders not drawn for want of space: see the set-out sheet" in told
