"""A model that is parsed as it is read gives what one that is parsed at once gives, errors included."""

from __future__ import annotations

import re
from pathlib import Path

import ifcopenshell
import pytest
from same_model import differences
from written import four_ceilings

from ifcgrid.domain.errors import ModelError
from ifcgrid.ifc.project import open_model, refuse_unread
from ifcgrid.ifc.writing.write import write_file
from ifcgrid.pipeline import build_file

GATEHOUSE = Path(__file__).parents[2] / "models" / "gatehouse.ifc"
WHEN = "2020-01-02T03:04:05"


@pytest.fixture
def text() -> str:
    return GATEHOUSE.read_text()


def test_values_that_cannot_be_read_are_refused_once_they_are_met(tmp_path: Path, text: str):
    source = tmp_path / "a.ifc"
    source.write_text(text.replace("IFCEXTRUDEDAREASOLID(#", "IFCEXTRUDEDAREASOLID(abc,#", 1))
    with pytest.raises(ModelError, match="values that cannot be read, first: Entity with name 'abc'"):
        build_file(source, tmp_path / "b.ifc")
    assert not (tmp_path / "b.ifc").exists()


def test_reading_a_sound_model_is_not_refused():
    model = open_model(GATEHOUSE, is_lazy=True)
    assert model.is_lazy
    assert len([list(entity) for entity in model.file]) > 100
    refuse_unread([model, open_model(GATEHOUSE)])


def test_a_model_with_several_sections_is_parsed_at_once(tmp_path: Path, text: str):
    lines = text.splitlines(keepends=True)
    middle = next(i for i, line in enumerate(lines) if line.startswith("#20="))
    source = tmp_path / "a.ifc"
    source.write_text("".join([*lines[:middle], "ENDSEC;\nDATA;\n", *lines[middle:]]))
    model = open_model(source, is_lazy=True)
    assert not model.is_lazy
    assert len(model.file.entity_names()) == len(open_model(GATEHOUSE).file.entity_names())


def test_what_was_not_read_yet_is_written_through_the_open_model_all_the_same(tmp_path: Path):
    record = build_file(GATEHOUSE, tmp_path / "text.ifc")
    slow = build_file(GATEHOUSE, tmp_path / "model.ifc", sink="model")
    assert (record["written"]["sink"], slow["written"]["sink"]) == ("text", "model")
    assert slow["written"]["why"] == "asked for"
    assert differences(*(ifcopenshell.open(tmp_path / f"{s}.ifc") for s in ("text", "model"))) == []


def test_an_unknown_sink_is_refused(tmp_path: Path):
    with pytest.raises(ValueError, match=re.escape("sink 'disk'; choose one of auto, text, model")):
        write_file(
            open_model(GATEHOUSE), four_ceilings()[:1], (), tmp_path / "b.ifc", timestamp=WHEN, sink="disk"
        )
