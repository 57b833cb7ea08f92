"""Points by the command line: written, measured, compared."""

from __future__ import annotations

import csv
import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from ifcgrid.cli import main

MODELS = Path(__file__).parents[2] / "models"
SERVICES = str(MODELS / "gatehouse-services.ifc")


@pytest.fixture(scope="module")
def gatehouse(tmp_path_factory):
    """The small demo with its ceilings (IFC2X3, feet)."""
    path = tmp_path_factory.mktemp("points") / "gatehouse.ifc"
    assert main(["build", str(MODELS / "gatehouse.ifc"), "-o", str(path), "--with", SERVICES]) in (0, 1)
    return str(path)


@pytest.fixture(scope="module")
def table(gatehouse):
    """All its points in mm."""
    path = Path(gatehouse).with_name("all.csv")
    assert main(["points", gatehouse, "-o", str(path)]) == 0
    return path


def run(args, capsys):
    code = main([str(arg) for arg in args])
    told = capsys.readouterr()
    return code, told.out, told.err


def rows_of(path):
    return list(csv.reader(path.read_text(encoding="ascii").splitlines()))[1:]


def rewritten(source, target, change):
    """The table again, its numbers changed, as an instrument gives them: no head, no description."""
    lines = []
    for name, *numbers, _ in rows_of(source):
        n, e, z = change(*map(float, numbers))
        lines.append(f"{name},{n:.4f},{e:.4f},{z:.4f}")
    target.write_text("\n".join(lines), encoding="utf-8")


def test_table_text_and_landxml_have_the_same_points_under_unique_names(gatehouse, tmp_path, capsys):
    args = ["points", gatehouse, "--with", SERVICES, "--units", "ft"]
    code, out, _ = run([*args, "-o", tmp_path / "p.csv", "-o", tmp_path / "p.xml"], capsys)
    assert code == 0
    assert "p.txt" in out
    rows = rows_of(tmp_path / "p.csv")
    names = [row[0] for row in rows]
    assert len(set(names)) == len(names) > 100
    assert max(map(len, names)) <= 16
    points = ET.parse(tmp_path / "p.xml").getroot()[4]
    assert [[p.get("name"), *p.text.split()] for p in points] == [row[:4] for row in rows]
    # The porter's room is 13'-7" x 10'-4": 163 x 124 in.
    corner = {row[0]: row[1:3] for row in rows}
    assert corner["G1-BC"] == [f"{124 / 12:.4f}", f"{163 / 12:.4f}"]
    text = (tmp_path / "p.txt").read_text(encoding="utf-8")
    assert "international feet (0.3048 m)" in text
    assert f"{(163**2 + 124**2) ** 0.5 / 12:.4f}" in text


@pytest.mark.parametrize("unit", ["mm", "us-ft"])
def test_a_file_read_back_has_no_deviation_at_all(gatehouse, tmp_path, capsys, unit):
    args = ["points", gatehouse, "--with", SERVICES, "--units", unit]
    run([*args, "-o", tmp_path / "p.csv"], capsys)
    code, out, _ = run([*args, "--measured", tmp_path / "p.csv", "--json", "-"], capsys)
    assert code == 0
    survey = json.loads(out)["survey"]
    assert survey["verdict"] == "pass"
    assert not survey["slips"] + survey["says"] + survey["missing"] + survey["unknown"]
    worst = max(max(abs(p["north_mm"]), abs(p["east_mm"]), abs(p["up_mm"])) for p in survey["points"])
    assert worst == 0.0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda n, e, z: (e, n, z), "northing and easting changed places"),
        (lambda n, e, z: (n / 304.8, e / 304.8, z / 304.8), "in ft and were read as mm"),
        (lambda n, e, z: (n + 25.0, e - 10.0, z), "shifted by +25.0 mm north and -10.0 mm east"),
    ],
)
def test_what_went_wrong_on_site_is_told_and_the_exit_code_says_so(
    gatehouse, table, tmp_path, capsys, change, words
):
    rewritten(table, tmp_path / "m.csv", change)
    code, out, _ = run(["points", gatehouse, "--measured", tmp_path / "m.csv"], capsys)
    assert code == 1
    assert words in out


def test_one_room_and_one_role_keep_their_names_and_their_check_points(gatehouse, table, tmp_path, capsys):
    args = ["points", gatehouse, "-o", tmp_path / "some.csv", "--room", "G4", "--only", "hangers"]
    assert run(args, capsys)[0] == 0
    every, some = rows_of(table), rows_of(tmp_path / "some.csv")
    assert {row[4][:2] for row in some} == {"CK", "HG"}
    assert len(some) == 6 + 22  # six corners of an L, and as many hangers as the build has
    assert all(row in every for row in some)


def test_the_head_can_be_left_out_and_decimals_be_chosen(gatehouse, tmp_path, capsys):
    args = ["points", gatehouse, "-o", tmp_path / "p.csv", "--no-head", "--units", "m", "--decimals", "3"]
    run(args, capsys)
    first = (tmp_path / "p.csv").read_text(encoding="ascii").splitlines()[0].split(",")
    assert first[0] == "G1-AB"
    assert first[1] == "0.000"


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["-o", "p.dwg"], "points are written as .csv or LandXML .xml"),
        ([], "either -o FILE to write them or --measured FILE"),
        (["-o", "p.csv", "--room", "X9"], "no ceiling in a room 'X9'; there are G1, G2"),
        (["-o", "p.csv", "--coordinates", "map"], "has no map conversion (property set ePset_MapConversion)"),
        (["--measured", "none.csv"], "none.csv cannot be read"),
        (["-o", "p.csv", "--decimals", "40"], "give 0 to 9"),
        (["--measured", SERVICES, "--within", "0"], "must be greater than zero"),
        (["--measured", SERVICES], "has no northing and easting"),
    ],
)
def test_what_cannot_be_is_told_in_one_line(gatehouse, tmp_path, capsys, monkeypatch, args, words):
    monkeypatch.chdir(tmp_path)
    code, _, err = run(["points", gatehouse, *args], capsys)
    assert code == 2
    assert words in err
    assert not list(tmp_path.iterdir())
