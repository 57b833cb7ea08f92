"""Models reach the disk whole or not at all."""

import ifcopenshell
import pytest
from ceilings import make_ceiling, make_model, make_room
from shapely import box

import ifcgrid
from ifcgrid.domain.errors import OutputError
from ifcgrid.ifc.writing.save import save_model
from ifcgrid.ifc.writing.write import write_ceilings

WHEN = "2020-01-02T03:04:05"


@pytest.fixture
def file():
    return make_model("IFC4", [make_room("1", box(0, 0, 3000, 2400))])


def test_a_saved_model_opens_again_and_bears_the_given_time(file, tmp_path):
    save_model(file, tmp_path / "a.ifc", timestamp=WHEN)
    again = ifcopenshell.open(tmp_path / "a.ifc")
    assert again.header.file_name.time_stamp == WHEN
    assert len(list(again)) == len(list(file))
    assert [p.name for p in tmp_path.iterdir()] == ["a.ifc"]


def test_two_saves_are_equal_byte_for_byte(file, tmp_path):
    for name in ("a.ifc", "b.ifc"):
        save_model(file, tmp_path / name, timestamp=WHEN)
    assert (tmp_path / "a.ifc").read_bytes() == (tmp_path / "b.ifc").read_bytes()


def test_the_model_that_was_read_is_not_overwritten_unless_allowed(file, tmp_path):
    path = tmp_path / "a.ifc"
    path.write_text("before")
    with pytest.raises(OutputError, match=r"a\.ifc is the model that was read"):
        save_model(file, path, timestamp=WHEN, source=tmp_path / "." / "a.ifc")
    assert path.read_text() == "before"
    save_model(file, path, timestamp=WHEN, source=path, overwrite=True)
    assert path.read_text().startswith("ISO-10303-21")


@pytest.mark.parametrize("target", ["a file/a.ifc", "folder.ifc"])
def test_a_target_that_cannot_be_written_is_named_and_nothing_is_left(file, tmp_path, target):
    (tmp_path / "a file").touch()
    (tmp_path / "folder.ifc").mkdir()
    with pytest.raises(OutputError, match="cannot be written"):
        save_model(file, tmp_path / target, timestamp=WHEN)
    assert {p.name for p in tmp_path.rglob("*")} == {"a file", "folder.ifc"}


def test_a_name_for_another_format_is_refused(file, tmp_path):
    with pytest.raises(OutputError, match=r"a\.ifcxml does not end in \.ifc or \.ifczip"):
        save_model(file, tmp_path / "a.ifcxml", timestamp=WHEN)


def test_folders_are_made(file, tmp_path):
    save_model(file, tmp_path / "missing" / "a.ifc", timestamp=WHEN)
    assert (tmp_path / "missing" / "a.ifc").read_text().startswith("ISO-10303-21")


def test_a_write_that_breaks_off_leaves_the_old_file_and_no_other(file, tmp_path, monkeypatch):
    path = tmp_path / "a.ifc"
    path.write_text("before")

    def fail(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", fail)
    with pytest.raises(OutputError, match="No space left"):
        save_model(file, path, timestamp=WHEN)
    assert path.read_text() == "before"
    assert [p.name for p in tmp_path.iterdir()] == ["a.ifc"]


def test_the_header_keeps_the_authoring_tool_and_names_us_once(file):
    header = file.header.file_name
    header.originating_system, header.preprocessor_version = "Tool - Tool - 1.0", "Exporter 2"
    ceilings = [make_ceiling([make_room("1", box(0, 0, 3000, 2400))])]
    for _ in range(2):
        write_ceilings(file, ceilings)
    assert header.originating_system == f"ifcgrid - ifcgrid - {ifcgrid.__version__}"
    assert header.preprocessor_version == "Exporter 2; authored with: Tool - Tool - 1.0"
