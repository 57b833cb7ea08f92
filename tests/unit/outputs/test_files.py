"""Files appear whole or not at all."""

from __future__ import annotations

import pytest

from ifcgrid.domain.errors import OutputError
from ifcgrid.outputs.files import make_folder, write_text


def test_a_text_replaces_what_was_there_and_leaves_no_draft(tmp_path):
    target = tmp_path / "a.txt"
    write_text(target, "one\n")
    write_text(target, "zwei ü\n")
    assert target.read_bytes() == "zwei ü\n".encode()
    assert list(tmp_path.iterdir()) == [target]


def test_a_target_that_cannot_be_written_is_named_and_nothing_is_left(tmp_path):
    folder = tmp_path / "taken"
    folder.mkdir()
    with pytest.raises(OutputError, match="taken cannot be written"):
        write_text(folder, "text")
    (tmp_path / "file").touch()
    with pytest.raises(OutputError, match="cannot be written"):
        write_text(tmp_path / "file" / "a.txt", "text")
    assert sorted(tmp_path.rglob("*")) == [tmp_path / "file", folder]


def test_the_folder_of_a_text_is_made(tmp_path):
    write_text(tmp_path / "a" / "b" / "c.txt", "text")
    assert (tmp_path / "a" / "b" / "c.txt").read_text() == "text"


def test_a_folder_in_the_place_of_a_file_is_refused(tmp_path):
    (tmp_path / "a").write_text("")
    with pytest.raises(OutputError, match="cannot be written"):
        make_folder(tmp_path / "a" / "b")
    make_folder(tmp_path / "c" / "d")
    make_folder(tmp_path / "c" / "d")
    assert (tmp_path / "c" / "d").is_dir()
