"""The floor report from a model: as it stands, or proposed, with the 3D model beside it."""

from __future__ import annotations

import json
import re
import shutil
import struct
from pathlib import Path

import ifcopenshell
import pytest

from ifcgrid.cli import main
from ifcgrid.domain.errors import OutputError
from ifcgrid.ifc.identity import is_ours
from ifcgrid.pipeline import build_file, report_file

MODELS = Path(__file__).resolve().parents[3] / "models"
GATEHOUSE = MODELS / "gatehouse.ifc"
SERVICES = MODELS / "gatehouse-services.ifc"


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("built") / "with-ceilings.ifc"
    page = path.with_suffix(".html")
    build_file(GATEHOUSE, path, others=[SERVICES], system="lay-in-2x2-ft", report=page)
    return path


def _gltf(path: Path) -> dict:
    """The description in a .glb file (glTF 2.0 specification, 4.4: header of 12 bytes, chunks)."""
    data = path.read_bytes()
    magic, version, length = struct.unpack_from("<4sII", data)
    size, kind = struct.unpack_from("<I4s", data, 12)
    assert (magic, version, length, kind) == (b"glTF", 2, len(data), b"JSON")
    return json.loads(data[20 : 20 + size])


def test_a_build_gives_the_report_of_what_it_wrote(built):
    page = built.with_suffix(".html").read_text(encoding="utf-8")
    assert "As written into with-ceilings.ifc." in page
    assert page.count("What lost") == page.count("<h3>Borders</h3>")


def test_ceilings_in_a_model_are_explained_by_laying_them_out_again(built, tmp_path):
    record = report_file(built, tmp_path / "floor.html", others=[SERVICES], has_ways=False)
    page = (tmp_path / "floor.html").read_text(encoding="utf-8")
    assert "As the ceilings stand in the model now" in page
    assert "other places were not compared" not in page
    assert page.count("What lost") == page.count("<h3>Borders</h3>") == record["totals"]["rooms"]["laid-out"]
    assert 'class="remark"' not in page
    assert "8&#x27;-0&quot;" in page or "8'-0\"" in page  # the gatehouse is modelled in feet


def test_a_grid_that_lies_elsewhere_is_told(tmp_path):
    plan = tmp_path / "plan.toml"
    plan.write_text('system = "lay-in-2x2-ft"\n[[rooms]]\nname = "Waiting*"\nangle = 90\n', encoding="utf-8")
    model = tmp_path / "turned.ifc"
    build_file(GATEHOUSE, model, plan=plan)
    report_file(model, tmp_path / "floor.html", has_ways=False)
    page = (tmp_path / "floor.html").read_text(encoding="utf-8")
    remarks = re.findall(r'<p class="remark">(.*?)</p>', page)
    assert len(remarks) == 1
    assert "turned by" in remarks[0]
    report_file(model, tmp_path / "again.html", plan=plan, has_ways=False)
    assert 'class="remark"' not in (tmp_path / "again.html").read_text(encoding="utf-8")


def test_a_model_without_ceilings_is_laid_out_for_the_report_and_not_changed(tmp_path):
    model = shutil.copy(GATEHOUSE, tmp_path / "plain.ifc")
    before = Path(model).read_bytes()
    command = ["report", str(model), "-o", str(tmp_path / "floor.html"), "--no-ways"]
    assert main([*command, "--gltf", str(tmp_path / "sub folder" / "3d.glb")]) in (0, 1)
    page = (tmp_path / "floor.html").read_text(encoding="utf-8")
    assert "Proposed: laid out for this report" in page
    assert 'href="sub%20folder/3d.glb"' in page
    assert Path(model).read_bytes() == before
    assert _gltf(tmp_path / "sub folder" / "3d.glb")["meshes"]


def test_the_3d_model_has_each_of_our_parts_once_by_its_globalid(built, tmp_path):
    report_file(built, tmp_path / "floor.html", gltf=tmp_path / "floor.glb", has_ways=False)
    file = ifcopenshell.open(built)
    grids = [a for a in file.by_type("IfcElementAssembly") if is_ours(a)]
    wanted = {
        p.GlobalId for a in grids for r in a.IsDecomposedBy for p in r.RelatedObjects if p.Representation
    }
    wanted |= {c.GlobalId for c in file.by_type("IfcCovering") if is_ours(c)}
    names = [node.get("name", "") for node in _gltf(tmp_path / "floor.glb")["nodes"]]
    assert sorted(names) == sorted(wanted)


def test_rules_of_documents_are_told_with_what_was_not_checked(built, tmp_path, capsys):
    target = tmp_path / "floor.html"
    assert main(["report", str(built), "-o", str(target), "--no-ways", "--rules", "c636-19"]) in (0, 1)
    page = target.read_text(encoding="utf-8")
    assert "and the rules of these documents and editions" in page
    assert "Rules of documents" in page
    assert "not checked, and why" in page
    capsys.readouterr()


def test_the_model_is_never_written_over(built):
    with pytest.raises(OutputError, match="is a file that is read"):
        report_file(built, built)


def test_what_measuring_on_site_changed_stands_in_the_rooms_panel(tmp_path):
    plan = tmp_path / "plan.toml"
    plan.write_text('[[measured]]\nname = "Waiting*"\nwalls = {A = "15\' 3"}\n', encoding="utf-8")
    report_file(GATEHOUSE, tmp_path / "floor.html", plan=plan, has_ways=False)
    page = (tmp_path / "floor.html").read_text(encoding="utf-8")
    assert page.count("<h3>Measured on site</h3>") == 1
