"""The clashes planted in the demo buildings are found, all and only they, each as one cause.

What was planted where is stated by the generator in models/expected.json.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from ifcgrid.pipeline import build_file
from ifcgrid.systems import read_system

MODELS = Path(__file__).resolve().parents[2] / "models"
BUILDINGS = json.loads((MODELS / "expected.json").read_text(encoding="utf-8"))["buildings"]

RULES = {
    "wall not in the outline": "wall-in-room",
    "column not in the outline": "column-in-room",
    "beam through the ceiling": "structure-in-ceiling",
    "no structure above": "hanger-without-structure",
    "light off module": "device-off-module",
    "light across members": "device-across-member",
    "device larger than module": "device-larger-than-module",
    "sprinkler on a tee": "sprinkler-on-member",
    "sprinkler off centre": "sprinkler-off-point",
    "devices overlap": "devices-overlap",
    "duct through the ceiling": "service-in-ceiling",
    "duct in the hanger zone": "main-without-hanger",
    "pipe in the grid's depth": "service-in-ceiling",
    "rated wall short of the slab": "rated-wall-short",
    "panels cannot be tilted in": "panel-tilt-in",
    "light with too little room above it": "fixture-depth",
    "insulation over a light": "insulation-over-light",
    "insulation in the grid's depth": "service-in-ceiling",
    "valve over a light": "device-without-access",
    "sprinkler too low": "deflector-too-low",
    "light under a sprinkler": "sprinkler-obstructed",
    "detector near supply air": "detector-near-air",
    "door head above the ceiling": "door-head-above-ceiling",
    "window head above the ceiling": "window-head-above-ceiling",
    "movement joint across the field": "joint-in-field",
    "heights disagree": "heights-disagree",
}
"""Rule by planted family."""

IN_MM = {
    "device-off-module",
    "device-larger-than-module",
    "sprinkler-on-member",
    "sprinkler-off-point",
    "devices-overlap",
    "rated-wall-short",
    "panel-tilt-in",
    "fixture-depth",
    "insulation-over-light",
    "device-without-access",
    "deflector-too-low",
    "sprinkler-obstructed",
    "detector-near-air",
    "door-head-above-ceiling",
    "window-head-above-ceiling",
    "joint-in-field",
    "heights-disagree",
}
"""Rules whose measure is the planted one; in the build-up the depth of the grid comes on top."""


WITH_VICTIMS = {"fixture-depth", "insulation-over-light", "sprinkler-obstructed", "detector-near-air"}
"""Rules that name what is in the way first, then the devices that it troubles."""


@pytest.fixture(scope="module", params=BUILDINGS, ids=lambda b: b["name"])
def judged(request, tmp_path_factory) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    building = request.param
    rooms, *others = (MODELS / name for name in building["files"])
    output = tmp_path_factory.mktemp("judged") / "out.ifc"
    record = build_file(rooms, output, others=others, system=building["system"])
    return building, record["findings"]


def planted(building: dict[str, Any]) -> list[dict[str, Any]]:
    """The planted clashes that these rules judge, in the system that the building is built with."""
    return [
        c
        for c in building["clashes"]
        if c["family"] in RULES and c.get("unless_system") != building["system"]
    ]


def answers(clash: dict[str, Any], finding: dict[str, Any]) -> bool:
    """Whether a finding is on a planted clash: the rule, and the same elements or the same room."""
    if finding["rule"] != RULES[clash["family"]]:
        return False
    if clash["elements"]:
        return set(clash["elements"]) <= set(finding["subjects"])
    return all(key.startswith(f"{clash['room']}/") for key in finding["subjects"])


def test_every_planted_clash_is_one_finding(judged):
    building, findings = judged
    for clash in planted(building):
        assert len([f for f in findings if answers(clash, f)]) == 1, clash


def test_nothing_else_is_found(judged):
    building, findings = judged
    strangers = [f for f in findings if not any(answers(c, f) for c in planted(building))]
    assert [(f["rule"], f["message"]) for f in strangers] == []


def test_what_looks_like_a_clash_and_is_none_is_not_found(judged):
    building, findings = judged
    # Devices that suffer from what is planted over or near them are named after it.
    named = {key for f in findings for key in f["subjects"][: 1 if f["rule"] in WITH_VICTIMS else None]}
    quiet = [
        c for c in building["no_clashes"] if c.get("with_system", building["system"]) == building["system"]
    ]
    assert quiet
    for entry in quiet:
        assert named.isdisjoint(entry["elements"]), entry


def test_measures_are_right_to_1_mm(judged):
    building, findings = judged
    depth = read_system(building["system"]).main.height
    checked = 0
    for clash in planted(building):
        (finding,) = (f for f in findings if answers(clash, f))
        if finding["rule"] in IN_MM:
            assert finding["value"] == pytest.approx(clash["measure_mm"], abs=1.0), clash
        elif finding["rule"].endswith("-in-ceiling"):
            rise = depth if clash["measures"].startswith("how far its underside") else 0.0
            assert finding["value"] == pytest.approx(clash["measure_mm"] + rise, abs=1.0), clash
        elif finding["rule"] == "column-in-room":
            area = len(clash["elements"]) * (clash["measure_mm"] / 1000) ** 2
            assert finding["value"] == pytest.approx(area, abs=1e-3)
        else:
            continue
        checked += 1
    assert checked >= 2


def test_only_what_may_not_stay_fails(judged):
    _, findings = judged
    told = {
        "hanger-without-structure",
        "sprinkler-off-point",
        "sprinkler-obstructed",
        "insulation-over-light",
        "heights-disagree",
    }
    assert {f["rule"] for f in findings if f["verdict"] == "unknown"} <= told
    assert {f["rule"] for f in findings if f["verdict"] == "fail"}.isdisjoint(told)
