"""Footprints of spaces: where they lie in plan, and nothing for those without a usable body."""

from __future__ import annotations

import pytest
from ceilings import UNITS, make_model
from ceilings import make_room as make
from shapely import box

from ifcgrid.ifc.reading.footprints import read_footprints


@pytest.mark.parametrize("unit", sorted(UNITS))
@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3"])
def test_a_footprint_is_the_space_in_plan_in_mm(schema: str, unit: str) -> None:
    rooms = [make("a", box(0, 0, 3000, 2000)), make("b", box(4000, 0, 5000, 2500))]
    file = make_model(schema, rooms, unit=unit)
    found = read_footprints(file, [rooms[1].key])
    assert set(found) == {rooms[1].key}
    assert found[rooms[1].key].symmetric_difference(rooms[1].section).area < 100.0


def test_unknown_keys_and_spaces_without_a_body_are_left_out() -> None:
    room = make("a", box(0, 0, 3000, 2000))
    file = make_model("IFC4", [room])
    file.by_guid(room.key).Representation = None
    assert read_footprints(file, [room.key, "0" * 22]) == {}
    assert read_footprints(file, []) == {}
