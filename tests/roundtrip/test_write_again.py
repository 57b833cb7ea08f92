"""A second run changes nothing, and removal and adoption leave what others made as it was."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import ifcopenshell
import ifcopenshell.util.element
import pytest
from ceilings import guid, make_ceiling, make_model, make_room
from written import (
    DETAILS,
    LAMP,
    SCHEMAS,
    SPOT,
    a_model,
    adopted_model,
    clash,
    data,
    four_ceilings,
    rectangle,
)

from ifcgrid.ifc.identity import MARKER_SET, global_id, is_adopted
from ifcgrid.ifc.writing.remove import remove_ceilings
from ifcgrid.ifc.writing.write import write_ceilings


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
        # Among them are relations that have no end of ours.
        found = [
            clash(ceiling, "main_runner/2/0"),
            replace(clash(ceiling, ""), rule="column-in-room", subjects=(LAMP,)),
            replace(clash(ceiling, ""), rule="devices-overlap", subjects=(LAMP, SPOT)),
        ]
        report = write_ceilings(file, [ceiling], found)
        assert report.counts.get("interference", 0) == (0 if schema == "IFC2X3" else 3)
        once = data(file)
        write_ceilings(file, [ceiling], found)
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
