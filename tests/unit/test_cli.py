"""The command line: what it prints, writes and returns."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

import ifcgrid
from ifcgrid.cli import main

MODELS = Path(__file__).parents[2] / "models"
GATEHOUSE = str(MODELS / "gatehouse.ifc")
SERVICES = str(MODELS / "gatehouse-services.ifc")


@pytest.mark.parametrize("module", ["24 x 48 in", "48 x 24 in", "2 x 4 ft"])
def test_a_room_in_feet_is_told_in_feet_whichever_side_of_the_module_comes_first(module, capsys):
    assert main(["layout", "--room", "28'9\" x 68'8\"", "--module", module]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Room:    28'9\" x 68'8\", 1974.167 ft2\n")
    assert "module 2'-0\" x 4'-0\"" in out
    assert " mm" not in out.partition("Certificate")[0]


def test_one_room_prints_borders_and_returns_zero(capsys):
    assert main(["layout", "--room", "6100 x 4270", "--module", "600 x 600"]) == 0
    out = capsys.readouterr().out
    assert "350" in out
    assert "335" in out


def test_json_to_stdout_is_json_and_nothing_else(capsys):
    # 13 full and 16 1/2 in; 33 full and 16 in: trade check values, common practice, no source.
    assert main(["layout", "--room", "28'9\" x 68'8\"", "--module", "24 x 24 in", "--json", "-"]) == 0
    record = json.loads(capsys.readouterr().out)
    borders = record["borders_mm"]
    assert sorted([*borders["along"], *borders["across"]]) == pytest.approx(
        [16 * 25.4, 16 * 25.4, 16.5 * 25.4, 16.5 * 25.4]
    )
    assert record["panels"] == {"full": 13 * 33, "cut": 15 * 35 - 13 * 33}


def test_an_outline_and_a_sheet(tmp_path, capsys):
    sheet = tmp_path / "room.svg"
    outline = "POLYGON ((0 0, 6150 0, 6150 2500, 4025 2500, 4025 4800, 0 4800, 0 0))"
    assert main(["layout", "--outline", outline, "--sheet", str(sheet)]) == 0
    assert "<svg" in sheet.read_text(encoding="utf-8")[:300]
    assert "exact" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["layout", "--room", "600"], "write LENGTH x WIDTH"),
        (["layout", "--room", "6 m x 4 m", "--module", "abc"], "write LENGTH x WIDTH"),
        (["layout", "--room", "6 m x 4 m", "--system", "brick"], "choose one of"),
        (["layout", "--room", "6 m x 4 m", "--policy", "best"], "choose one of"),
        (["layout", "--outline", "POLYGON((0"], "no WKT"),
        (["layout", "--outline", "POINT (1 2)"], "give one POLYGON"),
        (["layout", "--outline", "POLYGON ((0 0, 9 9, 9 0, 0 9, 0 0))"], "must not cross"),
        (["layout", "--outline", "POLYGON ((0 0, nan 0, 9 9, 0 0))"], "outline"),
        (["spaces", "no such file.ifc"], "does not exist"),
        (["spaces", __file__], "no IFC model"),
        (["build", GATEHOUSE, "-o", f"{__file__}/a.ifc"], "is a file, not a folder"),
        (["build", GATEHOUSE, "-o", "."], "does not end in .ifc"),
        (["build", GATEHOUSE, "-o", "a.ifcxml"], "does not end in .ifc or .ifczip"),
        (["build", GATEHOUSE, "-o", str(MODELS)], "does not end in .ifc"),
        (["build", GATEHOUSE, "--with", SERVICES, "-o", SERVICES], "is a file that is read"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--json", GATEHOUSE], "is a file that is read"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--json", "a.ifc"], "give two names"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--json", str(MODELS)], "it is a folder"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--sheets", __file__], "is a file, not a folder"),
        (["spaces", GATEHOUSE, "--json", GATEHOUSE], "is a file that is read"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--moves", GATEHOUSE], "is a file that is read"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--takeoff", "a.ifc"], "give two names"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--with", SERVICES, SERVICES], "give each model once"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--with", GATEHOUSE], "give each model once"),
        (["layout", "--room", "6 m x 4 m", "--picture", "a.svg", "--sheet", "a.svg"], "give two names"),
        (["layout", "--room", "6 m x 4 m", "--json", "a.svg", "--sheet", "a.svg"], "give two names"),
        (["build", GATEHOUSE, "-o", GATEHOUSE], "is the model that was read"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--plan", "no such plan.toml"], "cannot be read"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--system", "brick"], "choose one of"),
        (["clash", GATEHOUSE], "run ifcgrid build"),
        (["takeoff", GATEHOUSE], "run ifcgrid build"),
        (["takeoff", GATEHOUSE, "--prices", "no such file.csv"], "cannot be read"),
        (["explain", GATEHOUSE, "--room", "no such room"], "there are"),
        (["explain", GATEHOUSE, "--room", "1", "--policy", "best"], "choose one of"),
        (["explain", GATEHOUSE, "--room", "1", "--picture", GATEHOUSE], "is a file that is read"),
        (["setout", GATEHOUSE, "-o", "sheets"], "run ifcgrid build"),
    ],
)
def test_bad_input_gives_one_line_and_two(arguments, words, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(arguments) == 2
    caught = capsys.readouterr()
    assert caught.out == ""
    assert words in caught.err
    assert caught.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_written_to_is_told_before_the_work(tmp_path, capsys, monkeypatch):
    def refuse(**_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.TemporaryFile", refuse)
    monkeypatch.setattr("ifcgrid.pipeline.files.build", lambda *_: pytest.fail("the work was begun"))
    target = tmp_path / "new" / "a.ifc"
    assert main(["build", GATEHOUSE, "-o", str(target)]) == 2
    error = f"ifcgrid: {target} cannot be written: Permission denied in {tmp_path}\n"
    assert capsys.readouterr().err == error
    assert list(tmp_path.iterdir()) == []


def test_folders_of_what_is_written_are_made(tmp_path, capsys):
    target, told = tmp_path / "new" / "er" / "a.ifc", tmp_path / "json" / "a.json"
    assert main(["build", GATEHOUSE, "-o", str(target), "--json", str(told)]) in (0, 1)
    assert [p.name for p in target.parent.iterdir()] == ["a.ifc"]
    assert json.loads(told.read_text(encoding="utf-8"))["outputs"] == [str(target)]
    capsys.readouterr()


def test_archives_are_read_and_written(tmp_path, capsys):
    plain, packed, again = (tmp_path / name for name in ("a.ifc", "a.ifczip", "b.ifczip"))
    assert main(["build", GATEHOUSE, "-o", str(packed)]) in (0, 1)
    assert main(["build", GATEHOUSE, "-o", str(plain)]) in (0, 1)
    with zipfile.ZipFile(packed) as archive:
        assert archive.namelist() == ["a.ifc"]
        assert _data(archive.read("a.ifc").decode()) == _data(plain.read_text(encoding="utf-8"))
    assert main(["build", str(packed), "-o", str(again)]) in (0, 1)
    with zipfile.ZipFile(again) as archive:
        assert _data(archive.read("b.ifc").decode()) == _data(plain.read_text(encoding="utf-8"))
    capsys.readouterr()


def _data(text):
    return text.partition("DATA;")[2]


@pytest.mark.parametrize("encoding", ["ascii", "cp1252"])
def test_names_that_the_terminal_cannot_show_stop_nothing(encoding, tmp_path):
    model = tmp_path / "a.ifc"
    text = Path(GATEHOUSE).read_text(encoding="utf-8").replace("'Porter'", PORTER)
    model.write_text(text, encoding="utf-8")
    environment = {**os.environ, "PYTHONIOENCODING": encoding}
    run = [sys.executable, "-m", "ifcgrid", "spaces", str(model)]
    told = subprocess.run(run, capture_output=True, env=environment, check=False)
    assert (told.returncode, told.stderr) == (0, b"")
    assert b"caf" in told.stdout
    told = subprocess.run([*run, "--json", "-"], capture_output=True, env=environment, check=False)
    names = [room["name"] for room in json.loads(told.stdout.decode(encoding))["rooms"]]
    assert "\u0141\u00f3d\u017a caf\u00e9" in names


PORTER = r"'\X2\014100F30064017A\X0\ caf\X2\00E9\X0\'"
"""A name with letters that no Western terminal has, as STEP spells it (ISO 10303-21)."""


def test_a_wrong_plan_names_its_file_and_line(tmp_path, capsys):
    plan = tmp_path / "plan.toml"
    plan.write_text('[[rooms]]\nname = "x"\nheigth = 3\n', encoding="utf-8")
    assert main(["spaces", GATEHOUSE, "--plan", str(plan)]) == 2
    assert f"{plan}, line 3" in capsys.readouterr().err


def test_a_plan_with_a_mark_of_its_byte_order_is_read(tmp_path, capsys):
    plan = tmp_path / "plan.toml"
    plan.write_bytes(b"\xef\xbb\xbf" + b'height = "2500 mm"\r\n')  # as some editors save it
    assert main(["spaces", GATEHOUSE, "--plan", str(plan), "--json", "-"]) == 0
    rooms = json.loads(capsys.readouterr().out)["rooms"]
    assert {r["height"]["value_mm"] for r in rooms if r["status"] == "ready"} == {2500.0}


def test_spaces_lists_each_room_with_its_height_and_reason(capsys):
    assert main(["spaces", GATEHOUSE, "--json", "-"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["model"]["unit"] == "foot"
    assert {room["status"] for room in record["rooms"]} <= {"ready", "skipped", "failed"}
    assert all(room["height"] for room in record["rooms"] if room["status"] == "ready")


def test_several_models_are_listed_together(capsys):
    architecture = str(MODELS / "sandrell-architecture.ifc")
    assert main(["spaces", GATEHOUSE, architecture, "--json", "-"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert [m["path"] for m in record["models"]] == [GATEHOUSE, architecture]
    assert {room["model"] for room in record["rooms"]} == {GATEHOUSE, architecture}


def test_build_clash_and_setout_agree_on_what_was_built(tmp_path, capsys):
    built, services = str(tmp_path / "built.ifc"), str(MODELS / "gatehouse-services.ifc")
    sheets = tmp_path / "sheets"
    arguments = ["build", GATEHOUSE, "--with", services, "-o", built, "--sheets", str(sheets), "--json", "-"]
    assert main(arguments) == 1
    record = json.loads(capsys.readouterr().out)
    assert sorted(record["outputs"]) == sorted([built, *map(str, sheets.iterdir())])
    assert main(["clash", built, "--with", services, "--json", "-"]) == 1
    again = json.loads(capsys.readouterr().out)
    for entry in ("rule", "room", "verdict", "subjects"):
        assert [f[entry] for f in again["findings"]] == [f[entry] for f in record["findings"]]
    assert again["totals"] == record["totals"]
    assert main(["setout", built, "-o", str(tmp_path / "again"), "--room", "no such room"]) == 2
    assert "no ceiling in a room" in capsys.readouterr().err
    assert main(["setout", built, "--with", services, "-o", str(tmp_path / "again")]) == 1
    assert {p.name for p in (tmp_path / "again").iterdir()} == {p.name for p in sheets.iterdir()}


def test_a_model_is_changed_in_place_only_when_asked(tmp_path, capsys):
    copy = tmp_path / "copy.ifc"
    copy.write_bytes(Path(GATEHOUSE).read_bytes())
    assert main(["build", str(copy), "-o", str(copy)]) == 2
    assert copy.read_bytes() == Path(GATEHOUSE).read_bytes()
    assert main(["build", str(copy), "-o", str(copy), "--overwrite"]) in (0, 1)
    assert copy.read_bytes() != Path(GATEHOUSE).read_bytes()
    assert list(tmp_path.iterdir()) == [copy]
    capsys.readouterr()


def test_a_room_s_explanation_is_one_screen_and_a_picture(tmp_path, capsys):
    architecture = str(MODELS / "sandrell-architecture.ifc")
    picture, record = tmp_path / "why.svg", tmp_path / "why.json"
    arguments = ["--with", str(MODELS / "sandrell-services.ifc"), "--room", "001"]
    arguments += ["--policy", "six-inch", "--picture", str(picture), "--json", str(record)]
    assert main(["explain", architecture, *arguments]) == 0
    out = capsys.readouterr().out
    for word in ("City of Nashua specification 09510, 3.1.F", "Runners-up", "by (-40, 0) mm in X and Y"):
        assert word in out
    (room,) = json.loads(record.read_text(encoding="utf-8"))["rooms"]
    assert room["flips"]
    assert room["moves"][0]["vector_mm"] == [-40, 0]
    assert "1. chosen" in picture.read_text(encoding="utf-8")


def test_a_room_without_a_ceiling_is_explained_by_its_reason(capsys):
    assert main(["explain", str(MODELS / "sandrell-architecture.ifc"), "--room", "011"]) == 0
    assert "name says stair" in capsys.readouterr().out


def test_one_room_can_be_explained_without_a_model(tmp_path, capsys):
    picture = tmp_path / "why.svg"
    assert main(["layout", "--room", "6019 x 4270", "--explain", "--picture", str(picture)]) == 0
    assert "19 mm narrower along the mains: 10 cells instead of 11" in capsys.readouterr().out
    assert "<svg" in picture.read_text(encoding="utf-8")


def test_a_take_off_is_written_with_the_build_and_read_off_the_model(tmp_path, capsys):
    built, book = str(tmp_path / "out.ifc"), tmp_path / "built.xlsx"
    services = str(MODELS / "gatehouse-services.ifc")
    arguments = ["--with", services, "--system", "lay-in-2x2-ft", "--takeoff", str(book)]
    assert main(["build", GATEHOUSE, "-o", built, *arguments]) in (0, 1)
    assert book.read_bytes()[:2] == b"PK"
    prices = tmp_path / "prices.csv"
    prices.write_text("item,unit,price\npanel,m2,12\ntee,pcs,3\n", encoding="utf-8")
    record = tmp_path / "takeoff.json"
    targets = ["--xlsx", str(tmp_path / "a.xlsx"), "--csv", str(tmp_path / "a.csv"), "--json", str(record)]
    capsys.readouterr()
    assert main(["takeoff", built, "--prices", str(prices), "--alternatives", *targets]) == 0
    out = capsys.readouterr().out
    assert "proved bound" in out
    assert "as laid out" in out
    told = json.loads(record.read_text(encoding="utf-8"))
    assert {str(tmp_path / "a.xlsx"), str(tmp_path / "a.csv")} == set(told["outputs"])
    assert len({cost["system"] for cost in told["costs"]}) > 3
    assert main(["takeoff", built, "--order", str(prices)]) == 2
    assert "order file" in capsys.readouterr().err


def test_the_version_is_told_without_reading_a_model(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["--version"])
    assert stopped.value.code == 0
    assert capsys.readouterr().out == f"ifcgrid {ifcgrid.__version__}\n"
