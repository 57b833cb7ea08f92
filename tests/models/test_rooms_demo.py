"""The demo buildings' rooms, heights, ceilings and devices, against what their generator planned."""

import json
from pathlib import Path

import pytest

from ifcgrid.domain.obstacle import Kind
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.reading.obstacles import read_obstacles
from ifcgrid.ifc.reading.rooms import read_rooms

MODELS = Path(__file__).resolve().parents[2] / "models"
BUILDINGS = json.loads((MODELS / "expected.json").read_text(encoding="utf-8"))["buildings"]


@pytest.fixture(scope="module", params=BUILDINGS, ids=lambda b: b["files"][0])
def planned_and_read(request):
    model = open_model(MODELS / request.param["files"][0])
    return request.param["rooms"], read_rooms(model, Kernel(model.file))


def test_every_room_is_read_or_left_out_as_planned(planned_and_read):
    planned, reading = planned_and_read
    status = {r.key: "laid-out" for r in reading.rooms} | {s.key: s.status for s in reading.skipped}
    assert status == {key: room["status"] for key, room in planned.items()}
    assert all(s.reason for s in reading.skipped)


def test_levels_and_their_sources_are_those_planned(planned_and_read):
    planned, reading = planned_and_read
    for room in reading.rooms:
        expected = planned[room.key]
        assert room.level == pytest.approx(expected["level_mm"], abs=0.01), room.number
        assert room.floor == pytest.approx(expected["floor_mm"], abs=0.01), room.number
        assert str(room.height.source) == expected["height_source"], room.number
        # What is stated from the flooring stands on it where the body begins at the slab.
        flooring = expected.get("flooring_mm", 0)
        assert room.height.value == pytest.approx(expected["height_mm"] + flooring, abs=0.01), room.number


def test_outlines_have_the_planned_area(planned_and_read):
    planned, reading = planned_and_read
    for room in reading.rooms:
        assert room.section.area / 1e6 == pytest.approx(planned[room.key]["area_m2"], rel=5e-4), room.number


def test_ceilings_soffits_and_conflicts_are_those_planned(planned_and_read):
    planned, reading = planned_and_read
    for room in reading.rooms:
        expected = planned[room.key]
        assert (room.covering.key if room.covering else None) == expected.get("covering"), room.number
        soffit = [expected["soffit"]] if "soffit" in expected else []
        assert [s.key for s in room.soffits] == soffit, room.number
        assert ("sloped" in " ".join(room.notes)) == expected.get("sloped_top", False), room.number
        told = {str(c.source): c.value for c in room.height.conflicts}
        for source, value in expected.get("conflicts", {}).items():
            assert told[source] == pytest.approx(value), room.number


def test_switches_are_no_lights_and_every_light_is_one():
    for building in BUILDINGS:
        for name in building["files"]:
            for obstacle in read_obstacles(open_model(MODELS / name)):
                if "switch" in obstacle.name.lower():
                    assert obstacle.kind == Kind.OTHER
                if "light" in obstacle.name.lower().split():
                    assert obstacle.kind == Kind.LIGHT
