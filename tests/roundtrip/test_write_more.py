"""Classes, provisions for voids and the standard sets, in three schemas."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import ifcopenshell
import ifcopenshell.util.classification
import ifcopenshell.util.element
import pytest
from ceilings import METRIC, guid, make_ceiling, make_room
from normative import faults
from written import LAMP, SCHEMAS, SPOT, a_model, adopted_model, data, four_ceilings, rectangle

from ifcgrid.domain.ceiling import Ceiling, Opening
from ifcgrid.domain.classification import Classification
from ifcgrid.domain.errors import PlanError
from ifcgrid.domain.plan import parse_plan
from ifcgrid.domain.weights import Weights
from ifcgrid.ifc.edits import survey_edits
from ifcgrid.ifc.identity import is_ours
from ifcgrid.ifc.writing.remove import remove_ceilings
from ifcgrid.ifc.writing.write import write_ceilings

OWN = Classification(system="House classes", code="C-42", name="Lay-in ceiling")
get_psets = ifcopenshell.util.element.get_psets


def breaches(file: ifcopenshell.file) -> dict[str, list[str]]:
    """Breaches of the normative rules but for what the hand-made model's own spaces and devices do."""
    return {k: v for k, v in faults(file).items() if k not in ("GEM052", "OJT001", "IFC106")}


def classed(ceilings: list[Ceiling], own: Classification = OWN) -> list[Ceiling]:
    return [replace(c, classification=(own,) * len(c.zone.rooms)) for c in ceilings]


class TestClassification:
    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_every_ceiling_refers_to_one_reference_of_its_class(self, schema: str):
        ceilings = classed(four_ceilings())
        file = a_model(schema, ceilings)
        first = data(file)
        write_ceilings(file, ceilings)
        (reference,) = file.by_type("IfcClassificationReference")
        assert reference.ReferencedSource.Name == "House classes"
        assert (reference[1], reference.Name) == ("C-42", "Lay-in ceiling")
        for covering in file.by_type("IfcCovering"):
            assert ifcopenshell.util.classification.get_references(covering) == {reference}
        assert breaches(file) == {}
        assert survey_edits(file).edits == {}
        once = data(file)
        write_ceilings(file, ceilings)
        assert data(file) == once
        remove_ceilings(file)
        assert data(file) == first

    @pytest.mark.parametrize("schema", SCHEMAS)
    @pytest.mark.parametrize("code", ["C-42", "C-1"])
    def test_what_the_model_has_is_used_again_and_stays(self, schema: str, code: str):
        ceilings = classed(four_ceilings())
        file = a_model(schema, ceilings)
        name = ("House", "1", None, OWN.system)
        source = file.create_entity("IfcClassification", *name)
        theirs = file.create_entity("IfcClassificationReference", None, code, "theirs", source)
        first = data(file)
        write_ceilings(file, ceilings)
        assert len(file.by_type("IfcClassification")) == 1
        assert len(file.by_type("IfcClassificationReference")) == (1 if code == OWN.code else 2)
        used = {r.RelatingClassification for r in file.by_type("IfcRelAssociatesClassification")}
        assert (theirs in used) is (code == OWN.code)
        assert survey_edits(file).edits == {}
        remove_ceilings(file)
        assert data(file) == first

    def test_where_the_architects_ceiling_stays_the_grid_is_classed(self):
        file, ceiling = adopted_model("IFC4")
        write_ceilings(file, classed([ceiling]))
        (relation,) = file.by_type("IfcRelAssociatesClassification")
        assert [o.is_a() for o in relation.RelatedObjects] == ["IfcElementAssembly"]

    def test_a_plan_gives_it_to_all_rooms_or_some(self):
        text = 'classification = {system = "S", code = "1"}\n[[rooms]]\nname = "hall"\n'
        text += 'classification = {system = "S", code = "2", name = "Hall ceiling", edition = "2015"}'
        plan = parse_plan(text, ["lay-in-600x600"])
        other, hall = (plan.settings_for({"name": n}).classification for n in ("office", "hall"))
        assert other == Classification(system="S", code="1")
        assert hall == Classification(system="S", code="2", name="Hall ceiling", edition="2015")

    @pytest.mark.parametrize(
        ("value", "message"),
        [
            ('"C-42"', "give {system"),
            ('{system = "S"}', "classification.code is missing"),
            ('{system = "S", code = 42}', "classification.code is 42"),
            ('{system = "S", code = "1", colour = "red"}', "no entry 'colour'"),
        ],
    )
    def test_a_wrong_one_is_refused_with_what_would_be_right(self, value: str, message: str):
        with pytest.raises(PlanError, match=message):
            parse_plan(f"classification = {value}", ["lay-in-600x600"])


