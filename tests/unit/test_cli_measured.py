"""Rooms measured on site, from the plan file to sheets, models and points, by the command line."""

from __future__ import annotations

import json
from pathlib import Path

import ifcopenshell
import pytest
from handmade_models import HandmadeModel, rectangle

from ifcgrid.cli import main

DEMO = str(Path(__file__).parents[2] / "models" / "sandrell-architecture.ifc")

SHORTER = """
[[measured]]
number = "1"
walls = {A = "5991 mm", B = "4270 mm", C = "5991 mm", D = "4271 mm"}
distances = {"AB-CD" = "7357.5 mm", "BC-DA" = "7356 mm"}
level = "2.69 m"
date = 2031-03-04
by = "site crew 2"
"""


@pytest.fixture(scope="module")
def two_rooms(tmp_path_factory):
    """A model of two rooms of 6010 x 4270 mm, 1 and 2, with ceilings at 2700 mm."""
    model = HandmadeModel()
    storey = model.storey("Level 1", 0.0)
    for number, x in (("1", 0.0), ("2", 7000.0)):
        space = model.space(storey, rectangle(x, 0, x + 6010, 4270), 0.0, 3000.0, name=number)
        model.quantities(space, "Qto_SpaceBaseQuantities", FinishCeilingHeight=2700.0)
    path = tmp_path_factory.mktemp("measured") / "rooms.ifc"
    model.file.write(str(path))
    return path


def run(args, capsys):
    """Exit code, what was printed, and what went to stderr."""
    code = main([str(arg) for arg in args])
    told = capsys.readouterr()
    return code, told.out, told.err


def built(two_rooms, tmp_path, capsys, plan, name="out.ifc"):
    """The record of a build with a plan's text; the model is in tmp_path / name."""
    (tmp_path / "plan.toml").write_text(plan, encoding="utf-8")
    args = ["build", two_rooms, "-o", tmp_path / name, "--plan", tmp_path / "plan.toml", "--json", "-"]
    code, out, err = run(args, capsys)
    assert not err.strip(), err
    record = json.loads(out)
    return code, {room["number"]: room for room in record["rooms"]}, record


def test_in_the_demo_19_mm_flip_the_panel_count_and_turn_the_mains(tmp_path, capsys):
    # 6010 mm hold 9 full panels and two borders of 305; 5991 mm only 8 and two of 595.5 (arithmetic).
    plan = tmp_path / "plan.toml"
    plan.write_text('[[measured]]\nnumber = "003"\nwalls = {A = "5991 mm"}\n', encoding="utf-8")
    code, out, _ = run(["explain", DEMO, "--plan", plan, "--room", "003"], capsys)
    assert code == 0
    words = " ".join(out.split())
    assert "Wall A: 6010 in the model, 5991 now (-19)" in words
    assert "Wall B: 4270 as in the model; border 305 becomes 595.5." in words
    assert "PANELS CHANGE: 48 full and 32 cut panels in 8 x 10 cells, instead of 54 full and 34 cut" in words
    assert "THE MAINS TURN: they run at 90 degrees" in words
    assert "No length checks another: measure both diagonals" in words


def test_build_lays_out_what_was_measured_and_says_so_in_record_summary_and_model(
    two_rooms, tmp_path, capsys
):
    code, rooms, _ = built(two_rooms, tmp_path, capsys, SHORTER)
    assert code in (0, 1)
    one, two = rooms["1"]["measured"], rooms["2"]
    assert "measured" not in two
    assert (one["date"], one["by"], one["level_mm"]) == ("2031-03-04", "site crew 2", 2690.0)
    assert one["angles_kept"]
    assert one["redundancy"] == 1
    assert [w["used_mm"] for w in one["walls"]] == pytest.approx([5990.8, 4270.4, 5990.8, 4270.4], abs=0.05)
    assert one["panels_model"] != one["panels"]
    assert one["panels_model"] == two["panels"]
    assert rooms["1"]["height"]["value_mm"] == 2690.0
    assert rooms["1"]["area_m2"] == pytest.approx(5.9908 * 4.2704, abs=2e-3)
    written = ifcopenshell.open(str(tmp_path / "out.ifc"))
    sets = [p for p in written.by_type("IfcPropertySet") if any(q.Name == "Digest" for q in p.HasProperties)]
    texts = [q.NominalValue.wrappedValue for p in sets for q in p.HasProperties if q.Name == "AsMeasured"]
    assert len(texts) == 1
    assert json.loads(texts[0])["by"] == "site crew 2"


