"""Ceilings in real models: valid, in place, repeatable, removable."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import ifcopenshell
import numpy as np
import pytest
from written import NEAR, data, extent, meshes, messages

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.ifc.identity import global_id
from ifcgrid.ifc.project import model_from_file
from ifcgrid.ifc.writing.remove import remove_ceilings
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.pipeline.flow import Build, build

pytestmark = [
    pytest.mark.models,
    pytest.mark.filterwarnings("ignore::ResourceWarning"),  # the validator leaves its rules open
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]

MODELS = {
    "bimwhale_LargeBuilding": "IFC2X3, mm, adopts some ceilings",
    "duplex_A_20110907": "IFC2X3, metres, ceilings over several rooms",
    "gymzaal_grf005": "IFC4, mm, turned by 24 degrees",
    "pcert_ifc4x3_Building-Architecture": "IFC4X3, mm, no ceilings",
}


@pytest.fixture(scope="module", params=MODELS)
def built(request: pytest.FixtureRequest, shared_models: Path) -> tuple[str, Build]:
    """The model's text and its ceilings."""
    file = ifcopenshell.open(shared_models / f"{request.param}.ifc")
    return file.to_string(), build(model_from_file(file))


def written(built: tuple[str, Build], detail: str, found: Build | None = None) -> ifcopenshell.file:
    text, done = built[0], found or built[1]
    file = ifcopenshell.file.from_string(text)
    write_ceilings(file, done.ceilings, done.findings, detail=detail, provenance={"InputSha256": "1"})
    return file


def test_no_message_of_the_validator_is_new(built: tuple[str, Build]):
    # One detail a model: the validator takes up to ten seconds for each.
    detail = "panels" if built[1].ceilings[0].zone.rooms[0].covering is None else "grid"

    def without_ids(file: ifcopenshell.file) -> Counter[str]:
        return Counter(m.split("#")[0] for m in messages(file))

    before = without_ids(ifcopenshell.file.from_string(built[0]))
    assert without_ids(written(built, detail)) - before == Counter()


def test_a_run_over_the_output_finds_and_writes_the_same(built: tuple[str, Build]):
    once = written(built, "grid")
    again = ifcopenshell.file.from_string(once.to_string())
    done = build(model_from_file(again))
    write_ceilings(again, done.ceilings, done.findings, provenance={"InputSha256": "2"})
    assert data(again) == data(once)
    remove_ceilings(again)
    assert data(again) == data(ifcopenshell.file.from_string(built[0]))


def expected_boxes(ceiling: Ceiling) -> dict[str, np.ndarray]:
    """Key to the box (2, 3) of each member, hanger and rectangular panel, from the domain alone."""
    frame, level, system, found = ceiling.layout.frame, ceiling.zone.level, ceiling.system, {}
    members, hangers, panels = ceiling.members, ceiling.hangers, ceiling.panels

    def put(key: str, plan: Any, low: float, high: float) -> None:
        points = frame.to_world(plan)
        found[key] = np.array([[*points.min(axis=0), low], [*points.max(axis=0), high]])

    for key, role, a, b in zip(members.keys(), members.role, members.start, members.end, strict=True):
        along = (b - a) / np.hypot(*(b - a))
        left = np.array([-along[1], along[0]])
        section = {0: system.main, 3: system.angle}.get(int(role), system.tee)
        sides = (0.0, section.face) if role == Role.WALL_ANGLE else (-section.face / 2, section.face / 2)
        put(key, [p + left * s for p in (a, b) for s in sides], level, level + section.height)
    for i, key in enumerate(hangers.keys()):
        if np.isfinite(hangers.top[i]):
            put(key, [hangers.point[i]], hangers.bottom[i], hangers.top[i])
    for i, key in enumerate(panels.keys()):
        u, v, w, x = panels.bounds[i].tolist()
        if i not in panels.outlines:
            put(key, [(u, v), (w, v), (w, x), (u, x)], level, level + system.panel_thickness)
    return found


def test_every_element_is_where_the_domain_says(built: tuple[str, Build]):
    file, checked = written(built, "panels"), Counter[str]()
    for ceiling in built[1].ceilings:
        roots = {global_id(ceiling.key, k): (k, b) for k, b in expected_boxes(ceiling).items()}
        elements = [e for e in map(lambda g: by_guid(file, g), roots) if e is not None]
        seen = meshes(file, elements)
        for element in elements:
            key, expected = roots[element.GlobalId]
            # A rod's circle is a polygon in the mesh: in plan only its centre is compared.
            slack = 2.1 if key.startswith("hanger") else NEAR
            difference = np.abs(extent(seen[element.GlobalId]) - expected)
            assert difference[:, :2].max() <= slack, key
            assert difference[:, 2].max() <= NEAR, key
            checked[key.split("/")[0]] += 1
    counts = Counter(e.is_a() for e in file.by_type("IfcElement"))
    assert checked["main_runner"] > 3
    assert sum(checked[r.word] for r in Role) == sum(len(c.members) for c in built[1].ceilings)
    assert checked["panel"] <= counts["IfcBuildingElementPart"]


def by_guid(file: ifcopenshell.file, guid: str) -> Any | None:
    try:
        return file.by_guid(guid)
    except RuntimeError:
        return None


def test_nothing_that_was_there_is_changed(built: tuple[str, Build]):
    file = written(built, "grid")
    for before in ifcopenshell.file.from_string(built[0]):
        assert file.by_id(before.id()).to_string() == before.to_string()
