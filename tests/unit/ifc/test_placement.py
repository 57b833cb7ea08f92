"""Placements are built as the geometry kernel builds them."""

from __future__ import annotations

import ifcopenshell.util.element
import numpy as np
import pytest
from handmade_spaces import RING, SpaceModel

import ifcgrid
from ifcgrid.domain.errors import ModelError
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.placement import axes_matrix, placement_matrix
from ifcgrid.ifc.reading.stated import StoreyLevels
from ifcgrid.ifc.reading.written import read_written

SKEW = [
    ((0.0, 0.0, 2.0), (3.0, 1.0, 1.0)),
    ((0.1, 0.2, 1.0), (1.0, 1.0, 0.0)),
    ((0.0, 0.0, -1.0), (0.0, 1.0, 0.4)),
    ((1.0, 0.0, 0.0), (0.5, 0.0, 1.0)),
    (None, None),
]


def _place(model: SpaceModel, axis, reference, inside=None):
    f = model.file
    axes = f.createIfcAxis2Placement3D(
        model.point(100.0, -200.0, 300.0),
        axis and f.createIfcDirection(axis),
        reference and f.createIfcDirection(reference),
    )
    return f.createIfcLocalPlacement(inside, axes)


@pytest.mark.parametrize(("axis", "reference"), SKEW)
def test_skew_reference_directions_place_as_the_kernel_places(axis, reference):
    model = SpaceModel(unit="m")
    outer = _place(model, (0.0, 0.3, 1.0), (1.0, 0.0, 0.7))
    space = model.solid_room(RING, placement=_place(model, axis, reference, inside=outer))
    kernel = Kernel(model.file)
    matrix = kernel.placement(space)
    assert matrix[:3, :3] @ matrix[:3, :3].T == pytest.approx(np.eye(3), abs=1e-12)
    corners = np.array([(x, y, z, 1.0) for x, y in RING for z in (0.0, 2700.0)]) @ matrix.T
    seen = np.unique(np.round(kernel.mesh(space).reshape(-1, 3), 3), axis=0)
    assert seen == pytest.approx(np.unique(np.round(corners[:, :3], 3), axis=0), abs=2e-3)


def test_axes_in_the_plane_turn_about_z():
    model = SpaceModel()
    axes = model.file.createIfcAxis2Placement2D(
        model.point(5.0, 6.0), model.file.createIfcDirection((0.0, 2.0))
    )
    matrix = axes_matrix(axes)
    assert matrix @ (1.0, 0.0, 0.0, 1.0) == pytest.approx((5.0, 7.0, 0.0, 1.0))


@pytest.mark.parametrize(
    ("axis", "reference"), [((0.0, 0.0, 1.0), (0.0, 0.0, 3.0)), ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0))]
)
def test_axes_that_say_nothing_still_make_a_turn(axis, reference):
    model = SpaceModel()
    matrix = placement_matrix(_place(model, axis, reference))
    assert matrix[:3, :3] @ matrix[:3, :3].T == pytest.approx(np.eye(3), abs=1e-12)
    assert matrix[:3, 3] == pytest.approx((100.0, -200.0, 300.0))


def test_what_is_not_placed_by_axes_is_named_and_its_storey_counts_by_its_elevation():
    model = SpaceModel()
    storey = model.storey("Level 1", 0.0)
    storey.ObjectPlacement = model.file.createIfcGridPlacement()
    storey.Elevation = 3100.0
    with pytest.raises(ModelError, match=f"placement #{storey.ObjectPlacement.id()} is no chain"):
        placement_matrix(storey.ObjectPlacement)
    assert StoreyLevels(model.file).of(storey.GlobalId) == 3100.0


def test_a_storey_on_skew_axes_lies_where_its_rooms_do():
    model = SpaceModel()
    storey = model.storey("Level 1", 0.0)
    storey.ObjectPlacement = _place(
        model, (0.0, 0.0, 1.0), (1.0, 0.0, 1.0), inside=_place(model, (0.0, 0.0, 5.0), (1.0, 0.0, 9.0))
    )
    assert StoreyLevels(model.file).of(storey.GlobalId) == pytest.approx(600.0)


def test_a_ceiling_in_a_space_on_skew_axes_is_written_and_measured_where_the_room_is():
    model = SpaceModel()
    storey = model.storey("Level 1", 0.0)
    place = _place(model, (0.0, 0.0, 1.0), (3.0, 1.0, 2.0))
    space = model.solid_room(RING, placement=place)
    model.aggregate(storey, space)
    done = ifcgrid.build(model.file)
    (ceiling,) = done.ceilings
    ifcgrid.write_ceilings(model.file, done.ceilings)
    (back,) = read_written(model.file)
    ends = {"start": ceiling.members.start, "end": ceiling.members.end}
    for name, points in ends.items():
        there = ceiling.layout.frame.to_local(back.frame.to_world(back.members[name]))
        assert _sorted(there) == pytest.approx(_sorted(points), abs=0.01)
    assert back.level == pytest.approx(ceiling.zone.level)
    (grid,) = model.file.by_type("IfcElementAssembly")
    shapes = Kernel(model.file).meshes(ifcopenshell.util.element.get_parts(grid))
    points = np.concatenate([m.reshape(-1, 3) for m in shapes.values()])
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    assert (*low, *high) == pytest.approx(ceiling.zone.outline.bounds, abs=1e-3)


def _sorted(points):
    return points[np.lexsort(np.round(points, 0).T)]
