"""The JSON record: its keys are a contract with other programs."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
from handmade_ceilings import L2, TP1, build_ceiling, rectangle
from shapely import box

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.room import SkippedRoom, Zone
from ifcgrid.outputs.record import record_build, record_finding, record_room, record_spaces

MODEL = {"path": "hall.ifc", "sha256": "ab" * 32, "schema": "IFC4", "unit": "mm"}
SHAFT = SkippedRoom(
    key="0shaft", name="Shaft", number="9", storey="Level 1", status="skipped", reason="a shaft"
)


def finding(**kind: object) -> Finding:
    facts = {
        "rule": "duct_clearance_min",
        "source": "common practice, no source",
        "clause": "",
        "verdict": Verdict.FAIL,
        "room": "k",
        "subjects": ("a", "b"),
        "message": "too low",
        "value": math.nan,
        "limit": 0.0,
        "unit": "mm",
        "point": (1.0, 2.0, math.inf),
    }
    return Finding(**{**facts, **kind})  # type: ignore[arg-type]


def two_rooms() -> Ceiling:
    """One ceiling of 6000 x 4000 over two rooms, 3600 and 2400 long."""
    ceiling = build_ceiling(rectangle(6000, 4000), (600, 500))
    room = ceiling.zone.rooms[0]
    left = replace(room, key="left", number="10", outline=box(0, 0, 3600, 4000))
    right = replace(room, key="right", number="2", outline=box(3600, 0, 6000, 4000))
    members = ceiling.members
    panels = replace(ceiling.panels, room=(ceiling.panels.bounds[:, 0] >= 4200 - 1e-6).astype(np.int32))
    return replace(
        ceiling,
        zone=Zone(key="zone", rooms=(left, right), outline=ceiling.zone.outline, level=2700.0),
        panels=panels,
        members=replace(members, room=(members.start[:, 0] > 4200).astype(np.int32)),
        hangers=replace(ceiling.hangers, room=(ceiling.hangers.point[:, 0] > 4200).astype(np.int32)),
    )


def test_a_room_has_exactly_the_keys_that_the_contract_names_and_more() -> None:
    record = record_room(build_ceiling(rectangle(6100, 4270), (350, 335)))
    assert {
        "key", "name", "number", "storey", "status", "reason", "height", "system", "area_m2",
        "angle_deg", "origin_mm", "borders_mm", "certificate", "panels", "members", "hangers",
    } <= set(record)  # fmt: skip
    assert {"value_mm", "source", "conflicts"} <= set(record["height"])


def test_the_metric_room_has_its_known_borders_and_counts() -> None:
    # 6100 x 4270 mm at 600, mains at 1200 (derived): borders 350 and 335; 54 full and 34 cut
    # panels; 3 mains, 40 cross tees, 44 second-rank tees; 26.047 m2.
    record = record_room(build_ceiling(rectangle(6100, 4270), (350, 335)))
    assert record["borders_mm"]["along"] == [350.0, 350.0]
    assert record["borders_mm"]["across"] == [335.0, 335.0]
    assert record["panels"] == {"full": 54, "cut": 34}
    assert record["members"] == {
        "main_runner": 3, "cross_tee": 40, "second_tee": 44, "wall_angle": 4,
    }  # fmt: skip
    assert record["area_m2"] == pytest.approx(26.047)
    assert record["origin_mm"] == [-250.0, -265.0]


def test_borders_are_those_at_the_ends_of_the_axes_and_along_every_wall() -> None:
    # L-room, offsets 13 and 15 in (derived): strips x 13, 13, 21; y 15, 15, 17.
    record = record_room(build_ceiling(L2, (13 * 25.4, 15 * 25.4), system="lay-in-2x2-ft"))
    assert record["borders_mm"]["along"] == pytest.approx([13 * 25.4, 21 * 25.4], abs=1e-3)
    assert record["borders_mm"]["across"] == pytest.approx([15 * 25.4, 17 * 25.4], abs=1e-3)
    walls = record["borders_mm"]["walls"]
    assert len(walls) == 6
    assert sorted(w["least_mm"] for w in walls if w["axis"] == "u") == pytest.approx(
        [13 * 25.4, 13 * 25.4, 21 * 25.4], abs=1e-3
    )
    assert sum(w["length_mm"] for w in walls) == pytest.approx(75 * 304.8, abs=1e-2)


def test_a_room_that_no_line_crosses_has_its_own_width_as_both_borders() -> None:
    record = record_room(build_ceiling(rectangle(500, 420), (500, 420)))
    assert record["borders_mm"]["along"] == [500.0, 500.0]
    assert record["borders_mm"]["across"] == [420.0, 420.0]


def test_an_exact_fit_has_full_panels_as_borders() -> None:
    record = record_room(build_ceiling(rectangle(3600, 2400), (600, 600)))
    assert record["borders_mm"]["along"] == [600.0, 600.0]
    assert record["panels"] == {"full": 24, "cut": 0}


def test_rooms_under_one_ceiling_share_its_pieces_and_name_the_zone() -> None:
    ceiling = two_rooms()
    left, right = record_room(ceiling, 0), record_room(ceiling, 1)
    assert left["zone"] == right["zone"] == "zone"
    assert left["panels"]["full"] + right["panels"]["full"] == int(ceiling.panels.is_full.sum())
    assert left["hangers"] + right["hangers"] == len(ceiling.hangers)
    assert sum(left["members"].values()) + sum(right["members"].values()) == len(ceiling.members)
    assert right["panels"]["full"] > 0
    assert [w["edge"] for w in left["borders_mm"]["walls"]] != [
        w["edge"] for w in right["borders_mm"]["walls"]
    ]
    assert "zone" not in record_room(build_ceiling(rectangle(3600, 2400), (600, 600)))


def test_a_build_adds_up_its_rooms_and_sorts_them_as_people_count() -> None:
    record = record_build(
        model=MODEL, ceilings=[two_rooms()], skipped=[SHAFT], findings=[finding()], outputs=["a.ifc"]
    )
    assert [room["number"] for room in record["rooms"]] == ["2", "9", "10"]
    assert [room["status"] for room in record["rooms"]] == ["laid-out", "skipped", "laid-out"]
    totals = record["totals"]
    assert totals["rooms"] == {"laid-out": 2, "skipped": 1, "failed": 0}
    assert totals["area_m2"] == pytest.approx(24.0)
    assert totals["findings"] == {"pass": 0, "fail": 1, "unknown": 0}
    assert totals["hangers"] == sum(room["hangers"] for room in record["rooms"])
    assert record["outputs"] == ["a.ifc"]
    assert record["model"] == MODEL


def test_every_record_survives_strict_json_unchanged() -> None:
    ceiling = build_ceiling(TP1, (212.5, 300), angle_deg=17)
    odd = {**MODEL, "rooms": np.int64(3), "scale": np.float64("nan"), "when": (1, 2)}
    record = record_build(model=odd, ceilings=[ceiling], skipped=[SHAFT], findings=[finding()])
    text = json.dumps(record, allow_nan=False)
    assert json.loads(text) == record
    assert record["model"]["scale"] is None
    assert record["findings"][0]["value"] is None
    assert record["findings"][0]["point_mm"] == [1.0, 2.0, None]


def test_numbers_are_rounded_and_zero_has_no_sign() -> None:
    record = record_finding(finding(value=-0.00001, limit=1.23456789))
    assert (record["value"], record["limit"]) == (0.0, 1.235)
    assert math.copysign(1.0, record["value"]) == 1.0


def test_height_conflicts_are_kept_with_their_place() -> None:
    record = record_room(build_ceiling(rectangle(3600, 2400), (600, 600)))
    assert record["height"]["value_mm"] == 2700.0
    assert record["height"]["source"] == "covering"
    quantity = {"source": "finish-ceiling-height", "value_mm": 2800.0, "where": "a quantity"}
    body = {"source": "body", "value_mm": 3000.0, "where": "top of the body"}
    assert record["height"]["conflicts"] == [quantity, body]
    assert record["height"]["disputes"] == [quantity]


def test_spaces_are_listed_with_outline_and_every_height() -> None:
    room = build_ceiling(rectangle(3600, 2400), (600, 600)).zone.rooms[0]
    record = record_spaces(model=MODEL, rooms=[room], skipped=[SHAFT])
    ready = next(r for r in record["rooms"] if r["status"] == "ready")
    assert ready["area_m2"] == pytest.approx(8.64)
    assert [c["source"] for c in ready["candidates"]] == ["covering", "finish-ceiling-height", "body"]
    assert len(ready["outline_mm"][0]) == 5
    assert record["totals"]["rooms"] == {"ready": 1, "skipped": 1, "failed": 0}
    json.dumps(record, allow_nan=False)
