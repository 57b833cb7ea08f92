"""What walls keep back, what must be reached, where leaves swing, and how fine services are read."""

from __future__ import annotations

import math
from pathlib import Path

import ifcopenshell
import ifcopenshell.guid
import numpy as np
import pytest

from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.reading.barriers import find_barrier
from ifcgrid.ifc.reading.doors import find_sweep
from ifcgrid.ifc.reading.obstacles import read_obstacles

RADIUS = 315.0 / 2
MODELS = Path(__file__).resolve().parents[4] / "models"


def wall(schema: str = "IFC4", **stated):
    file = ifcopenshell.file(schema=schema)
    element = file.create_entity("IfcWall", GlobalId=ifcopenshell.guid.new())
    properties = [
        file.create_entity("IfcPropertySingleValue", Name=name, NominalValue=file.create_entity(kind, value))
        for name, (kind, value) in stated.items()
    ]
    pset = file.create_entity(
        "IfcPropertySet", GlobalId=ifcopenshell.guid.new(), Name="Pset_WallCommon", HasProperties=properties
    )
    file.create_entity(
        "IfcRelDefinesByProperties",
        GlobalId=ifcopenshell.guid.new(),
        RelatedObjects=[element],
        RelatingPropertyDefinition=pset,
    )
    return file, element


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
def test_a_wall_keeps_back_what_it_states(schema):
    file, element = wall(
        schema,
        FireRating=("IfcLabel", "EI 60"),
        AcousticRating=("IfcLabel", "Rw 50 dB"),
        Compartmentation=("IfcBoolean", True),
    )
    assert find_barrier(element) == "fire EI 60, sound Rw 50 dB, compartment"
    del file


@pytest.mark.parametrize("word", ["", "0", "_FIRE-RATING_", "None", "n/a", "-", " not rated "])
def test_words_for_no_rating_are_none(word):
    file, element = wall(FireRating=("IfcLabel", word), Compartmentation=("IfcBoolean", False))
    assert find_barrier(element) == ""
    del file


@pytest.fixture(scope="module")
def services() -> dict[str, Obstacle]:
    return {o.name: o for o in read_obstacles(open_model(MODELS / "sandrell-services.ifc"))}


def test_valves_and_dampers_must_be_reached_and_are_parts_of_their_runs(services):
    assert {name for name, o in services.items() if o.needs_access} == {"Valve 104", "Damper 104"}
    assert services["Valve 104"].kind is Kind.PIPE
    assert services["Damper 104"].kind is Kind.DUCT


def test_insulation_is_what_it_is_wrapped_about_and_a_quilt_is_no_service(services):
    wrap, pipe = services["Insulation of warm pipe 104"], services["Warm pipe 104"]
    assert wrap.kind is pipe.kind is Kind.PIPE
    assert pipe.bottom - wrap.bottom == pytest.approx(40, abs=0.1)
    assert services["Insulation quilt 103"].kind is Kind.OTHER


def test_round_services_come_short_of_their_circle_by_less_than_half_a_millimetre(services):
    duct = services["Round duct 010"]
    assert duct.mesh is not None
    corners = duct.mesh[:, :, 1:].reshape(-1, 2)
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
    corners = np.unique(np.round(corners - middle, 3), axis=0)
    assert np.hypot(*corners.T) == pytest.approx(RADIUS, abs=0.002)
    # A side between neighbouring corners comes nearest to the middle half way.
    angles = np.sort(np.arctan2(corners[:, 1], corners[:, 0]))
    widest = np.diff(np.append(angles, angles[0] + 2 * math.pi)).max()
    assert RADIUS * (1 - math.cos(widest / 2)) < 0.5


def test_a_swing_doors_leaf_sweeps_a_square_on_one_side():
    model = open_model(MODELS / "sandrell-architecture.ifc")
    (door,) = (d for d in model.file.by_type("IfcDoor") if d.Name == "Door 001")
    sweep = find_sweep(door, Kernel(model.file))
    assert sweep is not None
    assert sweep.bounds == pytest.approx((4000, 6225, 4900, 7125))
    door.OperationType = "DOUBLE_DOOR_DOUBLE_SWING"
    sweep = find_sweep(door, Kernel(model.file))
    assert sweep is not None
    assert sweep.bounds == pytest.approx((4000, 5775, 4900, 6675))
    door.OperationType = "SLIDING_TO_LEFT"
    assert find_sweep(door, Kernel(model.file)) is None
