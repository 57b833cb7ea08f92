"""The demo models: reproducible, valid, and holding what expected.json says they hold.

Geometry is read back with ifcopenshell's kernel and measured with shapely, so the
generator's own arithmetic does not vouch for itself.
"""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import ifcopenshell.util.unit
import ifcopenshell.validate
import numpy as np
import pytest
import shapely
from shapely import Polygon, affinity

ROOT = Path(__file__).resolve().parents[3]
MODELS = ROOT / "models"
EXPECTED: dict[str, Any] = json.loads((MODELS / "expected.json").read_text(encoding="utf-8"))
LIBRARY, GATEHOUSE = EXPECTED["buildings"]
FILES = [name for building in EXPECTED["buildings"] for name in building["files"]]
GRID_DEPTH = 38.0
"""Overall height of the default system's main runner: ifcgrid/systems/lay-in-600x600.toml."""

FAMILIES = {
    "beam through the ceiling",
    "detector near supply air",
    "door head above the ceiling",
    "heights disagree",
    "insulation in the grid's depth",
    "insulation over a light",
    "light under a sprinkler",
    "light with too little room above it",
    "movement joint across the field",
    "panels cannot be tilted in",
    "sprinkler too low",
    "valve over a light",
    "window head above the ceiling",
    "column not in the outline",
    "device larger than module",
    "devices overlap",
    "duct in the hanger zone",
    "duct through the ceiling",
    "light across members",
    "light off module",
    "no structure above",
    "pipe in the grid's depth",
    "rated wall short of the slab",
    "sprinkler off centre",
    "sprinkler on a tee",
    "wall not in the outline",
}


@dataclass(frozen=True, slots=True)
class Solid:
    """One product as the kernel sees it: plan silhouette, lowest and highest z, in mm."""

    element: Any
    plan: Any
    bottom: float
    top: float


def read_solids(path: Path) -> dict[str, Solid]:
    model = ifcopenshell.open(str(path))
    settings = ifcopenshell.geom.settings()
    settings.set("use-world-coords", True)
    iterator = ifcopenshell.geom.iterator(settings, model, 1)
    found: dict[str, Solid] = {}
    more = iterator.initialize()
    while more:
        shape = iterator.get()
        points = np.array(shape.geometry.verts).reshape(-1, 3) * 1000
        corners = points[np.array(shape.geometry.faces).reshape(-1, 3)]
        triangles = shapely.polygons(corners[:, :, :2])
        flat = triangles[shapely.area(triangles) > 1e-3]
        plan = shapely.union_all(flat, grid_size=1e-3)
        found[shape.guid] = Solid(model.by_guid(shape.guid), plan, points[:, 2].min(), points[:, 2].max())
        more = iterator.next()
    found["model"] = model  # type: ignore[assignment]  # kept alive: entities die with their file
    return found


@pytest.fixture(scope="module")
def solids() -> dict[str, dict[str, Solid]]:
    """Solids of each building by GlobalId, over all its files."""
    merged: dict[str, dict[str, Solid]] = {}
    for building in EXPECTED["buildings"]:
        found = merged.setdefault(building["name"], {})
        for name in building["files"]:
            solids = read_solids(MODELS / name)
            found[f"model {name}"] = solids.pop("model")
            found |= solids
    return merged


def products(found: dict[str, Solid], *classes: str) -> list[Solid]:
    return [s for s in found.values() if isinstance(s, Solid) and any(s.element.is_a(c) for c in classes)]


