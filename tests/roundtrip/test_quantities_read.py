"""Quantities in the model equal what a kernel measures and what the take-off counts.

The reader here adds up what stands in the file and knows nothing of ifcgrid but names.
"""

from __future__ import annotations

import os
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import ifcopenshell.util.element
import ifcopenshell.util.shape
import ifcopenshell.util.unit
import pytest
from ceilings import make_ceiling, make_room
from held import held
from written import a_model, four_ceilings, rectangle

import ifcgrid
from ifcgrid.domain.quantity import Item
from ifcgrid.ifc.project import model_from_file
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.pipeline.takeoff import ceilings_in, take_off, takeoff_file

MODELS = Path(__file__).parents[2] / "models"

MM, MM2, MM3 = 1e-3, 1e-6, 1e-9
"""A millimetre (its square, its cube) in metres: as near as quantities have to be."""

NAMES = {"IFC2X3": "BaseQuantities"}


def quantities(element: Any) -> dict[str, float]:
    """The standard quantities of an element, in the units of the model."""
    found = ifcopenshell.util.element.get_psets(element, qtos_only=True)
    standard = [v for k, v in found.items() if k.startswith("Qto_") or k == "BaseQuantities"]
    return standard[0] if standard else {}


def shapes(file: ifcopenshell.file, elements: list[Any], *, is_cut: bool = True) -> dict[str, Any]:
    settings = ifcopenshell.geom.settings()
    settings.set("disable-opening-subtractions", not is_cut)
    return {s.guid: s.geometry for s in ifcopenshell.geom.iterator(settings, file, 1, include=elements)}


def scales(file: ifcopenshell.file) -> tuple[float, float, float]:
    """Metres, square metres and cubic metres in the units of quantities."""
    length = ifcopenshell.util.unit.calculate_unit_scale(file)
    area = ifcopenshell.util.unit.calculate_unit_scale(file, "AREAUNIT")
    return length, area, 1.0