class TestProvisions:
    def ceiling(self, schema: str) -> tuple[ifcopenshell.file, Ceiling]:
        file, ceiling = adopted_model(schema)
        holes = (
            Opening(
                key=LAMP, outline=rectangle(1200, 1200, 600, 600), room=0, is_lay_in=True, cells=(2, 2, 1, 1)
            ),
            Opening(key="elsewhere", outline=rectangle(2750, 1400, 100, 100), room=0, is_lay_in=False),
        )
        return file, replace(ceiling, openings=holes)

    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_an_adopted_ceiling_is_asked_for_its_holes_and_not_cut(self, schema: str):
        file, ceiling = self.ceiling(schema)
        first = data(file)
        report = write_ceilings(file, [ceiling])
        entity = "IfcVirtualElement" if schema == "IFC4X3" else "IfcBuildingElementProxy"
        made = file.by_type(entity)
        assert report.counts["provision"] == len(made) == 2
        assert not file.by_type("IfcOpeningElement")
        assert all(is_ours(p) for p in made)
        told = {get_psets(p)["IfcGrid_Opening"]["Device"]: get_psets(p)["IfcGrid_Opening"] for p in made}
        assert told[LAMP]["IsDeviceInThisModel"] is True
        assert told["elsewhere"]["IsDeviceInThisModel"] is False
        assert {ifcopenshell.util.element.get_container(p).is_a() for p in made} == {"IfcSpace"}
        kind = ifcopenshell.util.element.get_predefined_type(made[0])
        assert kind == ("ProvisionForVoid" if schema == "IFC2X3" else "PROVISIONFORVOID")
        assert breaches(file) == {}
        assert survey_edits(file).edits == {}
        remove_ceilings(file)
        assert data(file) == first

    def test_a_device_that_fills_a_hole_already_needs_none(self):
        file, ceiling = self.ceiling("IFC4")
        hole = file.create_entity("IfcOpeningElement", guid("hole"))
        file.create_entity("IfcRelFillsElement", guid("fills"), None, None, None, hole, file.by_guid(LAMP))
        report = write_ceilings(file, [ceiling])
        assert report.counts["provision"] == 1

    def test_openings_say_whether_their_device_is_in_this_model(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling], detail="panels")
        told = [get_psets(o)["IfcGrid_Opening"] for o in file.by_type("IfcOpeningElement")]
        assert {t["Device"]: t["IsDeviceInThisModel"] for t in told} == {
            LAMP: True,
            SPOT: True,
            "a device of another file": False,
        }


