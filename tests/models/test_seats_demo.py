"""The demo's devices against the grids that are laid for them."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import ifcopenshell
import numpy as np
import pytest

from ifcgrid.cli import main

MODELS = Path(__file__).parents[2] / "models"
ARCHITECTURE = str(MODELS / "sandrell-architecture.ifc")
PLAN = MODELS / "sandrell-plan.toml"


def build(folder: Path, services: Path, plan: Path = PLAN) -> tuple[dict, list[dict]]:
    target, moves, record = folder / "out.ifc", folder / "moves.csv", folder / "out.json"
    arguments = [ARCHITECTURE, "--with", str(services), "--plan", str(plan), "-o", str(target)]
    assert main(
        ["build", *arguments, "--moves", str(moves), "--json", str(record), "--detail", "ceiling"]
    ) in (0, 1)
    with moves.open(encoding="utf-8") as stream:
        return json.loads(record.read_text(encoding="utf-8")), list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def moved(tmp_path_factory) -> tuple[dict, list[dict]]:
    """The demo with one light of room 006 pushed by (+70, -25) mm and all heads movable."""
    folder = tmp_path_factory.mktemp("seats")
    model = ifcopenshell.open(str(MODELS / "sandrell-services.ifc"))
    light = next(d for d in model.by_type("IfcLightFixture") if d.Name == "Light 006/1")
    point = light.ObjectPlacement.RelativePlacement.Location
    x, y, z = point.Coordinates
    light.ObjectPlacement.RelativePlacement.Location = model.create_entity(
        "IfcCartesianPoint", (x + 70.0, y - 25.0, z)
    )
    services = folder / "services.ifc"
    model.write(str(services))
    plan = folder / "plan.toml"
    text = PLAN.read_text(encoding="utf-8")
    plan.write_text(
        text + '\n[[devices]]\nkind = "sprinkler"\nhold = "movable"\nseat = "centre"\n', encoding="utf-8"
    )
    return build(folder, services, plan)


def test_all_lights_of_the_demo_are_on_module_but_the_planted_ones(tmp_path):
    _, rows = build(tmp_path, MODELS / "sandrell-services.ifc")
    by_name = {row["name"]: row for row in rows}
    assert set(by_name) == {"Light 001/8", "Full-inch diffuser 005/1"}
    planted = by_name["Light 001/8"]
    assert (float(planted["move_x_mm"]), float(planted["move_y_mm"])) == (-40, 0)
    assert "609.6 x 609.6 mm do not go into 600.0 x 600.0 mm" in by_name["Full-inch diffuser 005/1"]["reason"]


def test_a_light_that_was_moved_is_in_the_list_with_the_vector_back(moved):
    _, rows = moved
    (row,) = [row for row in rows if row["name"] == "Light 006/1"]
    assert (float(row["move_x_mm"]), float(row["move_y_mm"])) == pytest.approx((-70, 25), abs=0.001)


def test_heads_that_may_move_get_distinct_points_of_distinct_cells(moved):
    record, _ = moved
    for room in record["rooms"]:
        ends = [m["to_mm"] for m in room.get("moves", ()) if m["kind"] == "sprinkler" and m["to_mm"]]
        if len(ends) < 2:
            continue
        gaps = np.linalg.norm(np.array(ends)[:, None] - np.array(ends), axis=2) + np.eye(len(ends)) * 1e9
        assert gaps.min() > 250, room["number"]
    assert any(m["kind"] == "sprinkler" for room in record["rooms"] for m in room.get("moves", ()))
