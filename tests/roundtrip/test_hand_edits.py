"""What somebody changed by hand is noticed, named before it is replaced, and kept on request."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import ifcopenshell
import ifcopenshell.util.element
import ifcopenshell.util.placement
import numpy as np
import pytest
from ceilings import guid, make_ceiling, make_room
from hand_edits import by_tag, copy, delete, describe, make_of, move
from normative import faults
from written import SCHEMAS, a_model, data, four_ceilings, meshes, messages, rectangle

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.edit import Change
from ifcgrid.ifc.edits import survey_edits
from ifcgrid.ifc.identity import global_id
from ifcgrid.ifc.writing.remove import remove_ceilings
from ifcgrid.ifc.writing.write import write_ceilings

pytestmark = [
    pytest.mark.filterwarnings("ignore::ResourceWarning"),  # the validator leaves its rules open
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]

EXPECTED = {
    "main_runner/2/0": (Change.MOVED,),
    "wall_angle/0/0": (Change.RENAMED,),
    "cross_tee/3/2": (Change.RESHAPED,),
    "hanger/2/0": (Change.PROPERTIES,),
    "hanger/4/0": (Change.ASSIGNED,),
    "hanger/4/1": (Change.ADDED,),
    "hanger/2/1": (Change.DELETED,),
    "second_tee/1/0": (Change.MOVED, Change.RENAMED),
}
"""What `edit_all` does to the first room's ceiling, by tag."""


def edit_all(file: ifcopenshell.file) -> None:
    parts = by_tag(file, "rectangle")
    move(parts["main_runner/2/0"], 0.0, 30.0)
    parts["wall_angle/0/0"].Name = "Shadow gap"
    shorten(file, parts["cross_tee/3/2"], 120.0)
    describe(file, parts["hanger/2/0"])
    make_of(file, parts["hanger/4/0"], "Brass")
    copy(file, parts["hanger/4/1"])
    delete(file, parts["hanger/2/1"])
    move(parts["second_tee/1/0"], 10.0, 0.0)
    parts["second_tee/1/0"].Description = "as found"


def shorten(file: ifcopenshell.file, part: Any, by: float) -> None:
    (body,) = part.Representation.Representations
    solid = body.Items[0].MappingSource.MappedRepresentation.Items[0]
    own = file.create_entity("IfcExtrudedAreaSolid", *tuple(solid)[:3], solid.Depth - by)
    body.RepresentationType, body.Items = "SweptSolid", [own]


def some_ceilings() -> list[Ceiling]:
    """The one that is edited, and a zone of two rooms beside it."""
    return four_ceilings()[:1] + four_ceilings()[3:]


def told(file: ifcopenshell.file) -> dict[str, tuple[Change, ...]]:
    return {e.part: e.changes for e in survey_edits(file).edits.values()}


def judged(file: ifcopenshell.file) -> dict[str, list[str]]:
    """Breaches of the normative rules but for those that the model's own spaces have, or a bare edit made."""
    return {k: v for k, v in faults(file).items() if k not in ("GEM052", "IFC106")}


def census(file: ifcopenshell.file) -> Counter[str]:
    return Counter(e.is_a() for e in file)


@pytest.fixture(scope="module", params=SCHEMAS)
def edited(request: pytest.FixtureRequest) -> tuple[str, str]:
    """A schema and the text of a model with ceilings that somebody edited."""
    all_ceilings = some_ceilings()
    file = a_model(request.param, all_ceilings)
    write_ceilings(file, all_ceilings)
    assert told(file) == {}
    edit_all(file)
    return request.param, file.to_string()


