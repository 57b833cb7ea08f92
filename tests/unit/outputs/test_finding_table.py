"""Findings as rows and records: what they say, and that no cell is taken for a formula."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

from handmade_ceilings import build_ceiling, rectangle

from ifcgrid.domain.cause import cause_of
from ifcgrid.domain.finding import Finding, Severity, Verdict
from ifcgrid.domain.waiver import Waiver
from ifcgrid.domain.way_out import Change, Step, WayKind, WayOut
from ifcgrid.outputs.finding_table import tabulate_findings
from ifcgrid.outputs.record import record_finding

ROOM = build_ceiling(rectangle(6100, 4270), (350, 335), name="=Office").zone.rooms[0]
WAY = WayOut(
    kind=WayKind.SHIFT_GRID,
    text="shift the grid by (+40, +0) mm",
    who="Ceilings",
    amount=40.0,
    steps=(Step(key=ROOM.key, vector=(40.0, -0.0, 0.0)),),
    is_clear=False,
    brings=("a light stands off the module",),
    changes=(Change(what="narrowest border", before=350.0, after=310.0),),
    limits=("borders were measured",),
)
FOUND = Finding(
    rule="device-off-module",
    source="common practice, no source",
    clause="",
    verdict=Verdict.FAIL,
    room=ROOM.key,
    subjects=("2O2Fr$t4X7Zf8NOew3FL9r",),
    message="light stands 40 mm off",
    value=40.0,
    limit=3.0,
    unit="mm",
    point=(-1.0, 2.0, 3.0),
    severity=Severity.LOW,
    trade="Lighting",
    ways_out=(WAY,),
)


def rows(*findings: Finding) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(tabulate_findings(findings, [ROOM]))))


def test_a_row_says_all_that_matters_of_a_cause():
    (row,) = rows(FOUND)
    assert row["cause"] == cause_of(FOUND)
    assert (row["severity"], row["trade"], row["verdict"]) == ("low", "Lighting", "fail")
    assert (row["storey"], row["number"]) == (ROOM.storey, ROOM.number)
    assert (row["value"], row["x_mm"]) == ("40.0", "-1.0")
    assert (row["way_out"], row["way_out_clear"]) == (WAY.text, "no")
    assert row["way_out_brings"] == WAY.brings[0]


def test_names_that_look_like_formulas_are_text():
    (row,) = rows(replace(FOUND, message='=HYPERLINK("http://x")', trade="+1"))
    assert row["name"] == "'=Office"
    assert row["message"] == '\'=HYPERLINK("http://x")'
    assert row["trade"] == "'+1"


def test_a_waiver_is_told_with_its_name_and_reason():
    waiver = Waiver(reason="refit", by="A. Person", where="plan")
    (row,) = rows(replace(FOUND, waiver=waiver))
    assert row["waived"] == "A. Person: refit"
    record = record_finding(replace(FOUND, waiver=waiver))
    assert record["waiver"] == {"reason": "refit", "by": "A. Person", "until": None, "where": "plan"}


def test_the_record_holds_the_way_out_as_data():
    record = json.loads(json.dumps(record_finding(FOUND)))
    (way,) = record["ways_out"]
    assert record["cause"] == cause_of(FOUND)
    assert way["kind"] == "shift the grid"
    assert way["steps"] == [{"key": ROOM.key, "vector_mm": [40.0, 0.0, 0.0], "turn_deg": 0.0}]
    assert way["changes"] == [{"what": "narrowest border", "before": 350.0, "after": 310.0, "unit": "mm"}]
    assert (way["is_clear"], way["brings"], way["limits"]) == (False, list(WAY.brings), list(WAY.limits))


def test_a_finding_that_was_not_graded_says_no_more_than_before():
    bare = record_finding(replace(FOUND, severity=None, ways_out=()))
    assert not {"cause", "severity", "trade", "ways_out", "waiver"} & set(bare)
