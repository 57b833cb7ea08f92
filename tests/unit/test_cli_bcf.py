"""BCF from the command line: build writes it, clash brings it up to date."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import ifcopenshell

from ifcgrid.cli import main

MODELS = Path(__file__).parents[2] / "models"


def test_topics_name_elements_of_the_models_and_a_second_run_changes_nothing(tmp_path, capsys):
    model, services = str(MODELS / "gatehouse.ifc"), str(MODELS / "gatehouse-services.ifc")
    built, issues = str(tmp_path / "built.ifc"), str(tmp_path / "issues.bcf")
    arguments = ["build", model, "--with", services, "-o", built, "--system", "lay-in-2x2-ft"]
    assert main([*arguments, "--bcf", issues, "--json", "-"]) == 1
    record = json.loads(capsys.readouterr().out)
    assert issues in record["outputs"]
    failing = [f for f in record["findings"] if f["verdict"] == "fail"]
    assert len(record["issues"]["new"]) == len(failing) == 2
    known = {e.GlobalId for path in (built, services) for e in ifcopenshell.open(path).by_type("IfcRoot")}
    with zipfile.ZipFile(issues) as archive:
        views = [archive.read(n).decode() for n in archive.namelist() if n.endswith(".bcfv")]
    named = {word.split('"')[0] for view in views for word in view.split('IfcGuid="')[1:]}
    assert named
    assert named <= known
    before = Path(issues).read_bytes()
    assert main(["clash", built, "--with", services, "--bcf", issues, "--json", "-"]) == 1
    again = json.loads(capsys.readouterr().out)
    assert sorted(again["issues"]["persisting"]) == sorted(record["issues"]["new"])
    assert Path(issues).read_bytes() == before


def test_a_file_that_is_no_bcf_is_refused_and_kept(tmp_path, capsys):
    notes = tmp_path / "issues.bcf"
    notes.write_text("my notes", encoding="utf-8")
    built = str(tmp_path / "built.ifc")
    assert main(["build", str(MODELS / "gatehouse.ifc"), "-o", built, "--bcf", str(notes)]) == 2
    assert "is no BCF file" in capsys.readouterr().err
    assert notes.read_text(encoding="utf-8") == "my notes"