class TestNoticed:
    def test_each_kind_of_edit_is_told_and_nothing_else(self, edited: tuple[str, str]):
        assert told(ifcopenshell.file.from_string(edited[1])) == EXPECTED

    def test_what_is_replaced_is_reported_and_gone(self, edited: tuple[str, str]):
        schema, text = edited
        file = ifcopenshell.file.from_string(text)
        report = write_ceilings(file, some_ceilings())
        assert {e.part: e.changes for e in report.edits} == EXPECTED
        assert not any(e.is_kept for e in report.edits)
        assert told(file) == {}
        clean = a_model(schema, some_ceilings())
        write_ceilings(clean, some_ceilings())
        assert census(file) - census(clean) == Counter()

    @pytest.mark.parametrize("by", [0.0001, 0.11])
    def test_moves_that_nobody_can_see_are_no_edits(self, by: float):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        move(by_tag(file)["hanger/2/0"], by, 0.0)
        assert set(told(file)) == ({"hanger/2/0"} if by > 0.1 else set())

    def test_noise_of_a_program_that_saved_the_model_is_no_edit(self):
        all_ceilings = some_ceilings()
        file = a_model("IFC4", all_ceilings, unit="m")
        write_ceilings(file, all_ceilings, detail="panels")
        for point in file.by_type("IfcCartesianPoint"):
            point.Coordinates = [x * (1.0 + 1e-10) + 1e-11 for x in point.Coordinates]
        for direction in file.by_type("IfcDirection"):
            direction.DirectionRatios = [x + 1e-9 for x in direction.DirectionRatios]
        assert told(file) == {}

    @pytest.mark.parametrize("detail", ["ceiling", "grid", "panels"])
    def test_a_property_of_ours_that_was_changed_names_all_that_share_it(self, detail: str):
        all_ceilings = some_ceilings()
        file = a_model("IFC4", all_ceilings)
        write_ceilings(file, all_ceilings, detail=detail)
        prop = next(p for p in file.by_type("IfcPropertySingleValue") if p.Name == "TileLength")
        prop.NominalValue.wrappedValue = 610.0
        changed = survey_edits(file).edits.values()
        assert {(e.part, e.changes) for e in changed} == {("covering", (Change.PROPERTIES,))}

    def test_a_type_that_was_renamed_is_told_once(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        kind = file.by_type("IfcMemberType")[0]
        kind.Name = "T bar"
        assert told(file) == {"type T bar": (Change.RENAMED,)}

    def test_the_material_of_a_type_is_told_of_the_type(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        next(m for m in file.by_type("IfcMaterial") if m.Name == "Steel").Name = "Aluminium"
        kinds = [e.changes for e in survey_edits(file).edits.values() if e.part.startswith("type")]
        assert set(kinds) == {(Change.ASSIGNED,)}
        assert len(kinds) == len(file.by_type("IfcMemberType")) + 2  # hangers and anchors

    def test_a_part_that_was_taken_out_of_its_assembly_is_told_and_not_doubled(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        part = by_tag(file)["hanger/2/0"]
        (relation,) = part.Decomposes
        relation.RelatedObjects = [o for o in relation.RelatedObjects if o != part]
        part.Tag = "H1"
        assert told(file) == {"hanger/2/0": (Change.RENAMED, Change.REGROUPED)}
        write_ceilings(file, [ceiling])
        assert [k for k, n in Counter(e.GlobalId for e in file.by_type("IfcRoot")).items() if n > 1] == []

    def test_a_deleted_assembly_is_told_with_all_that_it_left(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        bare = census(file)
        (assembly,) = file.by_type("IfcElementAssembly")
        placement = assembly.ObjectPlacement
        for relation in list(file.get_inverse(assembly)):
            values = [v for v in relation if isinstance(v, tuple) and assembly in v]
            if values and len(values[0]) > 1:
                relation[list(relation).index(values[0])] = [v for v in values[0] if v != assembly]
            else:
                file.remove(relation)
        file.remove(assembly)
        assert placement is not None
        changes = told(file)
        assert changes["elementassembly"] == (Change.DELETED,)
        assert changes["hanger/2/0"] == (Change.REGROUPED,)
        write_ceilings(file, [ceiling])
        assert census(file) - bare == Counter()


class TestKept:
    def test_the_edited_elements_stay_as_they_are(self, edited: tuple[str, str]):
        file = ifcopenshell.file.from_string(edited[1])
        places = world_places(file)
        report = write_ceilings(file, some_ceilings(), keep_edits=True)
        assert all(e.is_kept for e in report.edits)
        assert told(file) == EXPECTED
        parts = by_tag(file, "rectangle")
        assert parts["wall_angle/0/0"].Name == "Shadow gap"
        assert "hanger/2/1" not in parts
        assert ifcopenshell.util.element.get_pset(parts["hanger/2/0"], "Site check", "Checked") is True
        assert ifcopenshell.util.element.get_material(parts["hanger/4/0"]).Name == "Brass"
        after = world_places(file)
        assert set(after) == set(places)
        assert max(np.abs(after[k] - places[k]).max() for k in places) < 1e-6

    def test_the_model_stays_valid_and_every_part_hangs_on_its_whole(self, edited: tuple[str, str]):
        schema, text = edited
        file = ifcopenshell.file.from_string(text)
        write_ceilings(file, some_ceilings(), keep_edits=True)
        # The validator takes longest in the newer schemas; there the normative rules have to do.
        assert (messages(file) == []) if schema == "IFC2X3" else (judged(file) == {})
        for part in (*file.by_type("IfcMember"), *file.by_type("IfcDiscreteAccessory")):
            (whole,) = [r.RelatingObject for r in part.Decomposes]
            assert part.ObjectPlacement.PlacementRelTo == whole.ObjectPlacement
            is_copy = part.GlobalId == guid(f"copy of {part.Tag}")
            assert is_copy or ifcopenshell.util.element.get_type(part) is not None
        name = "BaseQuantities" if schema == "IFC2X3" else "Qto_MemberBaseQuantities"
        moved = by_tag(file, "rectangle")["main_runner/2/0"]
        assert ifcopenshell.util.element.get_pset(moved, name, "Length") == pytest.approx(5000.0)

    def test_keeping_again_changes_nothing_and_not_keeping_replaces_all(self, edited: tuple[str, str]):
        schema, text = edited
        file = ifcopenshell.file.from_string(text)
        write_ceilings(file, some_ceilings(), keep_edits=True)
        once = census(file)
        ids = sorted(e.GlobalId for e in file.by_type("IfcRoot"))
        write_ceilings(file, some_ceilings(), keep_edits=True)
        assert census(file) == once
        assert sorted(e.GlobalId for e in file.by_type("IfcRoot")) == ids
        write_ceilings(file, some_ceilings())
        clean = a_model(schema, some_ceilings())
        write_ceilings(clean, some_ceilings())
        assert told(file) == {}
        assert census(file) == census(clean)

    def test_removal_takes_kept_elements_too(self, edited: tuple[str, str]):
        schema, text = edited
        file = ifcopenshell.file.from_string(text)
        write_ceilings(file, some_ceilings(), keep_edits=True)
        write_ceilings(file, [])
        assert census(file) == census(a_model(schema, some_ceilings()))

    def test_a_moved_assembly_takes_its_parts_along(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        (assembly,) = file.by_type("IfcElementAssembly")
        move(assembly, 0.0, 0.0, -100.0)
        before = world_places(file)
        write_ceilings(file, [ceiling], keep_edits=True)
        assert told(file) == {"elementassembly": (Change.MOVED,)}
        after = world_places(file)
        assert max(np.abs(after[k] - before[k]).max() for k in before) < 1e-6
        assert judged(file) == {}

    @pytest.mark.parametrize("detail", ["grid", "panels"])
    def test_an_edited_ceiling_keeps_its_openings_and_panels(self, detail: str):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling], detail=detail)
        (covering,) = file.by_type("IfcCovering")
        covering.Name = "Plaster"
        before = census(file)
        write_ceilings(file, [ceiling], detail=detail, keep_edits=True)
        assert file.by_type("IfcCovering") == [covering] or tuple(file.by_type("IfcCovering")) == (covering,)
        assert covering.Name == "Plaster"
        assert told(file) == {"covering": (Change.RENAMED,)}
        # Its place keeps directions of its own, which no longer are shared.
        assert not {k for k in census(file) - before if k != "IfcDirection"}
        assert judged(file) == {}

    def test_a_deleted_ceiling_stays_deleted_with_its_openings(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        (covering,) = file.by_type("IfcCovering")
        for relation in covering.HasOpenings:
            opening = relation.RelatedOpeningElement
            for filling in opening.HasFillings:
                file.remove(filling)
            file.remove(relation)
            delete(file, opening)
        delete(file, covering)
        write_ceilings(file, [ceiling], keep_edits=True)
        assert not file.by_type("IfcCovering")
        assert not file.by_type("IfcOpeningElement")
        assert judged(file) == {}

    def test_an_edited_type_stays_with_its_elements(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        kind = file.by_type("IfcMemberType")[0]
        kind.Name = "T bar"
        before = census(file)
        write_ceilings(file, [ceiling], keep_edits=True)
        assert told(file) == {"type T bar": (Change.RENAMED,)}
        assert census(file) == before
        assert judged(file) == {}

    def test_a_kept_part_that_the_new_layout_lacks_stays_in_the_assembly(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        move(by_tag(file)["cross_tee/8/6"], 0.0, 5.0)
        before = world_places(file)[global_id(ceiling.key, "cross_tee/8/6")]
        smaller = make_ceiling([make_room("rectangle", rectangle(100, 0, 3000, 3000))])
        assert "cross_tee/8/6" not in set(smaller.members.keys())
        write_ceilings(file, [smaller], keep_edits=True)
        assert np.abs(world_places(file)[global_id(ceiling.key, "cross_tee/8/6")] - before).max() < 1e-6
        assert by_tag(file, "rectangle")["cross_tee/8/6"].Decomposes
        assert judged(file) == {}

    @pytest.mark.parametrize(
        ("first", "second"), [("panels", "grid"), ("panels", "ceiling"), ("grid", "ceiling")]
    )
    def test_what_a_coarser_run_has_no_place_for_is_told_as_not_kept(self, first: str, second: str):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling], detail=first)
        parts = by_tag(file)
        edited = ["hanger/2/0"] + ["panel/3/3"] * (first == "panels")
        for tag in edited:
            parts[tag].Name = "changed"
        (covering,) = file.by_type("IfcCovering")
        covering.Name = "Plaster"
        report = write_ceilings(file, [ceiling], detail=second, keep_edits=True)
        kept = {e.part: e.is_kept for e in report.edits}
        assert kept == {"covering": True, **{t: t == "hanger/2/0" and second == "grid" for t in edited}}
        clean = a_model("IFC4", [ceiling])
        write_ceilings(clean, [ceiling], detail=second)
        # A unit that only what is not kept had goes with the next run.
        more = {k for k in census(file) - census(clean)} - {"IfcDirection", "IfcSIUnit"}
        assert not more or second == "grid"
        assert judged(file) == {}

    def test_a_type_that_no_element_has_any_more_is_not_kept(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        kind = next(k for k in file.by_type("IfcMemberType") if k.Name.startswith("Main"))
        kind.Name = "T bar"
        wider = replace(ceiling.system, main=replace(ceiling.system.main, face=15.0))
        report = write_ceilings(file, [replace(ceiling, system=wider)], keep_edits=True)
        assert [(e.part, e.is_kept) for e in report.edits] == [("type T bar", False)]
        assert "T bar" not in {k.Name for k in file.by_type("IfcMemberType")}

    def test_the_kept_are_drawn_where_they_were(self, edited: tuple[str, str]):
        file = ifcopenshell.file.from_string(edited[1])
        elements = [e for t, e in by_tag(file, "rectangle").items() if t in EXPECTED]
        before = meshes(file, elements)
        write_ceilings(file, some_ceilings(), keep_edits=True)
        elements = [e for t, e in by_tag(file, "rectangle").items() if t in EXPECTED]
        after = meshes(file, elements)
        assert len(before) >= 7
        assert all(np.abs(after[k] - before[k]).max() < 1e-6 for k in before)


@pytest.mark.parametrize("damage", ["", "nonsense", "short x:y", None])
def test_codes_that_somebody_spoilt_are_of_no_use_and_do_no_harm(damage: str | None):
    (ceiling, *_) = four_ceilings()
    file = a_model("IFC4", [ceiling])
    write_ceilings(file, [ceiling])
    (prop,) = [p for p in file.by_type("IfcPropertyListValue") if p.Name == "Elements"]
    prop.ListValues = None if damage is None else [file.create_entity("IfcText", damage)]
    by_tag(file)["hanger/2/0"].Name = "changed"
    assert write_ceilings(file, [ceiling]).edits == ()
    assert told(file) == {}


def test_a_ceiling_of_which_everything_was_deleted_is_told_and_written_anew():
    (ceiling, *_) = four_ceilings()
    file = a_model("IFC4", [ceiling])
    write_ceilings(file, [ceiling])
    clean = census(file)
    for product in [p for p in file.by_type("IfcElement") if p.Name not in ("lamp", "spot")]:
        for relation in [
            r
            for r in file.get_inverse(product)
            if r.is_a("IfcRelVoidsElement")
            or r.is_a("IfcRelFillsElement")
            or r.is_a("IfcRelConnectsElements")
        ]:
            file.remove(relation)
        delete(file, product)
    changes = told(file)
    assert len(changes) > 50
    assert set(changes.values()) == {(Change.DELETED,)} | ({(Change.REGROUPED,)} & set(changes.values()))
    write_ceilings(file, [ceiling])
    assert told(file) == {}
    assert not {k for k in clean - census(file)}


def world_places(file: ifcopenshell.file) -> dict[str, np.ndarray]:
    return {
        e.GlobalId: ifcopenshell.util.placement.get_local_placement(e.ObjectPlacement)
        for e in file.by_type("IfcElement")
        if e.ObjectPlacement is not None
    }


def test_models_of_versions_without_codes_are_replaced_in_silence():
    (ceiling, *_) = four_ceilings()
    file = a_model("IFC4", [ceiling])
    write_ceilings(file, [ceiling])
    for pset in [p for p in file.by_type("IfcPropertySet") if p.Name == "IfcGrid_Fingerprint"]:
        for relation in pset.DefinesOccurrence:
            file.remove(relation)
        file.remove(pset)
    by_tag(file)["hanger/2/0"].Name = "changed"
    assert write_ceilings(file, [ceiling]).edits == ()
    remove_ceilings(file)
    assert "IfcGrid" not in data(file)
    assert guid("rectangle") in data(file)
