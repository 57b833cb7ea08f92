"""What the compiler is told of a model."""

import numpy as np
import pytest
from ceilings import guid, make_ceiling, make_model, make_room
from shapely import box

from ifcgrid.domain.errors import ModelError
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.ifc.writing.context import read_context


@pytest.fixture
def ceiling():
    return make_ceiling([make_room("101", box(0, 0, 4000, 3000))])


def test_a_room_whose_space_is_not_in_the_model_is_named(ceiling):
    file = make_model("IFC4", [make_room("other", box(0, 0, 1000, 1000))])
    with pytest.raises(ModelError, match=f"room 101: .*{ceiling.key[:10]}"):
        read_context(file, [ceiling], [])


def test_a_model_without_a_3d_context_is_told_what_it_needs(ceiling):
    file = make_model("IFC4", list(ceiling.zone.rooms))
    file.by_type("IfcGeometricRepresentationContext", include_subtypes=False)[0].CoordinateSpaceDimension = 2
    with pytest.raises(ModelError, match="RepresentationContexts"):
        read_context(file, [ceiling], [])


@pytest.mark.parametrize(("unit", "decimals"), [("mm", 6), ("m", 9), ("ft", 8)])
def test_coordinates_keep_a_millionth_of_a_mm_and_no_negative_zero(ceiling, unit, decimals):
    context = read_context(make_model("IFC4", list(ceiling.zone.rooms), unit=unit), [ceiling], [])
    assert context.decimals == decimals
    ((x, y),) = context.points([[1234.567891, -1e-9]])
    assert x * context.scale == pytest.approx(1234.567891, abs=1e-5)
    assert str(y) == "0.0"


def test_ids_begin_after_the_greatest_of_the_model(ceiling):
    file = make_model("IFC4", list(ceiling.zone.rooms))
    file.create_entity("IfcDirection", (1.0, 0.0, 0.0), id=5000)
    assert read_context(file, [ceiling], []).first == 5001


def test_a_space_without_a_placement_of_axes_is_placed_into_absolutely(ceiling):
    file = make_model("IFC4", list(ceiling.zone.rooms), storey_at=(100.0, 0.0, 0.0))
    moved = read_context(file, [ceiling], []).spaces[ceiling.key]
    assert moved.placement is not None
    assert moved.matrix[:3, 3] == pytest.approx([100.0, 0.0, 0.0])
    file.by_guid(ceiling.key).ObjectPlacement = None
    bare = read_context(file, [ceiling], []).spaces[ceiling.key]
    assert bare.placement is None
    assert np.array_equal(bare.matrix, np.eye(4))


def test_only_elements_that_fill_nothing_yet_can_fill(ceiling):
    file = make_model("IFC4", list(ceiling.zone.rooms), devices=("a", "b"))
    hole = file.create_entity("IfcOpeningElement", guid("hole"))
    file.create_entity("IfcRelFillsElement", guid("f"), None, None, None, hole, file.by_guid(guid("a")))
    finding = Finding(
        rule="r",
        source="",
        clause="",
        verdict=Verdict.FAIL,
        room="",
        subjects=(guid("a"), guid("b"), "elsewhere", ceiling.key),
        message="",
    )
    context = read_context(file, [ceiling], [finding])
    assert set(context.elements) == {guid("a"), guid("b")}
    assert context.fillable == {guid("b")}
