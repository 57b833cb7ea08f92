"""Records as text for a terminal."""

from __future__ import annotations

from dataclasses import replace

import pytest
from handmade_ceilings import build_ceiling, rectangle

from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.room import SkippedRoom
from ifcgrid.outputs.record import record_build, record_room, record_spaces
from ifcgrid.outputs.summary import format_layout, format_spaces, format_summary

MODEL = {"path": "hall.ifc", "sha256": "ab", "schema": "IFC4", "unit": "mm"}
SHAFT = SkippedRoom(
    key="0shaft", name="Shaft", number="109", storey="Level 1", status="skipped", reason="a shaft"
)
BROKEN = replace(SHAFT, key="b", number="110", name="Store", status="failed", reason="no body")


def finding(message: str, verdict: Verdict = Verdict.FAIL) -> Finding:
    return Finding(
        rule="duct_clearance_min",
        source="common practice, no source",
        clause="",
        verdict=verdict,
        room="3vB2YO$MX4xv5uCqZZG05x",
        subjects=("a",),
        message=message,
    )


def summary(name: str = "Office", number: int = 1) -> str:
    ceilings = [build_ceiling(rectangle(6100, 4270), (350, 335), name=name)]
    findings = [finding(f"duct {k} too low") for k in range(7)] + [finding("fine", Verdict.PASS)]
    return format_summary(
        record_build(
            model=MODEL,
            ceilings=ceilings * number,
            skipped=[SHAFT, BROKEN],
            findings=findings,
            outputs=["out.ifc"],
        )
    )


def test_summary_tells_each_room_in_one_row() -> None:
    row = next(line for line in summary().splitlines() if line.startswith("101"))
    assert row.split() == [
        "101", "Office", "26.05", "2700", "covering", "*", "lay-in-600x600", "350", "335", "54", "34",
        "18", "7",
    ]  # fmt: skip


def test_columns_stand_under_each_other() -> None:
    lines = summary().splitlines()
    head = next(k for k, line in enumerate(lines) if line.startswith("Room"))
    for word in ("System", "Along"):
        at = lines[head].index(word)
        assert lines[head + 1][at - 2 : at + 1] == "  -"
        assert lines[head + 2][at - 1] == " "
        assert lines[head + 2][at] != " "


def test_summary_gives_reasons_conflicts_findings_totals_and_files() -> None:
    text = summary()
    assert "Skipped: 1\n  109 Shaft: a shaft" in text
    assert "Failed: 1\n  110 Store: no body" in text
    assert "101 Office: used 2700 (covering); finish-ceiling-height says 2800 (a quantity)" in text
    assert "top of the body" not in text  # a space modelled above its ceiling is no dispute
    assert "fail duct_clearance_min: 7  [common practice, no source]" in text
    assert "... and 2 more" in text
    assert "fine" not in text
    assert "Rooms: 1 laid-out, 1 skipped, 1 failed" in text
    assert "54 full and 34 cut panels, 18 hangers" in text
    assert text.count("out.ifc") == 1


def test_our_own_words_are_ascii_and_promise_nothing() -> None:
    text = summary()
    assert text.isascii()
    assert "safe" not in text
    assert "complies" not in text
    assert "authority having jurisdiction" in text


@pytest.mark.parametrize("name", ["\x1b[31mred", "a\nb", "a\rb", "\u202eabc", "=1+1", "<script>"])
def test_names_cannot_steer_the_terminal(name: str) -> None:
    text = summary(name)
    assert not any(ord(c) < 32 and c != "\n" for c in text)
    assert "\u202e" not in text
    assert len([line for line in text.splitlines() if line.startswith("101")]) == 1


def test_wide_and_long_names_keep_the_columns_straight() -> None:
    for name in ("会議室", "a very long name of a room that nobody would print whole"):
        lines = summary(name).splitlines()
        row = next(line for line in lines if line.startswith("101"))
        head = next(line for line in lines if line.startswith("Room"))
        wide = sum(1 for c in row if ord(c) > 0x2E7F)
        assert row.index("26.05") + wide == head.index("Area m2") + len("Area m2") - len("26.05")


def test_an_empty_record_is_a_text_all_the_same() -> None:
    assert format_summary({}).strip()
    assert "Rooms: 0 ready" in format_spaces(record_spaces(model=MODEL, rooms=[]))


def test_layout_names_the_term_on_which_the_runner_up_lost() -> None:
    text = format_layout(record_room(build_ceiling(rectangle(6100, 4270), (350, 335))))
    assert "Borders: along 350, across 335" in text
    assert "1. 0 degrees, origin -250, -265: chosen" in text
    assert "2. 0 degrees, origin 0, 0: lost on equal borders" in text
    assert "Certificate: exact, 4 layouts tried" in text


def test_spaces_show_the_height_and_where_it_stands() -> None:
    room = replace(
        build_ceiling(rectangle(6100, 4270), (350, 335)).zone.rooms[0],
        stated_area_m2=26.1,
        notes=("a column stands in it",),
    )
    text = format_spaces(record_spaces(model=MODEL, rooms=[room], skipped=[SHAFT]))
    row = next(line for line in text.splitlines() if line.startswith("101"))
    assert row.split() == ["101", "Office", "26.05", "26.10", "2700", "covering", "*", "covering", "12"]
    assert "101 Office: a column stands in it" in text
    assert "109 Shaft: a shaft" in text


def test_a_model_in_feet_is_told_in_feet() -> None:
    text = format_summary(
        record_build(
            model={**MODEL, "unit": "foot"},
            ceilings=[build_ceiling(rectangle(6100, 4270), (350, 335))],
            findings=[finding("duct 'A 51 mm' stands 51 mm low")],
        )
    )
    row = next(line for line in text.splitlines() if line.startswith("101"))
    assert "8'-10 5/16\"" in row  # 2700 mm
    assert "280.37" in row  # 26.05 m2
    assert "Area ft2" in text
    assert "m2" not in text
    assert "1'-1 3/4\"" in row  # 350 mm
    assert "duct 'A 51 mm' stands 2\" low" in text


def test_a_room_given_in_feet_is_told_as_it_was_given() -> None:
    record = record_room(build_ceiling(rectangle(6100, 4270), (350, 335)), 0)
    text = format_layout({**record, "given": "20' x 14'", "units": "ft-in"})
    assert text.startswith("Room:    20' x 14', 280.368 ft2\n")
    assert "module 1'-11 5/8\" x 1'-11 5/8\"" in text  # 600 mm
    assert "Borders: along 1'-1 3/4\", across 1'-1 3/16\"" in text