def laid_out(building: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {k: r for k, r in building["rooms"].items() if r["status"] == "laid-out"}


def test_the_stored_files_are_what_the_generator_makes_now(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(ROOT / "scripts"))
    import make_models  # type: ignore[import-not-found,unused-ignore]

    paths = make_models.make_models(tmp_path)
    for name in [m for m in sys.modules if m == "make_models" or m.startswith("demo_building")]:
        del sys.modules[name]
    different = [p.name for p in paths if p.read_bytes() != (MODELS / p.name).read_bytes()]
    assert different == [], "run python scripts/make_models.py and store what it writes"


@pytest.mark.filterwarnings("ignore:unclosed file:ResourceWarning")  # the validator leaves its rules open
@pytest.mark.parametrize("name", FILES)
def test_each_file_is_valid_by_schema_and_express_rules(name: str) -> None:
    logger = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(ifcopenshell.open(str(MODELS / name)), logger, express_rules=True)
    assert logger.statements == []


def test_the_building_has_about_forty_rooms_that_get_a_ceiling() -> None:
    assert 38 <= len(laid_out(LIBRARY)) <= 44
    assert 4 <= len(laid_out(GATEHOUSE)) <= 6


def test_every_family_of_clash_is_planted() -> None:
    assert {c["family"] for c in LIBRARY["clashes"]} == FAMILIES


@pytest.mark.parametrize("building", EXPECTED["buildings"], ids=lambda b: b["name"])
def test_every_space_is_stated_and_every_stated_element_exists(
    building: dict[str, Any], solids: dict[str, dict[str, Solid]]
) -> None:
    found = solids[building["name"]]
    model: Any = found[f"model {building['files'][0]}"]
    assert {s.GlobalId for s in model.by_type("IfcSpace")} == set(building["rooms"])
    for entry in building["clashes"] + building["no_clashes"]:
        assert entry["room"] in building["rooms"]
        for guid, name in zip(entry["elements"], entry["names"], strict=True):
            assert found[guid].element.Name == name


@pytest.mark.parametrize("building", EXPECTED["buildings"], ids=lambda b: b["name"])
def test_bodies_have_the_stated_areas_and_floors(
    building: dict[str, Any], solids: dict[str, dict[str, Solid]]
) -> None:
    for guid, room in building["rooms"].items():
        if room["body"] == "none":
            assert guid not in solids[building["name"]]
            continue
        solid = solids[building["name"]][guid]
        # The kernel draws the half circle of 031 as a polygon, which takes off a little.
        assert solid.plan.area / 1e6 == pytest.approx(room["area_m2"], rel=3e-3), room["number"]
        assert solid.bottom == pytest.approx(room["floor_mm"], abs=1e-6)
        if room["status"] == "laid-out":
            assert solid.top >= room["level_mm"] - 1e-6 or room["height_source"] == "covering"


def test_rooms_overlap_only_where_a_room_was_drawn_twice(solids: dict[str, dict[str, Solid]]) -> None:
    spaces = products(solids[LIBRARY["name"]], "IfcSpace")
    overlaps = {
        frozenset((a.element.GlobalId, b.element.GlobalId))
        for a, b in combinations(spaces, 2)
        if min(a.top, b.top) - max(a.bottom, b.bottom) > 1 and a.plan.intersection(b.plan).area > 100
    }
    twice = {frozenset((k, r["duplicate_of"])) for k, r in LIBRARY["rooms"].items() if "duplicate_of" in r}
    assert len(twice) == 1
    assert overlaps == twice


def test_the_ceiling_level_of_covered_rooms_is_the_underside_of_what_was_drawn(
    solids: dict[str, dict[str, Solid]],
) -> None:
    covered = [r for r in LIBRARY["rooms"].values() if "covering" in r]
    assert len(covered) == 6
    for room in covered:
        assert solids[LIBRARY["name"]][room["covering"]].bottom == pytest.approx(room["level_mm"], abs=1e-6)


def offsets_from_module(building: dict[str, Any], room_guid: str, plan: Polygon) -> tuple[float, float]:
    """How far a device's middle lies from the middle of the nearest cell, per axis, in mm."""
    grid = next((z for z in building["zones"] if room_guid in z["rooms"]), building["rooms"][room_guid])
    local = affinity.rotate(plan.envelope if grid["angle_deg"] == 0 else plan, -grid["angle_deg"], (0, 0))
    corner = affinity.rotate(shapely.Point(grid["corner_mm"]), -grid["angle_deg"], (0, 0))
    low_x, low_y, high_x, high_y = local.bounds
    module, offsets = grid["module_mm"], []
    for middle, start, border in (
        ((low_x + high_x) / 2, corner.x, grid["borders_mm"][0]),
        ((low_y + high_y) / 2, corner.y, grid["borders_mm"][1]),
    ):
        cells = (middle - start - border) / module - 0.5
        offsets.append((cells - round(cells)) * module)
    return offsets[0], offsets[1]


@pytest.mark.parametrize("building", EXPECTED["buildings"], ids=lambda b: b["name"])
def test_devices_stand_on_module_but_for_the_planted_ones(
    building: dict[str, Any], solids: dict[str, dict[str, Solid]]
) -> None:
    found, seen = solids[building["name"]], 0
    for entry in building["no_clashes"]:
        if entry["family"] != "device on module" or "with_system" in entry:
            continue
        for guid in entry["elements"]:
            seen += 1
            assert offsets_from_module(building, entry["room"], found[guid].plan) == pytest.approx(
                (0, 0), abs=0.02
            )
            level = building["rooms"][entry["room"]]["level_mm"]
            assert found[guid].bottom - 1e-6 <= level <= found[guid].top + 1e-6
    assert seen > 7
    for entry in building["clashes"]:
        if entry["family"] in {"light off module", "sprinkler off centre"}:
            u, v = offsets_from_module(building, entry["room"], found[entry["elements"][0]].plan)
            assert abs(u) == pytest.approx(entry["measure_mm"], abs=0.02)
            assert v == pytest.approx(0, abs=0.02)


def test_a_borders_pair_and_its_full_cells_fill_the_field() -> None:
    for room in [r for b in EXPECTED["buildings"] for r in b["rooms"].values() if "field_mm" in r]:
        for side, border in zip(room["field_mm"], room["borders_mm"], strict=True):
            full = (side - 2 * border) / room["module_mm"]
            assert full == pytest.approx(round(full), abs=1e-6) or border == side < room["module_mm"]
            assert border == side or room["module_mm"] / 2 <= border <= room["module_mm"] + 1e-6


@pytest.mark.parametrize("building", EXPECTED["buildings"], ids=lambda b: b["name"])
def test_only_planted_runs_and_beams_reach_into_a_ceiling(
    building: dict[str, Any], solids: dict[str, dict[str, Solid]]
) -> None:
    found = solids[building["name"]]
    runs = products(
        found,
        "IfcDuctSegment",
        "IfcPipeSegment",
        "IfcCableCarrierSegment",
        "IfcBeam",
        "IfcFlowSegment",
        "IfcSlab",
    )
    reaching = {}
    for guid, room in laid_out(building).items():
        for solid in runs:
            in_depth = solid.bottom < room["level_mm"] + GRID_DEPTH and solid.top > room["level_mm"]
            if in_depth and solid.plan.intersection(found[guid].plan).area > 1:
                reaching[room["number"], solid.element.Name] = room["level_mm"] - solid.bottom
    planted = {
        (c["number"], c["names"][0]): c["measure_mm"]
        for c in building["clashes"]
        if c["measures"].startswith("how far its underside")
    }
    # Only the box of a falling duct reaches into a ceiling: it falls outside the room.
    falling = {name for c in building["clashes"] for name in c["names"] if "its box" in c["measures"]}
    reaching = {place: depth for place, depth in reaching.items() if place[1] not in falling}
    assert reaching == pytest.approx(planted, abs=0.5)


def test_only_planted_devices_overlap(solids: dict[str, dict[str, Solid]]) -> None:
    found = solids[LIBRARY["name"]]
    devices = products(found, "IfcLightFixture", "IfcAirTerminal", "IfcFireSuppressionTerminal", "IfcSensor")
    overlaps = {
        frozenset((a.element.Name, b.element.Name))
        for a, b in combinations(devices, 2)
        if min(a.top, b.top) > max(a.bottom, b.bottom) and a.plan.intersection(b.plan).area > 1
    }
    planted = {frozenset(c["names"]) for c in LIBRARY["clashes"] if c["family"] == "devices overlap"}
    assert overlaps == planted


def test_only_planted_columns_and_walls_stand_in_a_room_through_its_ceiling(
    solids: dict[str, dict[str, Solid]],
) -> None:
    found = solids[LIBRARY["name"]]
    standing = set()
    for guid, room in laid_out(LIBRARY).items():
        for solid in products(found, "IfcWall", "IfcColumn"):
            if (
                solid.bottom < room["level_mm"] < solid.top - 1
                and solid.plan.intersection(found[guid].plan).area > 100
            ):
                standing.add((room["number"], solid.element.Name))
    planted = {
        (c["number"], name)
        for c in LIBRARY["clashes"]
        if c["family"] in {"wall not in the outline", "column not in the outline"}
        for name in c["names"]
    }
    seam = next(c for c in LIBRARY["no_clashes"] if c["family"] == "wall on the seam")["names"][0]
    assert standing == planted | {("006", seam), ("007", seam)}


def test_there_is_structure_over_every_room_but_the_one_with_the_glass_roof(
    solids: dict[str, dict[str, Solid]],
) -> None:
    found = solids[LIBRARY["name"]]
    slabs = products(found, "IfcSlab")
    bare = set()
    for guid, room in laid_out(LIBRARY).items():
        above = [s.plan for s in slabs if s.bottom > room["level_mm"] - 1]
        if not shapely.union_all(above).buffer(1).covers(found[guid].plan):
            bare.add(room["number"])
    assert bare == {c["number"] for c in LIBRARY["clashes"] if c["family"] == "no structure above"}


def test_bodies_are_modelled_in_every_usual_way(solids: dict[str, dict[str, Solid]]) -> None:
    model: Any = solids[LIBRARY["name"]]["model sandrell-architecture.ifc"]
    for entity in (
        "IfcExtrudedAreaSolid",
        "IfcFacetedBrep",
        "IfcPolygonalFaceSet",
        "IfcTriangulatedFaceSet",
        "IfcBooleanClippingResult",
    ):
        spaces = {
            space.Name
            for space in model.by_type("IfcSpace")
            if space.Representation and space.Representation.Representations[0].Items[0].is_a(entity)
        }
        assert spaces, entity
    segments = [s for curve in model.by_type("IfcIndexedPolyCurve") for s in curve.Segments or ()]
    assert any(s.is_a("IfcArcIndex") for s in segments), "the round end is a true arc"


def test_the_gatehouse_mixes_feet_and_metres(solids: dict[str, dict[str, Solid]]) -> None:
    for name, millimetres in (("gatehouse.ifc", 304.8), ("gatehouse-services.ifc", 1000.0)):
        model: Any = solids[GATEHOUSE["name"]][f"model {name}"]
        assert model.schema == "IFC2X3"
        unit = ifcopenshell.util.unit.calculate_unit_scale(model) * 1000
        assert unit == pytest.approx(millimetres, rel=1e-12)
