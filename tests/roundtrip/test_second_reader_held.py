"""What holds a ceiling stands in one place for our kernel and an independent reader (npm web-ifc)."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from held import a_model, held
from written import extent, meshes

from ifcgrid.ifc.writing.save import save_model
from ifcgrid.ifc.writing.write import write_ceilings

pytestmark = pytest.mark.reader

READER = Path(__file__).resolve().parents[1] / "reader"
NEAR = 1.0
"""mm; the second reader holds coordinates in single precision."""

WORDS = {"hanger", "trapeze", "brace", "wire", "stabiliser", "anchor"}


@pytest.mark.parametrize(("schema", "unit"), [("IFC2X3", "ft"), ("IFC4", "mm"), ("IFC4X3", "m")])
def test_both_readers_see_every_rod_and_bar_in_one_place(schema, unit, tmp_path: Path):
    node = shutil.which("node")
    if node is None or not (READER / "node_modules" / "web-ifc").is_dir():
        pytest.skip("Node.js or web-ifc is not installed; scripts/test.py installs it where it can")
    ceiling = held()
    file = a_model(schema, ceiling, unit=unit, storey_at=(500, 700, 0), storey_turn=30.0)
    write_ceilings(file, [ceiling])
    path = tmp_path / "held.ifc"
    save_model(file, path, timestamp="2000-01-01T00:00:00")
    parts = [e for e in file.by_type("IfcElement") if (e.Tag or "").split("/")[0] in WORDS]
    ours = {guid: extent(points) for guid, points in meshes(file, parts).items()}
    command = [node, "read_meshes.mjs", str(path)]
    run = subprocess.run(command, cwd=READER, capture_output=True, text=True, check=True)
    theirs = json.loads(run.stdout)
    assert len(ours) == len(parts) > 40
    for guid, box in ours.items():
        assert np.abs(np.array(theirs[guid]["box"]) - box).max() <= NEAR, file.by_guid(guid).Tag
