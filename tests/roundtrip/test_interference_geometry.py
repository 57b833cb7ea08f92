"""Clashes in the model say where the two meet: in the axes of the relating element, inside both."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import ifcopenshell.util.placement
import ifcopenshell.util.shape
import numpy as np
import pytest
from written import (
    LAMP,
    SCHEMAS,
    SPOT,
    a_model,
    adopted_model,
    clash,
    data,
    four_ceilings,
    member_boxes,
    messages,
)

from ifcgrid.domain.finding import Finding
from ifcgrid.ifc.project import length_scale
from ifcgrid.ifc.writing.remove import remove_ceilings
from ifcgrid.ifc.writing.write import write_ceilings

pytestmark = [  # the validator leaves the file with its rules open
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]
NEWER = [schema for schema in SCHEMAS if schema != "IFC2X3"]


def place(element: Any) -> np.ndarray:
    """The matrix of an element, moves in mm."""
    matrix = ifcopenshell.util.placement.get_local_placement(element.ObjectPlacement)
    matrix[:3, 3] *= length_scale(element.file)
    return matrix


def volume(relation: Any) -> np.ndarray:
    """The corners (n, 3) of the volume of a relation, in model coordinates in mm; by the kernel."""
    geometry = relation.InterferenceGeometry
    assert geometry.is_a() == "IfcConnectionVolumeGeometry"
    shape = ifcopenshell.geom.create_shape(ifcopenshell.geom.settings(), geometry.VolumeOnRelatingElement)
    local = ifcopenshell.util.shape.get_vertices(shape) * 1000.0
    matrix = place(relation.RelatingElement)
    return local @ matrix[:3, :3].T + matrix[:3, 3]


def spot(relation: Any) -> np.ndarray:
    geometry = relation.InterferenceGeometry
    assert geometry.is_a() == "IfcConnectionPointGeometry"
    local = np.array(geometry.PointOnRelatingElement.Coordinates) * length_scale(relation.file)
    matrix = place(relation.RelatingElement)
    return matrix[:3, :3] @ local + matrix[:3, 3]


def around(points: np.ndarray, wide: float, high: float) -> tuple[float, ...]:
    """A box about the middle of points."""
    x, y, z = (points.min(axis=0) + points.max(axis=0)) / 2
    return (x - wide, y - wide, z - high, x + wide, y + wide, z + high)


def meeting(ceiling: Any, part: str, **changes: Any) -> Finding:
    return replace(clash(ceiling, part), **changes)


@pytest.mark.parametrize("schema", NEWER)
@pytest.mark.parametrize("number", range(4))
def test_the_volume_is_what_of_the_element_is_in_the_member(schema: str, number: int):
    ceiling = four_ceilings()[number]
    boxes = member_boxes(ceiling)
    key = next(k for k in boxes if k.startswith("main_runner"))
    member = boxes[key]
    box = around(member, 150.0, 10.0)
    file = a_model(schema, [ceiling])
    write_ceilings(file, [ceiling], [meeting(ceiling, key, extents=((LAMP, box),))])
    (relation,) = file.by_type("IfcRelInterferesElements")
    corners = volume(relation)
    low, high = np.array(box[:3]), np.array(box[3:])
    assert (corners >= low - 0.01).all()
    assert (corners <= high + 0.01).all()
    inside = place(relation.RelatingElement)
    local = (corners - inside[:3, 3]) @ inside[:3, :3]
    half = ceiling.system.main.face / 2
    assert np.abs(local[:, 1]).max() == pytest.approx(half, abs=0.01)
    assert local[:, 2].min() >= -0.01
    assert local[:, 2].max() <= ceiling.system.main.height + 0.01
    # The box is wider than the member and 20 mm high about its middle: so is what they share.
    assert np.ptp(local[:, 2]) == pytest.approx(20.0, abs=0.01)
    assert np.ptp(local[:, 0]) >= 300.0 - 0.01


@pytest.mark.parametrize("schema", NEWER)
def test_of_a_covering_it_is_the_whole_box_and_without_a_box_the_spot(schema: str):
    ceiling = four_ceilings()[0]
    x, y = ceiling.zone.outline.representative_point().coords[0]
    z = ceiling.zone.level
    box = (x, y, z, x + 200.0, y + 300.0, z + ceiling.system.main.height)
    base = replace(clash(ceiling, ""), rule="column-in-room", subjects=(LAMP,), extents=(), point=None)
    tall = (*box[:2], z, *box[3:5], z + 2000.0)
    high = (*box[:2], z + 300.0, *box[3:5], z + 400.0)
    for finding, expected in (
        (replace(base, extents=((LAMP, box),)), box),
        (replace(base, extents=((LAMP, tall),)), box),  # as far as the tops of the mains
        (replace(base, extents=((LAMP, high),), point=(x, y, z + 10)), None),
        (replace(base, point=(x, y, z + 10)), None),
    ):
        file = a_model(schema, [ceiling])
        write_ceilings(file, [ceiling], [finding])
        (relation,) = file.by_type("IfcRelInterferesElements")
        assert relation.RelatingElement.is_a("IfcCovering")
        if expected is None:
            assert spot(relation) == pytest.approx((x, y, z + 10), abs=1e-3)
        else:
            corners = volume(relation)
            assert [*corners.min(axis=0), *corners.max(axis=0)] == pytest.approx(expected, abs=0.01)


def test_no_rule_of_the_schema_is_broken_by_a_spot():
    # Volumes are held against the schemas where whole ceilings are.
    ceiling = four_ceilings()[2]
    file = a_model("IFC4", [ceiling])
    told = meeting(ceiling, "cross_tee/2/0", point=(1.0, 2.0, 3.0), extents=())
    write_ceilings(file, [ceiling], [told], detail="ceiling")
    (relation,) = file.by_type("IfcRelInterferesElements")
    assert relation.InterferenceGeometry.is_a() == "IfcConnectionPointGeometry"
    assert messages(file) == []


def test_an_element_that_does_not_reach_the_part_gives_the_spot():
    ceiling = four_ceilings()[0]
    far = (1e6, 1e6, 0.0, 1e6 + 10, 1e6 + 10, 10.0)
    file = a_model("IFC4", [ceiling])
    told = meeting(ceiling, "main_runner/2/0", extents=((LAMP, far),), point=(1.0, 2.0, 3.0))
    write_ceilings(file, [ceiling], [told])
    (relation,) = file.by_type("IfcRelInterferesElements")
    assert spot(relation) == pytest.approx((1, 2, 3), abs=1e-3)


def test_two_elements_of_others_meet_in_the_axes_of_the_first():
    ceiling = four_ceilings()[0]
    file = a_model("IFC4", [ceiling])
    told = replace(
        clash(ceiling, ""),
        rule="devices-overlap",
        subjects=(LAMP, SPOT),
        point=(100.0, 200.0, 300.0),
        extents=(),
    )
    write_ceilings(file, [ceiling], [told])
    (relation,) = file.by_type("IfcRelInterferesElements")
    assert relation.RelatingElement.GlobalId == LAMP
    assert spot(relation) == pytest.approx((100, 200, 300), abs=1e-3)


@pytest.mark.parametrize("schema", SCHEMAS)
def test_it_comes_again_as_it_was_and_goes_without_a_trace(schema: str):
    file, ceiling = adopted_model(schema)
    first = data(file)
    box = around(next(iter(member_boxes(ceiling).values())), 500.0, 100.0)
    told = [
        meeting(ceiling, "main_runner/2/0", extents=((LAMP, box),), point=(0.0, 0.0, 2700.0)),
        replace(clash(ceiling, ""), rule="column-in-room", subjects=(LAMP,), extents=((LAMP, box),)),
        replace(clash(ceiling, ""), rule="devices-overlap", subjects=(LAMP, SPOT), point=(0.0, 0.0, 1.0)),
    ]
    report = write_ceilings(file, [ceiling], told)
    count = report.counts.get("interference", 0)
    assert count == (0 if schema == "IFC2X3" else 3)
    if count:
        kinds = [r.InterferenceGeometry.is_a() for r in file.by_type("IfcRelInterferesElements")]
        assert len(kinds) == 3
        assert all(r.ImpliedOrder is False for r in file.by_type("IfcRelInterferesElements"))
    once = data(file)
    write_ceilings(file, [ceiling], told)
    assert data(file) == once
    remove_ceilings(file)
    assert data(file) == first