def test_sheets_and_points_of_the_written_model_have_the_measured_room(two_rooms, tmp_path, capsys):
    built(two_rooms, tmp_path, capsys, SHORTER)
    args = ["setout", tmp_path / "out.ifc", "-o", tmp_path / "sheets", "--json", "-"]
    code, out, _ = run(args, capsys)
    assert code in (0, 1)
    again = {room["number"]: room for room in json.loads(out)["rooms"]}["1"]
    assert again["measured"]["walls"][0]["used_mm"] == pytest.approx(5990.8, abs=0.05)
    assert again["measured"]["panels"] == again["panels"]
    args = ["points", tmp_path / "out.ifc", "-o", tmp_path / "p.csv", "--room", "1"]
    assert run(args, capsys)[0] == 0
    text = (tmp_path / "p.txt").read_text(encoding="utf-8")
    assert "5990.8" in text


def test_a_second_build_over_the_first_changes_nothing(two_rooms, tmp_path, capsys):
    built(two_rooms, tmp_path, capsys, SHORTER)
    built(tmp_path / "out.ifc", tmp_path, capsys, SHORTER, name="again.ifc")

    def lines(name):
        text = (tmp_path / name).read_text(encoding="utf-8").splitlines()
        return [line for line in text if not line.startswith("FILE_NAME")]

    assert lines("again.ifc") == lines("out.ifc")


def test_a_level_alone_hangs_the_ceiling_there_and_changes_no_wall(two_rooms, tmp_path, capsys):
    _, rooms, _ = built(two_rooms, tmp_path, capsys, '[[measured]]\nnumber = "2"\nlevel = "2.65 m"\n')
    assert rooms["2"]["height"]["value_mm"] == 2650.0
    assert rooms["2"]["measured"]["level_mm"] == 2650.0
    assert rooms["2"]["panels"] == rooms["1"]["panels"]
    assert "panels_model" not in rooms["2"]["measured"]


def test_a_room_whose_lengths_cannot_be_fails_alone(two_rooms, tmp_path, capsys):
    plan = '[[measured]]\nnumber = "1"\nwalls = {B = "2.27 m"}\n'
    _, rooms, _ = built(two_rooms, tmp_path, capsys, plan)
    assert rooms["2"]["status"] == "laid-out"
    assert rooms["1"]["status"] == "failed"
    assert "measured wall B: 2270.0 mm were given, the model has 4270.0 mm" in rooms["1"]["reason"]
    assert "plan file, line 1" in rooms["1"]["reason"]


def test_a_room_whose_lengths_contradict_each_other_fails_with_all_of_them(two_rooms, tmp_path, capsys):
    plan = """
[[measured]]
number = "1"
walls = {A = "6010", B = "4270", C = "6050", D = "4270"}
distances = {"AB-CD" = "7372.4", "BC-DA" = "7372.5"}
"""
    _, rooms, _ = built(two_rooms, tmp_path, capsys, plan)
    assert rooms["1"]["status"] == "failed"  # one length too many tells that one is wrong, not which
    assert "wall C 6050.0 (the others ask for 6010.0)" in rooms["1"]["reason"]


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        ('[[measured]]\nnumber = "9"\nlevel = "2.7 m"\n', "picks no room; there are 1, 2"),
        ('[[measured]]\nstorey = "*"\nlevel = "2.7 m"\n', "picks 2 ceilings (1, 2)"),
        ('[[measured]]\nnumber = "1"\n', "measures nothing"),
        ('[[measured]]\nwalls = {A = "1 m"}\n', "picks no room; give one of storey"),
        ('[[measured]]\nnumber = "1"\nwall = {A = "1 m"}\n', "no entry 'wall'; allowed"),
        ('[[measured]]\nnumber = "1"\nwalls = {A = "1 q"}\n', "walls A: "),
        ('[[measured]]\nnumber = "1"\nwalls = {I = "1 m"}\n', "a wall is a letter"),
        ('[[measured]]\nnumber = "1"\ndistances = {"AB" = "1 m"}\n', "runs from the corner of two walls"),
        ('[[measured]]\nnumber = "1"\nlevel = "2.7 m"\ndate = "4 March"\n', "write it as 2031-03-04"),
        (
            '[[measured]]\nnumber = "1"\nlevel = "2 m"\n[[measured]]\nname = "1"\nlevel = "3 m"\n',
            "already measures; put all of it into one table",
        ),
    ],
)
def test_a_table_that_cannot_be_is_told_with_its_line(two_rooms, tmp_path, capsys, plan, words):
    (tmp_path / "plan.toml").write_text(plan, encoding="utf-8")
    args = ["build", two_rooms, "-o", tmp_path / "x.ifc", "--plan", tmp_path / "plan.toml"]
    code, _, err = run(args, capsys)
    assert code == 2
    assert words in err
    assert "line" in err
