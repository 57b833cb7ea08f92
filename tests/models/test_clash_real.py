"""Clashes between real models of two disciplines: the duplex's architecture and its electrical file."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ifcgrid.checks.fixture import find_fixtures
from ifcgrid.checks.limits import read_limits
from ifcgrid.checks.scene import Scene
from ifcgrid.domain.obstacle import DEVICES, Kind
from ifcgrid.ifc.project import open_model
from ifcgrid.pipeline import build
from ifcgrid.pipeline.nearby import Nearby

pytestmark = pytest.mark.models


@pytest.fixture(scope="module")
def duplex(shared_models):
    names = ("duplex_A_20110907.ifc", "duplex_Electrical_20121207.ifc")
    rooms, electrical = (open_model(shared_models / name) for name in names)
    return build(rooms, others=[electrical])


def seated(done, rise: float = 0.0):
    """Names of the electrical file's devices that sit in ceilings, by room number, all raised by so much."""
    raised = [
        replace(
            o,
            bottom=o.bottom + rise,
            top=o.top + rise,
            mesh=None if o.mesh is None else o.mesh + np.array([0.0, 0.0, rise]),
        )
        for o in done.intake.obstacles
        if "Electrical" in o.source
    ]
    nearby = Nearby(raised)
    found: dict[str, list[str]] = {}
    for ceiling in done.ceilings:
        near = sorted(nearby.find(ceiling.zone), key=lambda o: o.key)
        fixtures = find_fixtures(Scene.of(ceiling, read_limits()), near)
        if len(fixtures):
            number = ceiling.zone.rooms[0].number
            found.setdefault(number, []).extend(o.name for o in fixtures.obstacles)
    return found


def test_wall_switches_that_call_themselves_lights_are_no_ceiling_devices(duplex):
    switches = [o for o in duplex.intake.obstacles if "Single Pole" in o.type_name]
    assert len(switches) == 14
    assert {o.kind for o in switches} == {Kind.OTHER}
    named = {key for f in duplex.findings for key in f.subjects}
    assert named.isdisjoint(o.key for o in switches)


def test_what_hangs_on_walls_or_ends_at_the_ceiling_raises_nothing(duplex):
    lights = [o for o in duplex.intake.obstacles if o.kind is Kind.LIGHT]
    assert len(lights) == 14
    named = {key for f in duplex.findings for key in f.subjects}
    assert named.isdisjoint(o.key for o in lights)


def test_the_detectors_of_the_electrical_file_are_judged_in_the_rooms_of_the_architecture(duplex):
    found = seated(duplex)
    assert set(found) == {"A103", "B101", "A202", "A203", "B202", "B203"}  # A103 is one field with A101
    assert all("Smoke Detector" in name for names in found.values() for name in names)
    crossing = [f for f in duplex.findings if f.rule == "device-across-member"]
    devices = {o.key: o for o in duplex.intake.obstacles if o.kind in DEVICES}
    numbers = {room.key: room.number for room in duplex.intake.rooms}
    assert {numbers[f.room] for f in crossing} == {"A101", "B101"}
    assert all(devices[f.subjects[0]].source == "duplex_Electrical_20121207.ifc" for f in crossing)


def test_pendants_that_go_through_the_ceiling_are_judged_in_their_rooms(duplex):
    lights = [name for names in seated(duplex, 100.0).values() for name in names if "Pendant" in name]
    # Of the eight two hang in the stairs, which get no ceiling.
    assert len(lights) == 6
