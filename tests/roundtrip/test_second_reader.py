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

pytestmark = pytest.mark.reader

READER = Path(__file__).resolve().parent.parent / "reader"
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
