"""Further models come to lie where they belong, and what does not fit is told."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from handmade_models import HandmadeModel

from ifcgrid.domain.federation import Basis
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.reading.alignment import align

AXES = {"A": ((0, 0), (0, 9000)), "B": ((6000, 0), (6000, 9000)), "1": ((0, 0), (6000, 0))}


def rooms(**axes: tuple[tuple[float, float], tuple[float, float]]) -> HandmadeModel:
    made = HandmadeModel(unit="m")
    storey = made.storey("First floor", 4000.0)
    made.axes(storey, **(axes or AXES))
    return made


def test_models_without_a_map_share_their_coordinates() -> None:
    other = HandmadeModel(unit="ft")
    other.axes(other.storey("First floor", 4000.0), **AXES)
    matrix, found = align(rooms().model, other.model)
    assert np.array_equal(matrix, np.eye(4))
    assert (found.basis, found.notes) == (Basis.COORDINATES, ())


def test_a_model_with_an_origin_of_its_own_is_brought_into_place_by_the_map() -> None:
    own, other = rooms(), HandmadeModel(unit="mm")
    own.on_map(500_000.0, 5_700_000.0, 100.0, turned_deg=30.0)
    # Its origin stands at (10 m, 5 m, 2 m) of the model with the rooms, turned by 90 degrees.
    e, n = np.array([[math.cos(math.pi / 6), -0.5], [0.5, math.cos(math.pi / 6)]]) @ (10.0, 5.0)
    other.on_map(500_000.0 + e, 5_700_000.0 + n, 102.0, turned_deg=120.0, scale=0.001)
    turned = {t: tuple((y - 5000, -(x - 10000)) for x, y in ends) for t, ends in AXES.items()}
    other.axes(other.storey("First floor", 2000.0), **turned)
    matrix, found = align(own.model, other.model)
    assert found.basis is Basis.MAP
    assert found.shift == pytest.approx((10_000.0, 5_000.0, 2_000.0), abs=1e-3)
    assert found.turn_deg == pytest.approx(90.0)
    assert matrix @ (1000.0, 0.0, 500.0, 1.0) == pytest.approx((10_000.0, 6_000.0, 2_500.0, 1.0), abs=1e-3)
    assert found.notes == ()  # its axes and its storey lie on those of the other


def test_models_that_lie_alike_on_the_map_are_not_moved_by_a_hair() -> None:
    own, other = rooms(), HandmadeModel(unit="m")
    for made in (own, other):
        made.on_map(456_789.123, 5_712_345.678, 81.5, turned_deg=17.3)
    matrix, found = align(own.model, other.model)
    assert np.array_equal(matrix, np.eye(4))
    assert found.basis is Basis.MAP


def test_another_map_is_told_and_not_gone_by() -> None:
    own, other = rooms(), HandmadeModel(unit="m")
    own.on_map(500_000.0, 5_700_000.0)
    other.on_map(32_500_000.0, 5_700_000.0, crs="EPSG:4647")
    matrix, found = align(own.model, other.model)
    assert np.array_equal(matrix, np.eye(4))
    assert any("EPSG:4647" in note for note in found.notes)


@pytest.mark.parametrize(("aside", "is_told"), [(0.0, False), (4.9, False), (5.1, True), (250.0, True)])
def test_axes_of_one_tag_that_lie_apart_are_told(aside: float, is_told: bool) -> None:
    other = HandmadeModel()
    moved = AXES | {"B": ((6000 + aside, 0), (6000 + aside, 9000))}
    other.axes(other.storey("First floor", 4000.0), **moved)
    notes = align(rooms().model, other.model)[1].notes
    assert bool(notes) is is_told
    assert all("'B'" in note and f"{aside:.0f} mm" in note for note in notes)


@pytest.mark.parametrize(("z", "said"), [(4004.0, ""), (3000.0, "1000 mm lower"), (7000.0, "3000 mm higher")])
def test_storeys_of_one_name_that_lie_apart_are_told(z: float, said: str) -> None:
    other = HandmadeModel()
    other.storey("FIRST FLOOR ", z)
    notes = align(rooms().model, other.model)[1].notes
    assert len(notes) == bool(said)
    assert all(said in note for note in notes)


def test_a_turned_north_is_told_where_no_map_decides() -> None:
    own, other = rooms(), HandmadeModel()
    for made, ratios in ((own, (0.0, 1.0)), (other, (1.0, 0.0))):
        context = made.file.by_type("IfcGeometricRepresentationContext", include_subtypes=False)[0]
        context.TrueNorth = made.file.createIfcDirection(ratios)
    (note,) = align(own.model, other.model)[1].notes
    assert "-90.00 degrees" in note


@pytest.mark.models
@pytest.mark.parametrize("schema", ["ifc4", "ifc4x3"])
def test_the_real_models_of_one_building_lie_alike(schema: str, shared_models: Path) -> None:
    own = open_model(shared_models / f"pcert_{schema}_Building-Architecture.ifc")
    for part in ("Hvac", "Structural"):
        other = open_model(shared_models / f"pcert_{schema}_Building-{part}.ifc")
        matrix, found = align(own, other)
        assert matrix == pytest.approx(np.eye(4), abs=1e-6)
        assert found.basis is Basis.MAP
        assert found.notes == ()
