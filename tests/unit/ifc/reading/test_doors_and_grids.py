"""Doors and building axes as they stand in models."""

import pytest
from handmade_spaces import SpaceModel

from ifcgrid.ifc.identity import MARKER_SET
from ifcgrid.ifc.reading.doors import read_doors
from ifcgrid.ifc.reading.grids import read_axes


@pytest.fixture(params=["mm", "m", "ft"])
def made(request):
    return SpaceModel(unit=request.param)


def test_a_door_is_at_the_middle_of_its_leaf(made):
    storey = made.place(10_000.0, 0.0, 3000.0, 90.0)
    made.root(
        "IfcDoor",
        Name="Entry",
        ObjectPlacement=made.place(1000.0, 200.0, 15.0, 90.0, inside=storey),
        OverallWidth=900.0 / made.scale,
    )
    made.root("IfcDoor", Name="No width", ObjectPlacement=made.place(1000.0, 200.0))
    made.root("IfcDoor", Name="Nowhere")
    first, second = read_doors(made.file)
    # (1000, 200) in a storey turned by 90 degrees at (10000, 0); the leaf then runs along -X.
    assert (first.name, second.name) == ("Entry", "No width")
    assert first.point == pytest.approx((9800.0 - 450.0, 1000.0), abs=1e-6)
    assert first.angle_deg == pytest.approx(180.0) or first.angle_deg == pytest.approx(0.0)
    assert first.bottom == pytest.approx(3015.0)
    assert second.point == pytest.approx((1000.0, 200.0))


def add_grid(made, axes, placement=None, name="Axes"):
    f = made.file
    made_axes = [f.createIfcGridAxis(tag, curve, True) for tag, curve in axes]
    return made.root(
        "IfcGrid",
        Name=name,
        ObjectPlacement=placement or made.place(),
        UAxes=made_axes[:1],
        VAxes=made_axes[1:] or made_axes[:1],
    )


def line_of(made, *points):
    return made.file.createIfcPolyline([made.point(*p) for p in points])


def test_straight_axes_are_read_in_model_coordinates(made):
    f = made.file
    direction = f.createIfcVector(f.createIfcDirection((0.0, 1.0)), 1.0 / made.scale * 1000.0)
    endless = f.createIfcLine(made.point(500.0, 0.0), direction)
    add_grid(
        made,
        [("A", line_of(made, (0.0, 0.0), (6000.0, 0.0), (9000.0, 0.0))), ("1", endless)],
        made.place(100.0, 200.0, 0.0, 90.0),
    )
    axes = {axis.tag: axis for axis in read_axes(f)}
    assert axes["A"].start == pytest.approx((100.0, 200.0))
    assert axes["A"].end == pytest.approx((100.0, 9200.0), abs=1e-6)
    assert axes["1"].start == pytest.approx((100.0, 700.0))
    assert axes["1"].end[1] == pytest.approx(700.0)  # it runs along -X after the turn
    assert axes["1"].end[0] < 100.0


def test_curved_and_bent_axes_and_those_without_a_tag_are_left_out(made):
    f = made.file
    circle = f.createIfcCircle(f.createIfcAxis2Placement2D(made.point(0.0, 0.0), None), 5.0)
    bent = line_of(made, (0.0, 0.0), (5000.0, 0.0), (9000.0, 300.0))
    straight = line_of(made, (0.0, 0.0), (5000.0, 0.0))
    add_grid(made, [("R", circle), ("K", bent), (None, straight), ("S", straight)])
    assert [axis.tag for axis in read_axes(f)] == ["S"]


def test_grids_repeated_storey_by_storey_count_once_and_ours_not_at_all(made):
    curve = line_of(made, (0.0, 0.0), (5000.0, 0.0))
    add_grid(made, [("A", curve)], made.place(0.0, 0.0, 0.0))
    add_grid(made, [("A", curve)], made.place(0.0, 0.0, 3000.0))
    ours = add_grid(made, [("T1", curve)])
    made.properties(ours, MARKER_SET, Key=("IfcText", "R1"))
    assert [axis.tag for axis in read_axes(made.file)] == ["A"]
