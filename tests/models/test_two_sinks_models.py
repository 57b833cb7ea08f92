"""The demo and real models come out the same through the text of their files and through the open model."""

from __future__ import annotations

from pathlib import Path

import ifcopenshell
import pytest
from same_model import differences, header_of

from ifcgrid.ifc.writing.save import save_model
from ifcgrid.pipeline import build_file

DEMO = Path(__file__).parents[2] / "models"


def sinks(source: Path, folder: Path, detail: str, **how: object) -> tuple[Path, dict[str, object]]:
    """Writes through both sinks, compares, and runs over the output; gives the text's and its record."""
    written, records = {}, {}
    for sink in ("text", "model"):
        target = folder / f"{sink}.ifc"
        records[sink] = build_file(source, target, detail=detail, sink=sink, **how)
        written[sink] = ifcopenshell.open(target)
    assert differences(written["text"], written["model"]) == []
    assert header_of(written["text"]) == header_of(written["model"])
    again = build_file(folder / "text.ifc", folder / "again.ifc", detail=detail, **how)
    assert again["written"]["sink"] == "text"
    once, twice = (
        (folder / name).read_bytes().partition(b"FILE_SCHEMA")[2] for name in ("text.ifc", "again.ifc")
    )
    assert once == twice
    return folder / "text.ifc", records["text"]


@pytest.mark.parametrize(
    ("name", "detail"),
    [
        ("gatehouse", "ceiling"),
        ("gatehouse", "grid"),
        ("gatehouse", "panels"),
        ("sandrell-architecture", "ceiling"),
    ],
)
def test_the_demo(tmp_path: Path, name: str, detail: str):
    further = [DEMO / "sandrell-services.ifc"] if name.startswith("sandrell") else []
    _, record = sinks(DEMO / f"{name}.ifc", tmp_path, detail, others=further)
    assert record["written"]["sink"] == "text"
    assert "why" not in record["written"]


def test_the_demo_in_the_newest_schema(tmp_path: Path):
    # The demo has no model in IFC4X3: the gatehouse's is one when its header says so.
    text = (DEMO / "gatehouse.ifc").read_text()
    model = tmp_path / "a.ifc"
    model.write_text(text.replace("'IFC2X3'", "'IFC4X3_ADD2'"))
    file = ifcopenshell.open(model)
    save_model(file, model, timestamp="2020-01-01T00:00:00")
    target, _ = sinks(model, tmp_path, "panels")
    assert ifcopenshell.open(target).schema == "IFC4X3"


@pytest.mark.models
@pytest.mark.parametrize(
    ("name", "detail"),
    [
        ("bimwhale_LargeBuilding", "grid"),
        ("pcert_ifc4_Building-Architecture", "panels"),
        ("pcert_ifc4x3_Building-Architecture", "panels"),
    ],
)
def test_real_models(tmp_path: Path, shared_models: Path, name: str, detail: str):
    source = shared_models / f"{name}.ifc"
    target, _ = sinks(source, tmp_path, detail)
    # Of the file that was read no instance is written anew.
    assert set(source.read_bytes().split(b"DATA;")[1].split()) <= set(target.read_bytes().split())
