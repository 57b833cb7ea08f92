"""Labels on the report's plan: inside their rooms, clear of flags, none too long."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import Polygon, box

from ifcgrid.outputs.paper.text import measure_text
from ifcgrid.outputs.report.content import Card
from ifcgrid.outputs.report.label import PlacedLabel, place_label

NO_FLAGS = np.zeros((0, 2))
ROOMS = {
    "rectangle": box(0, 0, 6000, 4000),
    "corridor": box(0, 0, 20000, 1500),
    "shaft": box(0, 0, 700, 900),
    "L": Polygon([(0, 0), (6000, 0), (6000, 1500), (1500, 1500), (1500, 6000), (0, 6000)]),
    "ring": box(0, 0, 6000, 6000).difference(box(1200, 1200, 4800, 4800)),
}
NAMES = ("Hall", "Children's library and reading room", "x" * 200, "")


def _card(shape, name="Hall", number="101") -> Card:
    return Card(place=0, key="k", number=number, name=name, storey=0, shape=shape, reason="r")


def _box(label: PlacedLabel) -> Polygon:
    wide = max(measure_text(line.text, line.share * label.size, is_bold=True) for line in label.lines)
    high = sum(line.share for line in label.lines) * label.size
    return box(label.x - wide / 2, label.y - high / 2, label.x + wide / 2, label.y + high / 2)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("room", ROOMS)
def test_a_label_lies_inside_its_room(room, name):
    label = place_label(_card(ROOMS[room], name), 500.0, NO_FLAGS, 300.0)
    assert ROOMS[room].buffer(1e-6).contains(_box(label))


@pytest.mark.parametrize("number", ["y" * 90, "", "<script>alert(1)</script>"])
def test_a_long_number_is_cut_and_an_empty_one_marked(number):
    label = place_label(_card(box(0, 0, 6000, 4000), "", number), 500.0, NO_FLAGS, 300.0)
    assert label.lines[0].text == ("?" if not number else number[:15] + "…")


def test_a_label_keeps_clear_of_a_flag_where_there_is_room():
    shape = box(0, 0, 6000, 4000)
    free = place_label(_card(shape), 500.0, NO_FLAGS, 300.0)
    flags = np.array([[free.x, free.y]])
    moved = place_label(_card(shape), 500.0, flags, 300.0)
    flag = box(free.x - 150, free.y, free.x + 150, free.y + 450)
    assert _box(free).intersects(flag)
    assert not _box(moved).intersects(flag)


def test_a_room_without_an_outline_has_no_label():
    assert place_label(_card(None), 500.0, NO_FLAGS, 300.0) is None
    assert place_label(_card(Polygon()), 500.0, NO_FLAGS, 300.0) is None
