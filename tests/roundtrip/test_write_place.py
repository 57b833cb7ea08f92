"""What is written stands where the domain says, in every unit and under every placement."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import ceilings
import ifcopenshell
import ifcopenshell.geom
import ifcopenshell.util.element
import numpy as np
import pytest
from ceilings import LEVEL, METRIC, make_ceiling, make_model, make_room
from shapely import box
from shapely.affinity import translate
from written import NEAR, SCHEMAS, a_model, extent, four_ceilings, member_boxes, meshes, rectangle

from ifcgrid.domain.ceiling import Opening
from ifcgrid.ifc.identity import global_id
from ifcgrid.ifc.writing.write import write_ceilings

PLACES = {
    "at the origin": {},
    "storey moved and turned": {"storey_at": (1234.5, -987.6, 300.0), "storey_turn": 30.0},
    "spaces lie on their side": {"storey_at": (0.0, 0.0, -500.0), "space_tilt": True},
}


class TestPlace:
    @pytest.mark.parametrize("place", PLACES)
    @pytest.mark.parametrize("unit", ["mm", "m", "ft"])
    def test_members_are_where_the_domain_says(self, unit: str, place: str):
        all_ceilings = four_ceilings()
        file = a_model("IFC4", all_ceilings, unit=unit, **PLACES[place])
        write_ceilings(file, all_ceilings)
        for ceiling in all_ceilings:
            expected = member_boxes(ceiling)
            elements = [file.by_guid(global_id(ceiling.key, key)) for key in expected]
            seen = meshes(file, elements)
            assert len(seen) == len(expected) > 10
            for element in elements:
                difference = extent(seen[element.GlobalId]) - expected[element.Tag]
                assert np.abs(difference).max() <= NEAR, element.Tag

    @pytest.mark.parametrize(
        ("axis", "reference"),
        [
            ((0.0, 0.0, 2.0), (3.0, 1.0, 1.0)),
            ((0.1, 0.2, 1.0), (1.0, 1.0, 0.0)),
            ((0.0, 0.0, -1.0), (0.0, 1.0, 0.0)),
            (None, None),
        ],
    )
    def test_members_stand_right_in_spaces_with_any_legal_axes(self, axis: Any, reference: Any):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling], **PLACES["storey moved and turned"])
        axes = file.by_guid(ceiling.key).ObjectPlacement.RelativePlacement
        axes.Axis = axis and file.create_entity("IfcDirection", axis)
        axes.RefDirection = reference and file.create_entity("IfcDirection", reference)
        write_ceilings(file, [ceiling])
        expected = member_boxes(ceiling)
        seen = meshes(file, file.by_type("IfcMember"))
        for member in file.by_type("IfcMember"):
            assert np.abs(extent(seen[member.GlobalId]) - expected[member.Tag]).max() <= NEAR, member.Tag

    def test_members_far_from_the_origin_keep_their_precision(self):
        far = (149_626_315.9, 413_717_684.2)
        room = make_room("far", translate(rectangle(0, 0, 3000, 2400), *far))
        ceiling = make_ceiling([room], angle=0.0)
        file = make_model("IFC4", [room], storey_at=(*far, 0.0))
        write_ceilings(file, [ceiling])
        local = ifcopenshell.geom.settings()
        seen = {
            s.guid: np.array(s.geometry.verts).reshape(-1, 3) * 1000.0
            for s in ifcopenshell.geom.iterator(local, file, 1, include=file.by_type("IfcMember"))
        }
        lengths = dict(zip(ceiling.members.keys(), ceiling.members.length.tolist(), strict=True))
        for member in file.by_type("IfcMember"):
            reach = np.ptp(seen[member.GlobalId][:, 0])
            assert reach == pytest.approx(lengths[member.Tag], abs=NEAR)
        stored = [abs(c) for p in file.by_type("IfcCartesianPoint") for c in p.Coordinates]
        assert sorted(stored)[-3] < 10_000.0, "only the storey's own point is far"

    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_a_tee_stands_on_its_face_and_a_wall_angle_leans_on_the_wall(self, schema: str):
        (ceiling, *_) = four_ceilings()
        file = a_model(schema, [ceiling], unit="m")
        write_ceilings(file, [ceiling])
        tee = file.by_guid(global_id(ceiling.key, "main_runner/2/0"))
        angle = file.by_guid(global_id(ceiling.key, "wall_angle/0/0"))
        seen = meshes(file, [tee, angle])
        low, high = (self.width_at(seen[tee.GlobalId], LEVEL + z) for z in (0.0, METRIC.main.height))
        assert low == pytest.approx(METRIC.main.face, abs=NEAR)
        assert high == pytest.approx(METRIC.main.thickness, abs=NEAR)
        # Edge 0 of the rectangle, walked with the room on the left, is the east wall at x = 5000.
        points = seen[angle.GlobalId]
        top = points[np.abs(points[:, 2] - LEVEL - METRIC.angle.height) < NEAR]
        foot = points[np.abs(points[:, 2] - LEVEL) < NEAR]
        assert extent(top)[:, 0] == pytest.approx([5000.0 - METRIC.angle.thickness, 5000.0], abs=NEAR)
        assert extent(foot)[:, 0] == pytest.approx([5000.0 - METRIC.angle.face, 5000.0], abs=NEAR)

    @staticmethod
    def width_at(points: np.ndarray, z: float) -> float:
        return float(np.ptp(points[np.abs(points[:, 2] - z) < NEAR][:, 1]))

    def test_hangers_reach_from_the_main_to_the_soffit_or_a_nominal_length(self):
        known, unknown, *_ = four_ceilings()
        file = a_model("IFC4", [known, unknown])
        write_ceilings(file, [known, unknown])
        for ceiling, top in ((known, ceilings.SOFFIT), (unknown, LEVEL + 38.0 + 300.0)):
            rods = [file.by_guid(global_id(ceiling.key, k)) for k in ceiling.hangers.keys()]  # noqa: SIM118
            seen = meshes(file, rods)
            points = ceiling.layout.frame.to_world(ceiling.hangers.point)
            for rod, point in zip(rods, points, strict=True):
                reach = extent(seen[rod.GlobalId])
                assert reach[:, 2] == pytest.approx([LEVEL + 38.0, top], abs=NEAR)
                assert reach.mean(axis=0)[:2] == pytest.approx(point, abs=0.2)
                assert 3.5 < np.ptp(reach[:, 0]) <= 4.0 + NEAR
                told = ifcopenshell.util.element.get_pset(rod, "IfcGrid_Hanger")
                assert told["IsSoffitKnown"] is (ceiling is known)

    @pytest.mark.parametrize("unit", ["mm", "ft"])
    def test_coverings_and_panels_fill_the_outline_with_their_underside_at_the_level(self, unit: str):
        all_ceilings = four_ceilings()
        for detail, entity in (("grid", "IfcCovering"), ("panels", "IfcBuildingElementPart")):
            file = a_model("IFC4", all_ceilings, unit=unit, **PLACES["storey moved and turned"])
            write_ceilings(file, all_ceilings, detail=detail)
            seen = meshes(file, file.by_type(entity))
            for element in file.by_type(entity):
                assert extent(seen[element.GlobalId])[:, 2] == pytest.approx([LEVEL, LEVEL + 15.0], abs=NEAR)
            for ceiling in all_ceilings:
                keys = (
                    [(r.key, "covering") for r in ceiling.zone.rooms]
                    if detail == "grid"
                    else [(ceiling.key, k) for k in ceiling.panels.keys()]  # noqa: SIM118
                )
                all_points = np.vstack([seen[global_id(*key)] for key in keys])
                bounds = np.array(ceiling.zone.outline.bounds).reshape(2, 2)
                assert extent(all_points)[:, :2] == pytest.approx(bounds, abs=NEAR)

    def test_each_panel_is_where_its_bounds_say(self):
        all_ceilings = four_ceilings()
        file = a_model("IFC4", all_ceilings)
        write_ceilings(file, all_ceilings, detail="panels")
        for ceiling in all_ceilings:
            parts = [file.by_guid(global_id(ceiling.key, k)) for k in ceiling.panels.keys()]  # noqa: SIM118
            seen = meshes(file, parts)
            for part, bounds in zip(parts, ceiling.panels.bounds, strict=True):
                local = ceiling.layout.frame.to_local(seen[part.GlobalId][:, :2])
                assert extent(local).ravel() == pytest.approx(bounds, abs=NEAR), part.Tag

    def test_openings_are_holes_in_the_ceiling_and_in_the_panels_that_they_meet(self):
        (ceiling, *_) = four_ceilings()
        area = ifcopenshell.util.element.get_pset
        for detail in ("grid", "panels"):
            file = a_model("IFC4", [ceiling])
            write_ceilings(file, [ceiling], detail=detail)
            elements = file.by_type("IfcCovering" if detail == "grid" else "IfcBuildingElementPart")
            volume = sum(volume_of(e) for e in elements)
            net = area(file.by_type("IfcCovering")[0], "Qto_CoveringBaseQuantities", "NetArea")
            assert volume == pytest.approx(net * 0.015, rel=1e-6)

    def test_an_opening_that_takes_a_panel_whole_is_cut_into_its_neighbours_only(self):
        (ceiling, *_) = four_ceilings()
        (at,) = (i for i, k in enumerate(ceiling.panels.keys()) if k == "panel/4/4")
        device = Opening(
            key="big", outline=box(*ceiling.panels.bounds[at]).buffer(5.0), room=0, is_lay_in=False
        )
        ceiling = replace(ceiling, openings=(device,))
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling], detail="panels")
        tags = {p.Tag for p in file.by_type("IfcBuildingElementPart") if p.HasOpenings}
        assert tags == {f"panel/{i}/{j}" for i in (3, 4, 5) for j in (3, 4, 5)} - {"panel/4/4"}

    def test_the_setout_lines_lie_on_the_lattice(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling], unit="m")
        write_ceilings(file, [ceiling])
        (grid,) = file.by_type("IfcGrid")
        tags = {a.AxisTag: a.AxisCurve for a in (*grid.UAxes, *grid.VAxes)}
        assert set(tags) == {*(f"T{i}" for i in range(1, 9)), "M2", "M4", "M6", "S1", "S3", "S5", "S7"}
        assert {round(p.Coordinates[0], 9) for p in tags["T3"].Points} == {1.8}
        assert {round(p.Coordinates[1], 9) for p in tags["M4"].Points} == {2.4}


def volume_of(element: Any) -> float:
    """Volume in m³ of the element's mesh."""
    shape = ifcopenshell.geom.create_shape(ifcopenshell.geom.settings(), element)
    points = np.array(shape.geometry.verts).reshape(-1, 3)
    triangles = points[np.array(shape.geometry.faces).reshape(-1, 3)]
    return float(
        abs(np.einsum("ij,ij->i", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2])).sum()) / 6
    )
