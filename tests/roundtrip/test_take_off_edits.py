"""A model that somebody edited by hand since: the take-off counts what stands in it now."""

from __future__ import annotations

from pathlib import Path

import ifcopenshell
import ifcopenshell.api.root
import ifcopenshell.util.unit
import pytest

from ifcgrid.domain.quantity import Item, TakeOff
from ifcgrid.ifc.project import model_from_file
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.pipeline.flow import build
from ifcgrid.pipeline.takeoff import ceilings_in, take_off

GATEHOUSE = Path(__file__).parents[2] / "models" / "gatehouse.ifc"


@pytest.fixture(scope="module")
def text() -> str:
    """The gatehouse with its ceilings down to the panels."""
    file = ifcopenshell.open(GATEHOUSE)
    done = build(file)
    write_ceilings(file, done.ceilings, detail="panels")
    return file.to_string()


def count(text: str, *gone: str) -> TakeOff:
    """The take-off after the elements with these tags were deleted from the first zone that has them."""
    file = ifcopenshell.file.from_string(text)
    for tag in gone:
        ifcopenshell.api.root.remove_product(file, product=tagged(file, tag)[0])
    return take_off(ceilings_in(model_from_file(file))[1])


def tagged(file: ifcopenshell.file, word: str) -> list[ifcopenshell.entity_instance]:
    return sorted(
        (e for e in file.by_type("IfcElement") if str(e.Tag or "").startswith(word)), key=lambda e: e.id()
    )


@pytest.fixture(scope="module")
def before(text: str) -> TakeOff:
    return count(text)


@pytest.mark.parametrize(
    ("word", "items"),
    [
        ("hanger/", (Item.HANGER,)),
        ("cross_tee/", (Item.CROSS_TEE,)),
        ("second_tee/", (Item.SECOND_TEE,)),
        ("main_runner/", (Item.MAIN_RUNNER,)),
        ("wall_angle/", (Item.WALL_ANGLE,)),
        ("panel/", (Item.PANEL, Item.CUT_PANEL)),
    ],
)
def test_what_was_deleted_is_not_counted(text: str, before: TakeOff, word: str, items: tuple[Item, ...]):
    after = count(text, word)
    assert sum(after.total(i) for i in items) == sum(before.total(i) for i in items) - 1
    others = [i for i in (Item.HANGER, Item.CROSS_TEE, Item.PANEL, Item.MAIN_RUNNER) if i not in items]
    for item in others:
        assert after.total(item) == before.total(item), item


def test_a_tee_that_was_cut_shorter_is_measured_so(text: str, before: TakeOff):
    file = ifcopenshell.file.from_string(text)
    tee = tagged(file, "cross_tee/")[0]
    item = tee.Representation.Representations[0].Items[0]
    solid = item.MappingSource.MappedRepresentation.Items[0]
    sharing = [
        e
        for e in tagged(file, "cross_tee/")
        if e.Representation.Representations[0].Items[0].MappingSource == item.MappingSource
    ]
    solid.Depth -= 0.1 / ifcopenshell.util.unit.calculate_unit_scale(file)  # the file is in feet
    after = take_off(ceilings_in(model_from_file(file))[1])
    lost = before.total(Item.CROSS_TEE_LENGTH) - after.total(Item.CROSS_TEE_LENGTH)
    assert lost == pytest.approx(100.0 * len(sharing), abs=0.1)
