"""Take-off = quantities in the model = counts of its elements, for every role and room.

The written model is read here with plain ifcopenshell, by tags, relations and quantity sets.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.util.element
import ifcopenshell.util.unit
import pytest

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.quantity import Item, TakeOff
from ifcgrid.ifc.project import ModelFile, model_from_file, open_model
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.pipeline.flow import build, read_plan_file
from ifcgrid.pipeline.takeoff import ceilings_in, take_off

ROOT = Path(__file__).parents[2]
OWN = ROOT / "models"
DEMOS = {
    "gatehouse": ("gatehouse", ("gatehouse-services",), None),
    "sandrell": ("sandrell-architecture", ("sandrell-services", "sandrell-structure"), "sandrell-plan.toml"),
}
REAL = (
    "bimwhale_LargeBuilding",
    "demo2_19rooms",
    "duplex_A_20110907",
    "gymzaal_grf005",
    "pcert_ifc4_Building-Architecture",
    "pcert_ifc4x3_Building-Architecture",
)
ROLES = {
    "main_runner": (Item.MAIN_RUNNER, Item.MAIN_LENGTH),
    "cross_tee": (Item.CROSS_TEE, Item.CROSS_TEE_LENGTH),
    "second_tee": (Item.SECOND_TEE, Item.SECOND_TEE_LENGTH),
    "wall_angle": (Item.WALL_ANGLE, Item.ANGLE_LENGTH),
}


class Written:
    """A model with its ceilings, the take-off of the build, and the models that were read with it."""

    def __init__(self, model: ModelFile, others: list[ModelFile], plan: Path | None = None) -> None:
        done = build(model, read_plan_file(plan), others)
        self.ceilings: tuple[Ceiling, ...] = done.ceilings
        self.take_off = take_off(done.ceilings)
        self.others = others
        self.file = ifcopenshell.file.from_string(model.file.to_string())
        write_ceilings(self.file, done.ceilings, done.findings, detail="panels")


@pytest.fixture(
    scope="module", params=[*DEMOS, *(pytest.param(name, marks=pytest.mark.models) for name in REAL)]
)
def written(request: pytest.FixtureRequest) -> Written:
    if request.param in DEMOS:
        name, others, plan = DEMOS[request.param]
        models = [open_model(OWN / f"{other}.ifc") for other in others]
        return Written(open_model(OWN / f"{name}.ifc"), models, plan and OWN / plan)
    folder: Path = request.getfixturevalue("shared_models")
    return Written(open_model(folder / f"{request.param}.ifc"), [])


def zone_of(part: Any) -> str:
    """The zone that the assembly of a part names."""
    whole = ifcopenshell.util.element.get_aggregate(part)
    return str(ifcopenshell.util.element.get_pset(whole, "IfcGrid_Provenance")["Key"])


def by_zone(done: TakeOff, item: Item) -> Counter[str]:
    zones = {room.key: room.zone for room in done.rooms}
    found: Counter[str] = Counter()
    for q in done.quantities:
        if q.item is item:
            found[zones[q.room]] += q.value  # type: ignore[assignment]
    return found


def tagged(file: ifcopenshell.file, word: str) -> list[Any]:
    return [e for e in file.by_type("IfcElement") if str(e.Tag or "").startswith(f"{word}/")]


def test_members_are_as_many_and_as_long_in_every_zone(written: Written):
    scale = ifcopenshell.util.unit.calculate_unit_scale(written.file) * 1000
    lengths: dict[int, float] = {}
    for relation in written.file.by_type("IfcRelDefinesByProperties"):
        definition = relation.RelatingPropertyDefinition
        if definition.is_a("IfcElementQuantity"):
            found = [
                q.LengthValue * scale
                for q in definition.Quantities
                if q.is_a("IfcQuantityLength") and q.Name == "Length"
            ]
            lengths |= {e.id(): found[0] for e in relation.RelatedObjects if found}
    assert written.take_off.total(Item.MAIN_RUNNER) > 0
    for role, (number, total) in ROLES.items():
        elements = tagged(written.file, role)
        counted = Counter(zone_of(e) for e in elements)
        assert counted == by_zone(written.take_off, number), role
        wanted = by_zone(written.take_off, total)
        measured: Counter[str] = Counter()
        for element in elements:
            if element.id() in lengths:
                measured[zone_of(element)] += lengths[element.id()]  # type: ignore[assignment]
        assert set(measured) <= set(wanted)
        for zone, length in measured.items():
            assert length == pytest.approx(wanted[zone], abs=0.01 * counted[zone]), role


def test_anchors_and_trapezes_are_as_many_in_every_zone(written: Written):
    anchors = Counter(zone_of(e) for e in tagged(written.file, "anchor"))
    assert anchors == by_zone(written.take_off, Item.ANCHOR)
    bars = [e for e in tagged(written.file, "trapeze") if str(e.Tag).count("/") == 1]
    assert Counter(zone_of(e) for e in bars) == by_zone(written.take_off, Item.TRAPEZE)


def test_hangers_are_as_many_in_every_zone(written: Written):
    assert Counter(zone_of(e) for e in tagged(written.file, "hanger")) == by_zone(
        written.take_off, Item.HANGER
    )


def test_panels_and_areas_of_every_room_are_those_of_its_ceiling(written: Written):
    scale = ifcopenshell.util.unit.calculate_unit_scale(written.file, "AREAUNIT")
    rooms = {room.key for room in written.take_off.rooms}
    seen = 0
    for covering in written.file.by_type("IfcCovering"):
        parts = ifcopenshell.util.element.get_parts(covering)
        panels = [p for p in parts if str(getattr(p, "Tag", None) or "").startswith("panel/")]
        space = ifcopenshell.util.element.get_container(covering)
        if not panels or space is None or space.GlobalId not in rooms:
            continue
        seen += 1
        key = str(space.GlobalId)
        done = written.take_off
        assert len(panels) == done.total(Item.PANEL, key) + done.total(Item.CUT_PANEL, key)
        sets = ifcopenshell.util.element.get_psets(covering, qtos_only=True)
        areas = [values["GrossArea"] * scale for values in sets.values() if "GrossArea" in values]
        assert areas == [pytest.approx(done.total(Item.CEILING_AREA, key), abs=1e-4)]
    adopted = {room.key for c in written.ceilings for room in c.zone.rooms if room.covering is not None}
    assert seen >= len(rooms - adopted)


def test_the_model_alone_gives_the_same_take_off(written: Written):
    text = written.file.to_string()
    _, ceilings = ceilings_in(model_from_file(ifcopenshell.file.from_string(text)), written.others)
    again = take_off(ceilings)
    keys = {room.key for room in again.rooms}
    assert keys == {room.key for room in written.take_off.rooms}
    for item in (*Item,):
        for key in keys:
            wanted = written.take_off.total(item, key)
            assert again.total(item, key) == pytest.approx(wanted, rel=1e-5, abs=1e-3), (item, key)
    bars = [(len(plan.bars), plan.bound) for plan in written.take_off.bar_plans]
    assert [(len(plan.bars), plan.bound) for plan in again.bar_plans] == bars


def test_every_plan_is_within_a_percent_or_a_single_bar_of_its_bound(written: Written):
    done = written.take_off
    plans = [(len(plan.bars), plan.bound) for plan in done.bar_plans]
    plans += [(len(plan.sheets), plan.bound) for plan in done.panel_plans]
    assert plans
    # Of a few bars one is more than a percent.
    assert all(number - bound <= max(1, bound // 100) for number, bound in plans)
