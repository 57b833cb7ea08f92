"""The normative rules hold for all that is written, and each check would see a breach of its rule."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import ifcopenshell
import pytest
from ceilings import METRIC, guid, make_ceiling, make_room
from held import held
from normative import RULES, faults
from written import DETAILS, LAMP, SCHEMAS, a_model, adopted_model, clash, four_ceilings, rectangle

import ifcgrid
from ifcgrid.domain.ceiling import Opening
from ifcgrid.domain.classification import Classification
from ifcgrid.domain.weights import Weights
from ifcgrid.ifc.writing.write import write_ceilings

GATEHOUSE = Path(__file__).parents[2] / "models" / "gatehouse.ifc"


def copy(file: ifcopenshell.file) -> ifcopenshell.file:
    return ifcopenshell.file.from_string(file.to_string())


class TestWhatIsWritten:
    @pytest.mark.parametrize("detail", DETAILS)
    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_ceilings_with_all_that_can_be_told_of_them(self, schema: str, detail: str):
        own = Classification(system="House classes", code="C-42")
        weights = Weights(main_kg_per_m=0.35, tee_kg_per_m=0.3, basis="invented for tests")
        ceilings = [
            replace(c, classification=(own,) * len(c.zone.rooms), system=replace(c.system, weights=weights))
            for c in four_ceilings()
        ]
        file = a_model(schema, ceilings, has_views=False)
        before = copy(file)
        write_ceilings(file, ceilings, [clash(ceilings[0], "main_runner/2/0")], detail=detail)
        assert faults(file, before) == {}

    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_what_holds_a_ceiling(self, schema: str):
        ceiling = held()
        file = a_model(schema, [ceiling])
        before = copy(file)
        write_ceilings(file, [ceiling], detail="panels")
        assert faults(file, before) == {}

    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_a_grid_on_the_architects_ceiling(self, schema: str):
        file, ceiling = adopted_model(schema)
        hole = Opening(key="x", outline=rectangle(2750, 1400, 100, 100), room=0, is_lay_in=False)
        before = copy(file)
        write_ceilings(file, [replace(ceiling, openings=(hole,))])
        assert faults(file, before) == {}

    @pytest.mark.parametrize("detail", ["panels"])
    def test_the_demo(self, detail: str):
        file = ifcopenshell.open(GATEHOUSE)
        before = copy(file)
        done = ifcgrid.build(file)
        ifcgrid.write_ceilings(file, done.ceilings, done.findings, detail=detail)
        assert faults(file, before) == {}


def first(file: ifcopenshell.file, kind: str) -> Any:
    return file.by_type(kind)[0]


def _cover(file: ifcopenshell.file) -> None:
    covering = first(file, "IfcCovering")
    file.create_entity("IfcRelCoversSpaces", guid("c"), None, None, None, first(file, "IfcSpace"), [covering])


def _contain_a_part(file: ifcopenshell.file) -> None:
    relation = next(
        r for r in file.by_type("IfcRelContainedInSpatialStructure") if len(r.RelatedElements) > 2
    )
    relation.RelatedElements = [*relation.RelatedElements, first(file, "IfcMember")]


def _set_free(file: ifcopenshell.file) -> None:
    grid = first(file, "IfcGrid")
    (relation,) = grid.ContainedInStructure
    relation.RelatedElements = [e for e in relation.RelatedElements if e != grid]


def _uproot(file: ifcopenshell.file) -> None:
    first(file, "IfcMember").ObjectPlacement.PlacementRelTo = None


def _say_twice(file: ifcopenshell.file) -> None:
    first(file, "IfcCovering").PredefinedType = "CEILING"


def _prop(file: ifcopenshell.file, set_name: str, name: str) -> Any:
    pset = next(p for p in file.by_type("IfcPropertySetDefinition") if p.Name == set_name)
    values = pset.HasProperties if pset.is_a("IfcPropertySet") else pset.Quantities
    return next(p for p in values if p.Name == name)


def _misspell(file: ifcopenshell.file) -> None:
    _prop(file, "Pset_MemberCommon", "LoadBearing").Name = "Loadbearing"


def _mistype(file: ifcopenshell.file) -> None:
    prop = _prop(file, "Pset_MemberCommon", "LoadBearing")
    prop.NominalValue = file.create_entity("IfcLabel", "no")


def _misapply(file: ifcopenshell.file) -> None:
    next(p for p in file.by_type("IfcPropertySet") if p.Name == "Pset_MemberCommon").Name = "Pset_WallCommon"


def _mischoose(file: ifcopenshell.file) -> None:
    _prop(file, "Pset_MemberCommon", "Status").EnumerationValues = [file.create_entity("IfcLabel", "FRESH")]


def _pretend(file: ifcopenshell.file) -> None:
    next(p for p in file.by_type("IfcPropertySet") if p.Name.startswith("IfcGrid")).Name = "PSetGrid"


def _invent(file: ifcopenshell.file) -> None:
    _prop(file, "Qto_CoveringBaseQuantities", "Width").Name = "Perimeter"


def _weigh_a_length(file: ifcopenshell.file) -> None:
    qset = next(q for q in file.by_type("IfcElementQuantity") if q.Name == "Qto_MemberBaseQuantities")
    wrong = file.create_entity("IfcQuantityArea", "Length", None, None, 1.0)
    qset.Quantities = [q for q in qset.Quantities if q.Name != "Length"] + [wrong]


def _open_a_shell(file: ifcopenshell.file) -> None:
    points = [
        file.create_entity("IfcCartesianPoint", p)
        for p in ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    ]
    bound = file.create_entity("IfcFaceOuterBound", file.create_entity("IfcPolyLoop", points), True)
    file.create_entity("IfcClosedShell", [file.create_entity("IfcFace", [bound])])


def _name_twice(file: ifcopenshell.file) -> None:
    for view in first(file, "IfcCovering").Representation.Representations:
        view.RepresentationIdentifier = "Body"


def _mistake_the_kind(file: ifcopenshell.file) -> None:
    first(file, "IfcCovering").Representation.Representations[0].RepresentationType = "Curve3D"


def _lose_the_context(file: ifcopenshell.file) -> None:
    first(file, "IfcProject").RepresentationContexts = None


def _misplace_a_view(file: ifcopenshell.file) -> None:
    view = first(file, "IfcMember").Representation.Representations[0]
    view.ContextOfItems = view.ContextOfItems.ParentContext


def _end_beside(file: ifcopenshell.file) -> None:
    line = next(p for p in file.by_type("IfcPolyline")[::-1] if p.Points[0] == p.Points[-1])
    end = file.create_entity("IfcCartesianPoint", line.Points[0].Coordinates)
    line.Points = [*line.Points[:-1], end]


def _map_another(file: ifcopenshell.file) -> None:
    item = first(file, "IfcMember").Representation.Representations[0].Items[0]
    item.MappingSource.MappedRepresentation.RepresentationIdentifier = "Axis"


def _declare(file: ifcopenshell.file) -> None:
    covering = first(file, "IfcCovering")
    file.create_entity("IfcRelDeclares", guid("d"), None, None, None, first(file, "IfcProject"), [covering])


def _share_an_id(file: ifcopenshell.file) -> None:
    one, two, *_ = file.by_type("IfcMember")
    two.GlobalId = one.GlobalId


def _spoil_an_id(file: ifcopenshell.file) -> None:
    first(file, "IfcMember").GlobalId = "9" * 22


def _cross(file: ifcopenshell.file) -> None:
    body = first(file, "IfcCovering").Representation.Representations[0]
    line = body.Items[0].SweptArea.OuterCurve
    a, b, *rest = line.Points[:-1]
    line.Points = [b, a, *rest, b]


def _share_a_view(file: ifcopenshell.file) -> None:
    one, two, *_ = file.by_type("IfcMember")
    two.Representation.Representations = one.Representation.Representations


def _forget_a_point(file: ifcopenshell.file) -> None:
    file.create_entity("IfcCartesianPoint", (0.0, 0.0, 0.0))


def _describe_nothing(file: ifcopenshell.file) -> None:
    pset = next(p for p in file.by_type("IfcPropertySet") if p.Name == "IfcGrid_Opening")
    for relation in pset.DefinesOccurrence:
        file.remove(relation)


BREACHES: list[tuple[str, Callable[[ifcopenshell.file], None]]] = [
    ("IFC102", _cover),
    ("SPS005", _contain_a_part),
    ("SPS003", _contain_a_part),
    ("SPS007", _set_free),
    ("OJP001", _uproot),
    ("OJT001", _say_twice),
    ("PSE001", _misspell),
    ("PSE001", _mistype),
    ("PSE001", _misapply),
    ("PSE001", _mischoose),
    ("PSE002", _pretend),
    ("QTY001", _invent),
    ("QTY001", _weigh_a_length),
    ("GEM001", _open_a_shell),
    ("GEM003", _name_twice),
    ("GEM004", _mistake_the_kind),
    ("GEM051", _lose_the_context),
    ("GEM052", _misplace_a_view),
    ("GEM111", _end_beside),
    ("MPD001", _map_another),
    ("PJS002", _declare),
    ("PJS003", _share_an_id),
    ("PJS003", _spoil_an_id),
    ("SWE001", _cross),
    ("WR11", _share_a_view),
    ("IFC106", _forget_a_point),
    ("ENDS", _describe_nothing),
]


@pytest.fixture(scope="module")
def good() -> tuple[str, ifcopenshell.file]:
    """A model with a ceiling as text, and what it was before."""
    hole = Opening(key=LAMP, outline=rectangle(2750, 1400, 100, 100), room=0, is_lay_in=False)
    ceiling = make_ceiling(
        [make_room("rectangle", rectangle(0, 0, 5000, 4200))], openings=(hole,), system=METRIC
    )
    file = a_model("IFC4", [ceiling])
    before = copy(file)
    write_ceilings(file, [ceiling])
    assert faults(file, before) == {}
    return file.to_string(), before


@pytest.mark.parametrize(("rule", "breach"), BREACHES, ids=lambda v: getattr(v, "__name__", v))
def test_a_breach_of_the_rule_is_seen(good: tuple[str, Any], rule: str, breach: Callable[[Any], None]):
    file = ifcopenshell.file.from_string(good[0])
    breach(file)
    assert rule in faults(file, good[1])


def test_every_rule_has_a_breach():
    assert {rule for rule, _ in BREACHES} == set(RULES)
