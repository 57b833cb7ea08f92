"""The check sheet in its four forms says the same, and what was not checked."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import pytest
from judged import room, with_hangers

from ifcgrid.checks.judge import judge_rules
from ifcgrid.checks.rule_sets import choose_sets
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.load_path import measure_loads
from ifcgrid.outputs.cautions import CAUTIONS
from ifcgrid.outputs.check_sheet import CheckedRoom, draw_check, format_check, record_check, tabulate_check


def _named(ceiling: Ceiling, key: str, number: str, name: str, storey: str) -> Ceiling:
    (own,) = ceiling.zone.rooms
    rooms = (replace(own, key=key, number=number, name=name, storey=storey),)
    return replace(ceiling, zone=replace(ceiling.zone, key=key, rooms=rooms))


def _record(*sets: str) -> dict[str, Any]:
    fine = _named(with_hangers(room(), [300, 1400, 2500, 3600, 4700, 5700]), "K1", "101", "Office", "Level 1")
    wide = _named(with_hangers(room(), [300, 1700, 3000, 4400, 5700]), "K2", "201", "=Hall <b>", "Level 2")
    chosen = choose_sets(sets)
    told = [judge_rules(c, [], chosen) for c in (fine, wide)]
    return record_check(
        model={"path": "m.ifc", "schema": "IFC4", "unit": "mm", "sha256": "0" * 64},
        judged_by=[
            {"document": f.document, "edition": f.edition, "title": f.title, "switches": dict(f.defaults)}
            for f in chosen.files
        ],
        site={},
        checked=[CheckedRoom(ceiling=c, loads=measure_loads(c)) for c in (fine, wide)],
        findings=[f for found, _ in told for f in found],
        unchecked=[u for _, rest in told for u in rest],
        outputs=["sheet.html"],
    )


@pytest.fixture(scope="module")
def record() -> dict[str, Any]:
    return _record("c636-19")


def test_there_is_one_row_a_room_and_rule(record) -> None:
    rows = [(r["room"], r["document"], r["rule"]) for r in (*record["checks"], *record["unchecked"])]
    assert len(rows) == len(set(rows))
    chosen = choose_sets(["c636-19"])
    assert {rule for _, _, rule in rows} == {rule for file in chosen.files for rule in file.rows}
    json.dumps(record, allow_nan=False)


def test_a_row_has_the_worst_verdict_and_counts_all(record) -> None:
    (row,) = [
        r
        for r in record["checks"]
        if r["room"] == "K2" and r["document"] == "ASTM C636" and r["rule"] == "hanger-spacing"
    ]
    assert row["verdict"] == "fail"
    assert row["counts"] == {"fail": 16, "unknown": 0, "pass": 0}
    assert row["value"] == pytest.approx(1400 / 304.8, abs=1e-4)
    assert row["margin"] == pytest.approx(4 - 1400 / 304.8, abs=1e-4)


def test_the_text_shows_floors_rooms_reasons_and_cautions(record) -> None:
    text = format_check(record)
    assert text.index("Level 1: 1 room") < text.index("Level 2: 1 room") < text.index("Beyond a limit")
    assert "201 =Hall <b>: 4.593 ft, limit 4, margin -0.5932" in text
    assert "ASTM C636-19 wire-wraps: wraps are not in the model: 3 turns at each end (2 rooms)" in text
    assert "wire-stress" in text[text.index("Not known") :]
    assert all(caution.text in text for caution in CAUTIONS)
    assert text.count("sheet.html") == 1


def test_the_table_has_every_row_and_no_formula(record) -> None:
    rows = list(csv.DictReader(io.StringIO(tabulate_check(record))))
    assert len(rows) == len(record["checks"]) + len(record["unchecked"])
    hall = [row for row in rows if row["number"] == "201"]
    assert {row["name"] for row in hall} == {"'=Hall <b>"}
    (spacing,) = [r for r in hall if r["rule"] == "hanger-spacing" and r["document"] == "ASTM C636"]
    assert (spacing["verdict"], spacing["limit"], spacing["unit"]) == ("fail", "4.0", "ft")
    assert {row["verdict"] for row in rows} == {"pass", "fail", "unknown", "not checked"}


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, _attrs: Any) -> None:
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def test_the_page_is_whole_and_says_what_the_record_says(record) -> None:
    reader = _Reader()
    page = draw_check(record)
    reader.feed(page)
    assert reader.open == []
    text = "\n".join(reader.text)
    assert "=Hall <b>" in text  # escaped in the page, plain to the reader
    for row in record["checks"]:
        assert row["title"] in text
        assert row["source"] in text
    for row in record["unchecked"]:
        assert row["reason"] in text
    assert all(caution.text in text for caution in CAUTIONS)
    assert "src=" not in page
    assert "http" not in page


@pytest.mark.parametrize("form", [format_check, tabulate_check, draw_check])
def test_nothing_is_called_in_order(record, form) -> None:
    text = form(record).lower()
    assert not [word for word in ("complies", "compliant", "is safe", "approved") if word in text]


def test_the_same_check_gives_the_same_bytes() -> None:
    assert draw_check(_record("e580-14-sdc-d")) == draw_check(_record("e580-14-sdc-d"))
