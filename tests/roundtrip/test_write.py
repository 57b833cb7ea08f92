"""What is written is valid, is where the domain says, comes once, and goes without a trace."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from typing import Any

import ceilings
import ifcopenshell
import ifcopenshell.api.root
import ifcopenshell.geom
import ifcopenshell.util.element
import numpy as np
import pytest
from ceilings import LEVEL, METRIC, add_covering, guid, make_ceiling, make_model, make_room
from ifcopenshell import validate
from shapely import Polygon, box
from shapely.affinity import rotate, translate

from ifcgrid.domain.ceiling import Ceiling, Opening, Role
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.room import Covering, Room
from ifcgrid.ifc.identity import MARKER_SET, global_id, is_adopted, is_ours
from ifcgrid.ifc.remove import remove_ceilings
from ifcgrid.ifc.write import write_ceilings

pytestmark = [  # the validator leaves the file with its rules open
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]

SCHEMAS = ("IFC2X3", "IFC4", "IFC4X3")
DETAILS = ("ceiling", "grid", "panels")
NEAR = 1e-3
"""mm; pieces of equal length share one shape to a thousandth of a mm."""

LAMP, SPOT = guid("lamp"), guid("spot")


def rectangle(x: float, y: float, width: float, depth: float) -> Polygon:
    return box(x, y, x + width, y + depth)


def an_l_with_a_hole() -> Polygon:
    shell = [(6000, 0), (11000, 0), (11000, 2500), (8500, 2500), (8500, 4000), (6000, 4000)]
    return Polygon(shell, [[(6800, 800), (6800, 1300), (7400, 1300), (7400, 800)]])


def four_ceilings() -> list[Ceiling]:
    """A rectangle with openings, an L with a hole, a room turned by 17 degrees, two rooms in one zone."""
    openings = (
        Opening(
            key=LAMP, outline=rectangle(1200, 1200, 600, 600), room=0, is_lay_in=True, cells=(2, 2, 1, 1)
        ),
        Opening(
            key=SPOT, outline=Polygon(rotate(rectangle(2750, 1400, 100, 100), 45)), room=0, is_lay_in=False
        ),
        Opening(
            key="a device of another file", outline=rectangle(2950, 1950, 100, 100), room=0, is_lay_in=False
        ),
    )
    turned = rotate(rectangle(13000, 0, 4100, 3300), 17.0, origin=(13000, 0))
    left, right = rectangle(0, 6000, 2500, 3000), rectangle(2503, 6000, 2500, 3000)
    return [
        make_ceiling([make_room("rectangle", rectangle(0, 0, 5000, 4200))], openings=openings),
        make_ceiling([make_room("L", an_l_with_a_hole())], soffit=None),
        make_ceiling([make_room("turned", turned)], angle=17.0),
        make_ceiling([make_room("left", left), make_room("right", right)], rectangle(0, 6000, 5003, 3000)),
    ]


def rooms_of(all_ceilings: list[Ceiling]) -> list[Room]:
    return [r for c in all_ceilings for r in c.zone.rooms]


def a_model(schema: str, all_ceilings: list[Ceiling], **how: Any) -> ifcopenshell.file:
    return make_model(schema, rooms_of(all_ceilings), devices=("lamp", "spot"), **how)


def data(file: ifcopenshell.file) -> str:
    return file.to_string().split("DATA;")[1]


def messages(file: ifcopenshell.file) -> list[str]:
    log = validate.json_logger()
    validate.validate(file, log, express_rules=True)
    return [json.dumps(s, default=str) for s in log.statements]


def ours(file: ifcopenshell.file, entity: str) -> list[Any]:
    return [e for e in file.by_type(entity) if is_ours(e)]


def meshes(file: ifcopenshell.file, elements: list[Any]) -> dict[str, np.ndarray]:
    """GlobalId to the corner points (n, 3) in mm that the kernel gives."""
    settings = ifcopenshell.geom.settings()
    settings.set("use-world-coords", True)
    found = {}
    for shape in ifcopenshell.geom.iterator(settings, file, 1, include=elements):
        found[shape.guid] = np.array(shape.geometry.verts).reshape(-1, 3) * 1000.0
    return found


class TestValidity:
    @pytest.mark.parametrize("detail", DETAILS)
    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_no_rule_of_the_schema_is_broken(self, schema: str, detail: str):
        file, adopted = adopted_model(schema, (0.0, -6000.0), four_ceilings())
        all_ceilings = [*four_ceilings(), adopted]
        found = [clash(adopted, "main_runner/2/0")]
        write_ceilings(file, all_ceilings, found, detail=detail, provenance={"InputFile": "a.ifc"})
        assert messages(file) == []

    @pytest.mark.parametrize("detail", DETAILS)
    def test_every_root_has_its_own_global_id(self, detail: str):
        all_ceilings = four_ceilings()
        file = a_model("IFC4", all_ceilings)
        write_ceilings(file, all_ceilings, detail=detail)
        ids = [r.GlobalId for r in file.by_type("IfcRoot")]
        assert len(ids) == len(set(ids))


class TestCounts:
    @pytest.mark.parametrize("detail", DETAILS)
    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_there_are_as_many_elements_as_the_domain_counts(self, schema: str, detail: str):
        all_ceilings = four_ceilings()
        file = a_model(schema, all_ceilings)
        report = write_ceilings(file, all_ceilings, detail=detail)
        has_grid, has_panels = detail != "ceiling", detail == "panels"
        hangers = sum(len(c.hangers) for c in all_ceilings)
        panels = sum(len(c.panels) for c in all_ceilings)
        assert hangers > 10
        assert panels > 100
        assert len(file.by_type("IfcCovering")) == 5
        assert len(file.by_type("IfcMember")) == has_grid * sum(len(c.members) for c in all_ceilings)
        assert len(file.by_type("IfcDiscreteAccessory")) == has_grid * hangers
        assert len(file.by_type("IfcElementAssembly")) == len(file.by_type("IfcGrid")) == has_grid * 4
        assert len(file.by_type("IfcBuildingElementPart")) == has_panels * panels
        assert report.counts.get("panel", 0) == has_panels * panels
        assert report.counts.get("hanger", 0) == has_grid * hangers
        roles = Counter(r for c in all_ceilings for r in c.members.role.tolist())
        for role in Role:
            assert report.counts.get(role.word, 0) == has_grid * roles[role]

    def test_at_the_coarsest_detail_there_is_nothing_but_coverings(self):
        all_ceilings = four_ceilings()
        file = a_model("IFC4", all_ceilings)
        before = len(file.by_type("IfcProduct"))
        write_ceilings(file, all_ceilings, detail="ceiling")
        assert len(file.by_type("IfcProduct")) == before + 5

    def test_an_unknown_detail_is_answered_with_the_known_ones(self):
        all_ceilings = four_ceilings()
        with pytest.raises(ValueError, match="ceiling, grid, panels"):
            write_ceilings(a_model("IFC4", all_ceilings), all_ceilings, detail="fine")


class TestQuantities:
    @pytest.mark.parametrize("schema", SCHEMAS)
    @pytest.mark.parametrize("unit", ["mm", "m", "ft"])
    def test_areas_are_the_outlines_areas(self, schema: str, unit: str):
        all_ceilings = four_ceilings()
        file = a_model(schema, all_ceilings, unit=unit)
        write_ceilings(file, all_ceilings)
        name = "BaseQuantities" if schema == "IFC2X3" else "Qto_CoveringBaseQuantities"
        found = {c.GlobalId: ifcopenshell.util.element.get_pset(c, name) for c in file.by_type("IfcCovering")}
        gross = {r: found[global_id(guid(r), "covering")]["GrossArea"] for r in ("rectangle", "L", "turned")}
        assert gross["rectangle"] == pytest.approx(21.0, abs=1e-9)
        assert gross["L"] == pytest.approx(5.0 * 2.5 + 2.5 * 1.5 - 0.6 * 0.5, abs=1e-9)
        assert gross["turned"] == pytest.approx(4.1 * 3.3, abs=1e-9)
        net = found[global_id(guid("rectangle"), "covering")]["NetArea"]
        assert net == pytest.approx(21.0 - 0.36 - 0.01 - 0.01, abs=1e-9)

    def test_the_rooms_of_one_zone_share_it_without_rest(self):
        all_ceilings = four_ceilings()
        file = a_model("IFC4", all_ceilings)
        write_ceilings(file, all_ceilings)
        areas = [
            ifcopenshell.util.element.get_pset(
                file.by_guid(global_id(guid(r), "covering")), "Qto_CoveringBaseQuantities", "GrossArea"
            )
            for r in ("left", "right")
        ]
        assert sum(areas) == pytest.approx(5.003 * 3.0, abs=1e-9)
        assert areas[1] == pytest.approx(7.5, abs=1e-9)

    def test_each_member_states_its_length(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling], unit="ft")
        write_ceilings(file, [ceiling])
        lengths = dict(zip(ceiling.members.keys(), ceiling.members.length.tolist(), strict=True))
        for member in file.by_type("IfcMember"):
            stated = ifcopenshell.util.element.get_pset(member, "Qto_MemberBaseQuantities", "Length")
            assert stated * 304.8 == pytest.approx(lengths[member.Tag], abs=NEAR)


def member_boxes(ceiling: Ceiling) -> dict[str, np.ndarray]:
    """Tag to the box (2, 3) of a member in model coordinates, from the domain alone."""
    members, system, found = ceiling.members, ceiling.system, {}
    for key, role, a, b in zip(members.keys(), members.role, members.start, members.end, strict=True):
        along = (b - a) / np.hypot(*(b - a))
        left = np.array([-along[1], along[0]])
        section = {0: system.main, 3: system.angle}.get(int(role), system.tee)
        sides = (0.0, section.face) if role == Role.WALL_ANGLE else (-section.face / 2, section.face / 2)
        plan = ceiling.layout.frame.to_world([p + left * s for p in (a, b) for s in sides])
        found[key] = np.array([[*plan.min(axis=0), LEVEL], [*plan.max(axis=0), LEVEL + section.height]])
    return found


def extent(points: np.ndarray) -> np.ndarray:
    return np.array([points.min(axis=0), points.max(axis=0)])


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


class TestRelations:
    def test_everything_hangs_together(self):
        all_ceilings = four_ceilings()
        file = a_model("IFC4", all_ceilings)
        write_ceilings(file, all_ceilings)
        element = ifcopenshell.util.element
        for covering in file.by_type("IfcCovering"):
            space = element.get_container(covering)
            assert space.is_a("IfcSpace")
            assert covering.GlobalId == global_id(space.GlobalId, "covering")
            assert element.get_predefined_type(covering) == "CEILING"
            (carrier,) = [r.RelatingElement for r in covering.ConnectedFrom]
            assert carrier.is_a("IfcElementAssembly")
            assert element.get_pset(covering, "Pset_CoveringCeiling", "TileLength") == 600.0
            assert element.get_pset(covering, MARKER_SET, "Key") in {c.key for c in all_ceilings}
        for part in (*file.by_type("IfcMember"), *file.by_type("IfcDiscreteAccessory")):
            whole = element.get_aggregate(part)
            assert whole.is_a("IfcElementAssembly")
            assert part.ObjectPlacement.PlacementRelTo == whole.ObjectPlacement
            assert element.get_type(part) is not None
            assert element.get_material(part, should_inherit=True).Name == "Steel"
        for grid in file.by_type("IfcGrid"):
            assert element.get_container(grid).is_a("IfcSpace")

    def test_devices_of_this_file_fill_their_openings_and_a_filled_one_is_left_alone(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        make = file.create_entity
        other = make("IfcOpeningElement", guid("wall hole"))
        make("IfcRelFillsElement", guid("fills"), None, None, None, other, file.by_guid(SPOT))
        report = write_ceilings(file, [ceiling])
        assert report.counts["opening"] == 3
        assert report.counts["filled"] == 1
        (filling,) = file.by_guid(LAMP).FillsVoids
        assert filling.RelatingOpeningElement.GlobalId == global_id(ceiling.key, f"opening/{LAMP}")
        assert [f.GlobalId for f in file.by_guid(SPOT).FillsVoids] == [guid("fills")]

    def test_other_programs_can_delete_one_member_and_the_others_keep_their_shape(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        victims = [m for m in file.by_type("IfcMember") if m.Tag.startswith("cross_tee/3")]
        assert len(victims) > 1
        before = len(file.by_type("IfcMember"))
        for victim in victims:
            ifcopenshell.api.root.remove_product(file, victim)
        left = file.by_type("IfcMember")
        assert len(left) == before - len(victims)
        assert len(meshes(file, left)) == len(left)


def clash(ceiling: Ceiling, part: str, with_key: str = LAMP) -> Finding:
    return Finding(
        rule="light-in-member",
        source="test",
        clause="",
        verdict=Verdict.FAIL,
        room=ceiling.zone.rooms[0].key,
        subjects=(f"{ceiling.key}/{part}", with_key),
        message="a light meets a main runner",
    )


class TestClashes:
    @pytest.mark.parametrize("schema", ["IFC4", "IFC4X3"])
    def test_a_failing_clash_in_this_file_becomes_one_relation(self, schema: str):
        (ceiling, *_) = four_ceilings()
        file = a_model(schema, [ceiling])
        found = [clash(ceiling, "main_runner/2/0"), clash(ceiling, "main_runner/2/0")]
        found.append(clash(ceiling, "main_runner/2/0", "in another file"))
        report = write_ceilings(file, [ceiling], found)
        (relation,) = file.by_type("IfcRelInterferesElements")
        assert report.counts["interference"] == 1
        assert relation.RelatingElement.Tag == "main_runner/2/0"
        assert relation.RelatedElement.GlobalId == LAMP
        assert relation.ImpliedOrder is False
        assert relation.InterferenceType == "Clash"

    def test_a_part_that_this_detail_leaves_out_is_told_of_its_ceiling(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling], [clash(ceiling, "panel/2/2")], detail="grid")
        (relation,) = file.by_type("IfcRelInterferesElements")
        assert relation.RelatingElement.is_a("IfcCovering")

    def test_the_oldest_schema_has_no_such_relation_and_a_passed_check_gives_none(self):
        (ceiling, *_) = four_ceilings()
        report = write_ceilings(a_model("IFC2X3", [ceiling]), [ceiling], [clash(ceiling, "main_runner/2/0")])
        assert "interference" not in report.counts


def adopted_model(
    schema: str, corner: tuple[float, float] = (0.0, 0.0), others: Sequence[Ceiling] = ()
) -> tuple[ifcopenshell.file, Ceiling]:
    """A room whose architect modelled a ceiling, contained in the storey; other rooms beside it."""
    outline = rectangle(*corner, 5000, 4200)
    covering = Covering(key=guid("architect"), name="A", outline=outline, underside=LEVEL, top=LEVEL + 50.0)
    ceiling = make_ceiling([make_room("adopted", outline, covering)])
    file = a_model(schema, [ceiling, *others], has_views=False)
    add_covering(file, covering.key, outline)
    return file, ceiling


class TestAdoption:
    @pytest.mark.parametrize("detail", DETAILS)
    def test_the_architects_ceiling_stays_and_carries_the_grid(self, detail: str):
        file, ceiling = adopted_model("IFC4")
        (theirs,) = file.by_type("IfcCovering")
        text = theirs.to_string()
        report = write_ceilings(file, [ceiling], detail=detail)
        assert list(file.by_type("IfcCovering")) == [theirs]
        assert theirs.to_string() == text
        assert report.adopted == (theirs.GlobalId,)
        assert is_adopted(theirs)
        assert ifcopenshell.util.element.get_container(theirs).is_a("IfcBuildingStorey")
        assert len(theirs.ConnectedFrom) == (detail != "ceiling")
        assert not file.by_type("IfcBuildingElementPart")

    def test_a_ceiling_over_two_rooms_is_adopted_once(self):
        file, ceiling = adopted_model("IFC4")
        covering = ceiling.zone.rooms[0].covering
        rooms = [make_room(n, rectangle(x, 0, 2500, 4200), covering) for n, x in (("a", 0), ("b", 2500))]
        both = make_model("IFC4", rooms)
        both.add(file.by_guid(guid("architect")))
        report = write_ceilings(both, [make_ceiling([r]) for r in rooms])
        (theirs,) = both.by_type("IfcCovering")
        assert report.adopted == (theirs.GlobalId,)
        assert len(theirs.IsDefinedBy) == 1
        assert len(theirs.ConnectedFrom) == 2

    def test_on_request_it_is_replaced_without_leaving_anything(self):
        file, ceiling = adopted_model("IFC4")
        bare = a_model("IFC4", [ceiling], has_views=False)
        report = write_ceilings(file, [ceiling], replace=True)
        assert report.replaced == (guid("architect"),)
        (covering,) = file.by_type("IfcCovering")
        assert covering.GlobalId == global_id(guid("adopted"), "covering")
        remove_ceilings(file)
        assert Counter(e.is_a() for e in file) == Counter(e.is_a() for e in bare)


class TestSecondRun:
    @pytest.mark.parametrize("detail", DETAILS)
    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_it_gives_the_same_file_and_removal_gives_the_first_one(self, schema: str, detail: str):
        all_ceilings = four_ceilings()
        file = a_model(schema, all_ceilings, has_views=False)
        first = data(file)
        write_ceilings(file, all_ceilings, detail=detail, provenance={"InputSha256": "1"})
        once = data(file)
        again = ifcopenshell.file.from_string(file.to_string())
        report = write_ceilings(again, all_ceilings, detail=detail, provenance={"InputSha256": "2"})
        assert data(again) == once
        assert report.removed == sum(report.counts[k] for k in report.counts if k not in ("type", "filled"))
        remove_ceilings(again)
        assert data(again) == first

    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_adoption_can_be_repeated_and_undone(self, schema: str):
        file, ceiling = adopted_model(schema)
        first = data(file)
        write_ceilings(file, [ceiling], [clash(ceiling, "main_runner/2/0")])
        once = data(file)
        write_ceilings(file, [ceiling], [clash(ceiling, "main_runner/2/0")])
        assert data(file) == once
        remove_ceilings(file)
        assert data(file) == first

    def test_what_was_said_of_the_input_is_renewed_where_the_ceiling_changed(self):
        all_ceilings = four_ceilings()
        file = a_model("IFC4", all_ceilings)
        write_ceilings(file, all_ceilings, provenance={"InputSha256": "1"})
        moved = make_ceiling(list(all_ceilings[1].zone.rooms), offset=(100.0, 100.0))
        write_ceilings(file, [all_ceilings[0], moved, *all_ceilings[2:]], provenance={"InputSha256": "2"})
        told = {
            c.Name: ifcopenshell.util.element.get_pset(c, MARKER_SET, "InputSha256")
            for c in file.by_type("IfcCovering")
        }
        assert told["Suspended ceiling L"] == "2"
        assert {v for n, v in told.items() if not n.endswith(" L")} == {"1"}

    def test_a_coarser_run_after_a_finer_one_leaves_nothing_of_the_finer(self):
        all_ceilings = four_ceilings()
        file, other = a_model("IFC4", all_ceilings), a_model("IFC4", all_ceilings)
        write_ceilings(file, all_ceilings, detail="panels")
        write_ceilings(file, all_ceilings, detail="ceiling")
        write_ceilings(other, all_ceilings, detail="ceiling")
        assert data(file) == data(other)

    def test_what_others_added_to_our_relations_and_parts_stays(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        chair = file.create_entity("IfcFurniture", guid("chair"))
        relation = next(
            r for r in file.by_type("IfcRelContainedInSpatialStructure") if r.GlobalId != guid("contains")
        )
        relation.RelatedElements = [*relation.RelatedElements, chair]
        (assembly,) = file.by_type("IfcElementAssembly")
        sign = file.create_entity("IfcMember", guid("sign"), Tag="a hand-made part")
        assembly.IsDecomposedBy[0].RelatedObjects = [*assembly.IsDecomposedBy[0].RelatedObjects, sign]
        remove_ceilings(file)
        assert relation.RelatedElements == (chair,)
        assert list(file.by_type("IfcMember")) == [sign]
        assert not [p for p in file.by_type("IfcPropertySet") if p.Name == MARKER_SET]
