"""What is written is valid, complete and hangs together."""

from __future__ import annotations

import tomllib
from collections import Counter
from dataclasses import replace
from importlib import resources

import ifcopenshell.api.root
import ifcopenshell.util.element
import pytest
from ceilings import guid
from written import (
    DETAILS,
    LAMP,
    NEAR,
    SCHEMAS,
    SPOT,
    a_model,
    adopted_model,
    clash,
    four_ceilings,
    meshes,
    messages,
)

from ifcgrid.domain.ceiling import Role
from ifcgrid.ifc.identity import MARKER_SET, global_id
from ifcgrid.ifc.writing.mapping import CEILING_CLASHES, ELEMENT_CLASHES
from ifcgrid.ifc.writing.write import write_ceilings

pytestmark = [  # the validator leaves the file with its rules open
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


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

    def test_a_finding_with_many_subjects_gives_a_relation_for_each_part_and_element(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        parts = [f"{ceiling.key}/{k}" for k in ("main_runner/2/0", "second_tee/1/0")]
        many = replace(clash(ceiling, ""), subjects=(LAMP, "of another file", *parts))
        write_ceilings(file, [ceiling], [many])
        pairs = [
            (r.RelatingElement.Tag, r.RelatedElement.Name) for r in file.by_type("IfcRelInterferesElements")
        ]
        assert pairs == [("main_runner/2/0", "lamp"), ("second_tee/1/0", "lamp")]

    @pytest.mark.parametrize(
        ("rule", "relating"),
        [
            ("column-in-room", "IfcCovering"),
            ("devices-overlap", "IfcFlowTerminal"),
            ("device-off-module", None),
        ],
    )
    def test_without_a_part_of_ours_the_rule_says_what_clashes(self, rule: str, relating: str | None):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling], [replace(clash(ceiling, ""), rule=rule, subjects=(LAMP, SPOT))])
        found = {r.RelatingElement.is_a() for r in file.by_type("IfcRelInterferesElements")}
        assert found == ({relating} if relating else set())

    def test_the_rules_that_the_writer_knows_exist(self):
        rules = tomllib.loads((resources.files("ifcgrid.checks") / "data" / "clash.toml").read_text("utf-8"))
        assert set(rules) >= CEILING_CLASHES | ELEMENT_CLASHES

    def test_the_oldest_schema_has_no_such_relation_and_a_passed_check_gives_none(self):
        (ceiling, *_) = four_ceilings()
        report = write_ceilings(a_model("IFC2X3", [ceiling]), [ceiling], [clash(ceiling, "main_runner/2/0")])
        assert "interference" not in report.counts