class TestAgainstTheKernel:
    @pytest.mark.parametrize(("schema", "unit"), [("IFC2X3", "mm"), ("IFC4", "ft"), ("IFC4X3", "m")])
    def test_members(self, schema: str, unit: str):
        ceilings = [*four_ceilings()[:1], four_ceilings()[2]]
        file = a_model(schema, ceilings, unit=unit)
        write_ceilings(file, ceilings)
        length, area, _ = scales(file)
        members = file.by_type("IfcMember")
        measured = shapes(file, members)
        assert len(measured) == len(members)
        for member in members:
            stated, shape = quantities(member), measured[member.GlobalId]
            volume = ifcopenshell.util.shape.get_volume(shape)
            assert stated["NetVolume"] == stated["GrossVolume"] == pytest.approx(volume, abs=MM3)
            sides = [ifcopenshell.util.shape.get_x(shape), stated["Length"] * length]
            assert sides[0] == pytest.approx(sides[1], abs=MM)
            section = stated["CrossSectionArea"] * area
            assert section * sides[0] == pytest.approx(volume, abs=MM3)
            surface = ifcopenshell.util.shape.get_area(shape)
            assert stated["GrossSurfaceArea"] * area == pytest.approx(surface, abs=10 * MM2)
            assert stated["OuterSurfaceArea"] * area == pytest.approx(surface - 2 * section, abs=10 * MM2)

    def test_round_posts_and_square_bars(self):
        ceiling = held()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        length, area, _ = scales(file)
        others = [
            m for m in file.by_type("IfcMember") if m.Tag.split("/")[0] in ("brace", "trapeze", "stabiliser")
        ]
        assert {m.Tag.split("/")[0] for m in others} == {"brace", "trapeze", "stabiliser"}
        measured = shapes(file, others)
        for member in others:
            stated = quantities(member)
            volume = ifcopenshell.util.shape.get_volume(measured[member.GlobalId])
            # A circle is a polygon in the mesh, up to five parts in a hundred smaller.
            slack = 0.05 if member.Tag.endswith("post") else 1e-6
            assert stated["NetVolume"] == pytest.approx(volume, rel=slack)
            assert stated["CrossSectionArea"] * area * stated["Length"] * length == pytest.approx(
                stated["NetVolume"], rel=1e-6
            )

    @pytest.mark.parametrize("detail", ["grid", "panels"])
    def test_coverings_openings_and_panels(self, detail: str):
        ceilings = four_ceilings()
        file = a_model("IFC4", ceilings)
        write_ceilings(file, ceilings, detail=detail)
        length, area, _ = scales(file)
        openings = file.by_type("IfcOpeningElement")
        assert len(openings) >= 3
        stated = {o.GlobalId: quantities(o) for o in openings}
        voided = {o.VoidsElements[0].RelatingBuildingElement for o in openings}
        voided = {e for e in voided if e.is_a("IfcBuildingElementPart") or detail == "grid"}
        whole = shapes(file, list(voided), is_cut=False)
        cut = shapes(file, list(voided))
        for element in voided:
            lost = [ifcopenshell.util.shape.get_volume(s[element.GlobalId]) for s in (whole, cut)]
            taken = sum(stated[r.RelatedOpeningElement.GlobalId]["Volume"] for r in element.HasOpenings)
            assert lost[0] - lost[1] == pytest.approx(taken, abs=10 * MM3)
        for covering in file.by_type("IfcCovering"):
            told = quantities(covering)
            taken = sum(stated[o]["Area"] for o in self._openings_of(covering))
            assert told["GrossArea"] - told["NetArea"] == pytest.approx(taken, abs=MM2)
        if detail == "grid":
            bodies = shapes(file, file.by_type("IfcCovering"), is_cut=False)
            for covering in file.by_type("IfcCovering"):
                told = quantities(covering)
                volume = ifcopenshell.util.shape.get_volume(bodies[covering.GlobalId])
                assert told["GrossArea"] * area * told["Width"] * length == pytest.approx(volume, abs=MM3)

    def _openings_of(self, covering: Any) -> list[str]:
        wholes = [covering, *ifcopenshell.util.element.get_parts(covering)]
        return [r.RelatedOpeningElement.GlobalId for w in wholes for r in w.HasOpenings]

    def test_panels_to_a_square_millimetre(self):
        ceilings = four_ceilings()
        file = a_model("IFC4X3", ceilings)
        write_ceilings(file, ceilings, detail="panels")
        panels = file.by_type("IfcBuildingElementPart")
        measured = shapes(file, panels, is_cut=False)
        for panel in panels:
            told = ifcopenshell.util.element.get_psets(panel, qtos_only=True)["IfcGrid_PanelQuantities"]
            volume = ifcopenshell.util.shape.get_volume(measured[panel.GlobalId])
            assert told["Volume"] == pytest.approx(volume, abs=15.0 * MM3)
            assert told["Area"] * told["Width"] / 1000.0 == pytest.approx(told["Volume"], rel=1e-9)

    def test_hangers_lengths(self):
        (ceiling, *_) = four_ceilings()
        file = a_model("IFC4", [ceiling])
        write_ceilings(file, [ceiling])
        hangers = [h for h in file.by_type("IfcDiscreteAccessory") if h.Tag.startswith("hanger")]
        measured = shapes(file, hangers)
        for hanger in hangers:
            told = ifcopenshell.util.element.get_psets(hanger)["IfcGrid_HangerQuantities"]["Length"]
            assert told * MM == pytest.approx(
                ifcopenshell.util.shape.get_z(measured[hanger.GlobalId]), abs=MM
            )


def add_up(file: ifcopenshell.file) -> dict[str, float]:
    """What the quantities of a file add up to, in metres and square metres: by our word and name."""
    length, area, _ = scales(file)
    factor = {"IfcQuantityLength": length, "IfcQuantityArea": area}
    totals: dict[str, float] = defaultdict(float)
    for relation in file.by_type("IfcRelDefinesByProperties"):
        qset = relation.RelatingPropertyDefinition
        if not qset.is_a("IfcElementQuantity"):
            continue
        for element in relation.RelatedObjects:
            word = _word(element)
            for quantity in qset.Quantities:
                value = quantity[3] * factor.get(quantity.is_a(), 1.0)
                totals[f"{word}.{quantity.Name}"] += value
                totals[f"{word}.{quantity.Name}.n"] += 1
    return totals


def _word(element: Any) -> str:
    kind = ifcopenshell.util.element.get_type(element)
    if element.is_a("IfcMember"):
        rank = " second" if "second" in (element.Name or "") else ""
        return str(kind.ElementType or kind.PredefinedType) + rank
    if element.is_a("IfcDiscreteAccessory"):
        return str(element.Name)
    return str(element.is_a())