class TestStandardSets:
    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_members_accessories_and_the_assembly_bear_theirs(self, schema: str):
        (ceiling, *_) = four_ceilings()
        file = a_model(schema, [ceiling])
        write_ceilings(file, [ceiling])
        tee = next(m for m in file.by_type("IfcMember") if m.Tag.startswith("cross_tee"))
        common = get_psets(tee)["Pset_MemberCommon"]
        assert common["LoadBearing"] is common["IsExternal"] is False
        assert common["Span"] == pytest.approx(ceiling_length(ceiling, tee.Tag), abs=1e-3)
        assert ("Status" in common) is (schema != "IFC2X3")
        main = next(m for m in file.by_type("IfcMember") if m.Tag.startswith("main"))
        assert "Span" not in get_psets(main)["Pset_MemberCommon"]
        (assembly,) = file.by_type("IfcElementAssembly")
        anchor = file.by_type("IfcMechanicalFastener")[0]
        new = {
            "Pset_ElementAssemblyCommon",
            "Pset_ElementComponentCommon",
            "Pset_MechanicalFastenerAnchorBolt",
        }
        has = set(get_psets(assembly)) | set(get_psets(anchor))
        assert new & has == (set() if schema == "IFC2X3" else new)
        if schema != "IFC2X3":
            assert get_psets(anchor)["Pset_ElementComponentCommon"]["Status"] == ["NEW"]
            assert get_psets(anchor)["Pset_MechanicalFastenerAnchorBolt"]["AnchorBoltDiameter"] == 8.0
        assert get_psets(anchor)["IfcGrid_Anchor"]["IsNominal"] is True

    @pytest.mark.parametrize("unit", ["mm", "ft"])
    def test_weights_stand_there_only_where_the_system_states_them(self, unit: str):
        weights = Weights(main_kg_per_m=0.35, basis="invented for tests")
        system = replace(METRIC, weights=weights)
        ceiling = make_ceiling([make_room("rectangle", rectangle(0, 0, 5000, 4200))], system=system)
        file = a_model("IFC4", [ceiling], unit=unit)
        write_ceilings(file, [ceiling], detail="panels")
        kinds = Counter()
        for member in file.by_type("IfcMember"):
            stated = get_psets(member)["Qto_MemberBaseQuantities"]
            kinds[member.Tag.split("/")[0], "GrossWeight" in stated] += 1
            if "GrossWeight" in stated:
                assert stated["GrossWeight"] == pytest.approx(5.0 * 0.35, abs=1e-9)
        assert {k for k, has in kinds if has} == {"main_runner"}
        (unit_of,) = {q.Unit for q in file.by_type("IfcQuantityWeight")}
        assert (unit_of.UnitType, unit_of.Prefix, unit_of.Name) == ("MASSUNIT", "KILO", "GRAM")
        panel = file.by_type("IfcBuildingElementPart")[0]
        told = get_psets(panel)["IfcGrid_PanelQuantities"]
        assert told["Weight"] == pytest.approx(told["Area"] * 5.0, rel=1e-9)

    def test_a_projects_own_units_hold_for_weights_and_volumes(self):
        weights = Weights(main_kg_per_m=0.35, basis="invented for tests")
        ceiling = make_ceiling(
            [make_room("rectangle", rectangle(0, 0, 5000, 4200))], system=replace(METRIC, weights=weights)
        )
        file = a_model("IFC4", [ceiling])
        units = file.by_type("IfcUnitAssignment")[0]
        gram = file.create_entity("IfcSIUnit", UnitType="MASSUNIT", Name="GRAM")
        litre = file.create_entity("IfcSIUnit", UnitType="VOLUMEUNIT", Prefix="DECI", Name="CUBIC_METRE")
        units.Units = [*units.Units, gram, litre]
        write_ceilings(file, [ceiling])
        main = next(m for m in file.by_type("IfcMember") if m.Tag.startswith("main"))
        stated = get_psets(main)["Qto_MemberBaseQuantities"]
        assert stated["GrossWeight"] == pytest.approx(5.0 * 350.0)
        assert stated["GrossVolume"] == pytest.approx((24.0 + 38.0 - 0.3) * 0.3 * 5000.0 / 1e6)
        assert {q.Unit for q in file.by_type("IfcQuantityWeight")} == {None}


def ceiling_length(ceiling: Ceiling, tag: str) -> float:
    return dict(zip(ceiling.members.keys(), ceiling.members.length.tolist(), strict=True))[tag]
