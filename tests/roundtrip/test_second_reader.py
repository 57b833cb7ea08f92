"""What an independent reader (the npm package web-ifc) sees is what ours says is there."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import numpy as np
import pytest

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.ifc.identity import global_id, is_ours
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.writing.save import save_model
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.pipeline import Build, build

pytestmark = pytest.mark.reader

ROOT = Path(__file__).resolve().parents[2]
READER = ROOT / "tests" / "reader"
BUILDINGS = {
    "sandrell": ("sandrell-architecture.ifc", "sandrell-services.ifc", "sandrell-structure.ifc"),
    "gatehouse": ("gatehouse.ifc", "gatehouse-services.ifc"),
}
"""IFC4 in millimetres, and IFC2X3 in feet and inches."""

RUNS = (("sandrell", "grid"), ("sandrell", "panels"), ("gatehouse", "grid"))

NEAR = 1.0
"""mm; the second reader holds coordinates in single precision."""


@pytest.fixture(scope="module")
def node() -> str:
    found = shutil.which("node")
    if found is None:
        pytest.skip("Node.js is not installed here")
    if not (READER / "node_modules" / "web-ifc").is_dir():
        pytest.skip("web-ifc is not installed; scripts/test.py installs it where a registry is in reach")
    return found


def read_meshes(node: str, path: Path) -> dict[str, Any]:
    """GlobalId to `type`, `box` (mm) and `triangles`, as the second reader has them."""
    command = [node, "read_meshes.mjs", str(path)]
    run = subprocess.run(command, cwd=READER, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    meshes: dict[str, Any] = json.loads(run.stdout)
    return meshes


def kernel_boxes(model: ifcopenshell.file, products: list[Any]) -> dict[str, np.ndarray]:
    """GlobalId to the box (2, 3) of the product's body in mm, by our own kernel."""
    settings = ifcopenshell.geom.settings()
    settings.set("use-world-coords", True)
    boxes = {}
    for shape in ifcopenshell.geom.iterator(settings, model, 1, include=products):
        points = np.array(shape.geometry.verts).reshape(-1, 3) * 1000.0
        boxes[shape.guid] = np.array([points.min(axis=0), points.max(axis=0)])
    return boxes


def test_both_readers_see_the_same_ceilings_in_a_model_of_others(node: str, duplex: Path):
    model = ifcopenshell.open(duplex)
    ours = kernel_boxes(model, [c for c in model.by_type("IfcCovering") if c.PredefinedType == "CEILING"])
    theirs = read_meshes(node, duplex)
    assert len(ours) == 13
    for guid, box in ours.items():
        assert np.abs(np.array(theirs[guid]["box"]) - box).max() <= NEAR, guid


@pytest.fixture(scope="module", params=RUNS, ids="-".join)
def written(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Build, Path]:
    """A demo building with its ceilings, and the file they were written to."""
    building, detail = request.param
    model, *others = (open_model(ROOT / "models" / name) for name in BUILDINGS[building])
    done = build(model, None, others)
    write_ceilings(model.file, done.ceilings, done.findings, detail=detail)
    path = tmp_path_factory.mktemp("written") / f"{building}.ifc"
    save_model(model.file, path, timestamp="2000-01-01T00:00:00")
    return done, path


@pytest.fixture(scope="module")
def seen(node: str, written: tuple[Build, Path]) -> dict[str, Any]:
    """What the second reader sees in that file."""
    return read_meshes(node, written[1])


def our_bodies(model: ifcopenshell.file) -> list[Any]:
    """Everything we wrote that has a body and is no hole."""
    elements = [e for e in model.by_type("IfcElement") if is_ours(e) and not e.is_a("IfcFeatureElement")]
    return [e for e in elements if e.Representation is not None and _has_body(e.Representation)]


def _has_body(shape: Any) -> bool:
    return any(r.RepresentationIdentifier == "Body" for r in shape.Representations)