LENGTHS = {
    "MAINRUNNER": (Item.MAIN_RUNNER, Item.MAIN_LENGTH),
    "CROSSTEE": (Item.CROSS_TEE, Item.CROSS_TEE_LENGTH),
    "CROSSTEE second": (Item.SECOND_TEE, Item.SECOND_TEE_LENGTH),
    "WALLANGLE": (Item.WALL_ANGLE, Item.ANGLE_LENGTH),
}
ZONE = {
    "CeilingArea": Item.CEILING_AREA,
    "PanelArea": Item.PANEL_AREA,
    "OpeningArea": Item.OPENING_AREA,
    "Perimeter": Item.PERIMETER,
    "HangerLength": Item.HANGER_LENGTH,
    "PanelCount": Item.PANEL,
    "CutPanelCount": Item.CUT_PANEL,
    "MainRunnerCount": Item.MAIN_RUNNER,
    "CrossTeeCount": Item.CROSS_TEE,
    "SecondTeeCount": Item.SECOND_TEE,
    "WallAngleCount": Item.WALL_ANGLE,
    "HangerCount": Item.HANGER,
    "AnchorCount": Item.ANCHOR,
    "LayInOpeningCount": Item.LAY_IN_OPENING,
    "CutOpeningCount": Item.CUT_OPENING,
    "TrapezeCount": Item.TRAPEZE,
    "BraceCount": Item.BRACE,
    "DeviceWireCount": Item.DEVICE_WIRE,
}
IN_MM = {Item.PERIMETER, Item.HANGER_LENGTH}


class TestAgainstTheTakeOff:
    @pytest.mark.parametrize(
        ("model", "others", "plan"),
        [
            ("gatehouse", ("gatehouse-services",), None),
            pytest.param(
                *("sandrell-architecture", ("sandrell-services", "sandrell-structure"), "sandrell-plan.toml"),
                marks=pytest.mark.skipif(not os.environ.get("IFCGRID_MATRIX"), reason="set IFCGRID_MATRIX=1"),
            ),
        ],
    )
    def test_a_reader_of_quantities_gets_the_totals_of_the_take_off(
        self, tmp_path: Path, model: str, others: tuple[str, ...], plan: str | None
    ):
        from ifcgrid.pipeline import build_file

        target, further = tmp_path / "out.ifc", [MODELS / f"{o}.ifc" for o in others]
        build_file(
            MODELS / f"{model}.ifc",
            target,
            others=further,
            plan=None if plan is None else MODELS / plan,
            detail="panels",
        )
        record = takeoff_file(target, others=further)
        told: dict[str, float] = defaultdict(float)
        for row in (q for room in record["rooms"] for q in room["quantities"]):
            told[row["item"]] += row["value"]
        read = add_up(ifcopenshell.open(target))
        for word, (count, total) in LENGTHS.items():
            assert read[f"{word}.Length.n"] == told[count], word
            assert read[f"{word}.Length"] * 1000.0 == pytest.approx(told[total], abs=1.0), word
        for name, item in ZONE.items():
            value = read[f"IfcElementAssembly.{name}"] * (1000.0 if item in IN_MM else 1.0)
            assert value == pytest.approx(told[item], abs=1.0 if item in IN_MM else 1e-4), name
        assert read["IfcElementAssembly.PanelCount"] > 50

    def test_without_adopted_ceilings_the_standard_sets_alone_are_enough(self):
        ceilings = [
            make_ceiling([make_room(n, rectangle(x, 0, 5000, 4200))]) for n, x in (("a", 0), ("b", 6000))
        ]
        file = a_model("IFC4", ceilings)
        write_ceilings(file, ceilings, detail="panels")
        read = add_up(file)
        counted = take_off([replace(c, pieces=None) for c in ceilings])
        assert read["IfcCovering.GrossArea"] == pytest.approx(counted.total(Item.CEILING_AREA), abs=1e-6)
        assert read["IfcBuildingElementPart.Area"] == pytest.approx(counted.total(Item.PANEL_AREA), abs=1e-4)
        assert read["IfcBuildingElementPart.Area.n"] == counted.total(Item.PANEL) + counted.total(
            Item.CUT_PANEL
        )

    def test_a_hanger_deleted_by_hand_is_missing_in_both(self):
        from hand_edits import delete

        file = ifcopenshell.open(MODELS / "gatehouse.ifc")
        done = ifcgrid.build(file)
        ifcgrid.write_ceilings(file, done.ceilings)
        before = add_up(file)["Hanger.Length.n"]
        delete(file, next(e for e in file.by_type("IfcDiscreteAccessory") if e.Tag.startswith("hanger/")))
        counted = take_off(ceilings_in(model_from_file(file))[1])
        assert add_up(file)["Hanger.Length.n"] == counted.total(Item.HANGER) == before - 1
