"""The command line: what it prints, writes and returns."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import ifcgrid
from ifcgrid.cli import main

MODELS = Path(__file__).parents[2] / "models"
GATEHOUSE = str(MODELS / "gatehouse.ifc")


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
        (["build", GATEHOUSE, "-o", "/no such folder/a.ifc"], "cannot be written"),
        (["build", GATEHOUSE, "-o", GATEHOUSE], "is the model that was read"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--plan", "no such plan.toml"], "cannot be read"),
        (["build", GATEHOUSE, "-o", "a.ifc", "--system", "brick"], "choose one of"),
        (["clash", GATEHOUSE], "run ifcgrid build"),
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


def test_a_wrong_plan_names_its_file_and_line(tmp_path, capsys):
    plan = tmp_path / "plan.toml"
    plan.write_text('[[rooms]]\nname = "x"\nheigth = 3\n', encoding="utf-8")
    assert main(["spaces", GATEHOUSE, "--plan", str(plan)]) == 2
    assert f"{plan}, line 3" in capsys.readouterr().err


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


def test_the_version_is_told_without_reading_a_model(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["--version"])
    assert stopped.value.code == 0
    assert capsys.readouterr().out == f"ifcgrid {ifcgrid.__version__}\n"