def member_boxes(ceiling: Ceiling) -> dict[str, np.ndarray]:
    """GlobalId to the box (2, 3) of each main and tee, worked out from the ceiling's own numbers.

    An inverted T as wide as its face stands about its axis from the ceiling's underside
    up to its height.
    """
    members, system = ceiling.members, ceiling.system
    boxes = {}
    for key, role, start, end in zip(members.keys(), members.role, members.start, members.end, strict=True):
        if role == Role.WALL_ANGLE:
            continue
        section = system.main if role == Role.MAIN_RUNNER else system.tee
        side = (end - start)[::-1] * (-1, 1) / np.hypot(*(end - start)) * section.face / 2
        plan = ceiling.layout.frame.to_world([start + side, start - side, end + side, end - side])
        low, high = ceiling.zone.level, ceiling.zone.level + section.height
        boxes[global_id(ceiling.key, key)] = np.array([(*plan.min(axis=0), low), (*plan.max(axis=0), high)])
    return boxes


def hanger_boxes(ceiling: Ceiling) -> dict[str, np.ndarray]:
    """GlobalId to the box of each hanger whose length is known: a rod from its main up to its soffit."""
    hangers, radius = ceiling.hangers, ceiling.system.hanger_diameter / 2
    points = ceiling.layout.frame.to_world(hangers.point)
    return {
        global_id(ceiling.key, key): np.array([(*(point - radius), bottom), (*(point + radius), top)])
        for key, point, bottom, top in zip(hangers.keys(), points, hangers.bottom, hangers.top, strict=True)
        if not np.isnan(top)
    }


def test_every_ceiling_element_yields_a_mesh_in_the_second_reader(
    written: tuple[Build, Path], seen: dict[str, Any]
):
    done, path = written
    elements = our_bodies(ifcopenshell.open(path))
    parts = sum(len(c.members) + int((~np.isnan(c.hangers.top)).sum()) for c in done.ceilings)
    panels = [e for e in elements if e.is_a("IfcBuildingElementPart")]
    assert len(elements) - len(panels) >= parts
    adopted = {r.key for c in done.ceilings for r in c.zone.rooms if r.covering is not None}
    if panels:
        drawn = [c.panels for c in done.ceilings if not adopted & {r.key for r in c.zone.rooms}]
        assert len(panels) == sum(map(len, drawn))
    assert [e.GlobalId for e in elements if seen.get(e.GlobalId, {"triangles": 0})["triangles"] == 0] == []


def test_members_and_hangers_lie_where_the_ceiling_says(written: tuple[Build, Path], seen: dict[str, Any]):
    done, _ = written
    for ceiling in done.ceilings:
        expected = member_boxes(ceiling) | hanger_boxes(ceiling)
        assert expected
        theirs = np.array([seen[guid]["box"] for guid in expected])
        apart = np.abs(theirs - np.array(list(expected.values()))).max(axis=(1, 2))
        worst = int(apart.argmax())
        assert apart[worst] <= NEAR, (ceiling.zone.rooms[0].number, list(expected)[worst])


def test_both_readers_see_the_same_body_of_every_other_ceiling_element(
    written: tuple[Build, Path], seen: dict[str, Any]
):
    done, path = written
    model = ifcopenshell.open(path)
    known = {guid for c in done.ceilings for guid in member_boxes(c) | hanger_boxes(c)}
    others = [e for e in our_bodies(model) if e.GlobalId not in known]
    panels = [e for e in others if e.is_a("IfcBuildingElementPart")]
    # Thousands of panels are made alike: every eighth shows as much, in a fraction of the time.
    left = {e.GlobalId for k, e in enumerate(panels) if k % 8}
    ours = kernel_boxes(model, [e for e in others if e.GlobalId not in left])
    kinds = {model.by_guid(guid).is_a() for guid in ours}
    assert "IfcMember" in kinds
    assert len(kinds & {"IfcCovering", "IfcBuildingElementPart"}) == 1
    theirs = np.array([seen[guid]["box"] for guid in ours])
    assert np.abs(theirs - np.array(list(ours.values()))).max() <= NEAR
