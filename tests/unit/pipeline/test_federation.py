"""Further models are read in the coordinates of the rooms; those that lie elsewhere are told."""

from __future__ import annotations

import pytest
from handmade_models import HandmadeModel, rectangle

from ifcgrid.pipeline.intake import Intake, read_intake


def rooms(unit: str = "mm") -> HandmadeModel:
    made = HandmadeModel(unit=unit)
    storey = made.storey("Ground floor", 0.0)
    space = made.space(storey, rectangle(0, 0, 6000, 4800), 0, 3000)
    made.quantities(space, "Qto_SpaceBaseQuantities", FinishCeilingHeight=2700 / made.scale)
    return made


def services(*, x: float = 1000.0, y: float = 1000.0, z: float = 2800.0, unit: str = "m") -> HandmadeModel:
    """One duct, 400 x 300 mm, 2 m long along X, its corner there."""
    made = HandmadeModel(unit=unit)
    made.element(
        "IfcDuctSegment", None, made.body(rectangle(x, y, x + 2000, y + 400), z, z + 300), Name="Duct"
    )
    return made


def _read(own: HandmadeModel, other: HandmadeModel) -> Intake:
    return read_intake(own.model, [other.model])


def _box(intake: Intake) -> list[float]:
    (duct,) = (o for o in intake.obstacles if o.name == "Duct")
    return [round(x, 2) for x in (*duct.outline.bounds, duct.bottom, duct.top)]


@pytest.mark.parametrize("unit", ["m", "mm", "ft"])
def test_a_model_of_the_same_origin_is_read_as_it_lies_whatever_its_unit(unit: str) -> None:
    intake = _read(rooms(), services(unit=unit))
    assert _box(intake) == [1000, 1000, 3000, 1400, 2800, 3100]
    assert intake.alignments[0].notes == ()


def test_a_model_with_an_origin_of_its_own_on_the_map_is_read_where_it_lies() -> None:
    own, other = rooms("m"), services(x=0, y=0, z=0)
    own.on_map(500_000.0, 5_700_000.0, 50.0)
    other.on_map(500_003.0, 5_700_001.0, 52.8, turned_deg=90.0)
    intake = _read(own, other)
    assert _box(intake) == [2600, 1000, 3000, 3000, 2800, 3100]  # it runs along Y now
    assert intake.alignments[0].notes == ()


@pytest.mark.parametrize(
    ("other", "said"),
    [
        (services(x=250_000.0), "nothing of it comes within 5 m"),
        (services(z=90_000.0), "nothing of it comes within 5 m"),
        (services(x=1_000_000.0, y=1_000_000.0), "nothing of it comes within 5 m"),
        (HandmadeModel(), "holds nothing"),
    ],
)
def test_a_model_that_is_nowhere_near_is_told(other: HandmadeModel, said: str) -> None:
    (alignment,) = _read(rooms(), other).alignments
    assert any(said in note for note in alignment.notes)


def test_a_model_of_another_size_is_told() -> None:
    other = HandmadeModel(unit="m")
    long = rectangle(0, 0, 2_000_000, 400_000)  # said in metres, meant in millimetres
    other.element("IfcDuctSegment", None, other.body(long, 2_800_000, 3_100_000), Name="Duct")
    (alignment,) = _read(rooms(), other).alignments
    assert any("length unit" in note for note in alignment.notes)
