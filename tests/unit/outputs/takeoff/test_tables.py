"""Workbook, CSV, JSON and text: numbers are numbers, texts are never formulas."""

from __future__ import annotations

import csv
import io
import json
import shutil
import subprocess
from pathlib import Path

import pytest
from shapely import box
from take_offs import a_ceiling, a_take_off

from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.quantity import Item
from ifcgrid.outputs.takeoff.record import record_take_off
from ifcgrid.outputs.takeoff.tables import csv_text
from ifcgrid.outputs.takeoff.text import format_take_off
from ifcgrid.outputs.takeoff.workbook import A4, LETTER, workbook_bytes

openpyxl = pytest.importorskip("openpyxl", reason="the extra tables is not installed here")

EVIL = ("=1+1", "+cmd", "-2", "@SUM(A1)", "\t=1", '=HYPERLINK("x")')


def load(data: bytes, **how):
    return openpyxl.load_workbook(io.BytesIO(data), **how)


def evil_take_off():
    return a_take_off(*(a_ceiling(name, box(0, 0, 6100, 4270 + 10 * k)) for k, name in enumerate(EVIL)))


def test_no_text_of_the_model_becomes_a_formula_in_the_workbook():
    book = load(workbook_bytes(evil_take_off()))
    formulas = [c for sheet in book for row in sheet.iter_rows() for c in row if c.data_type == "f"]
    assert formulas
    assert all(str(c.value).startswith(("=SUM", "=ROUNDUP", "=I")) for c in formulas)
    names = {c.value for row in book["Rooms"].iter_rows(min_row=4) for c in row if c.data_type == "s"}
    assert {"=1+1", "+cmd", "-2", "@SUM(A1)"} <= names


def test_no_text_of_the_model_becomes_a_formula_in_the_csv():
    cells = [cell for row in csv.reader(io.StringIO(csv_text(evil_take_off()))) for cell in row]
    texts = [cell for cell in cells if not cell.replace(".", "").replace("-", "").isdigit()]
    assert "'=1+1" in texts
    assert not [cell for cell in texts if cell[:1] in "=+-@\t\r" and cell]


def test_numbers_are_numbers_and_headings_stay():
    book = load(workbook_bytes(a_take_off()))
    for sheet in book:
        assert sheet.freeze_panes == "A4"
        assert sheet.print_title_rows == "$3:$3"
        assert sheet.page_setup.paperSize in (A4, str(A4))
        assert sheet.page_setup.fitToWidth == 1
    net = book["Net quantities"]
    assert all(isinstance(row[7].value, int | float) for row in net.iter_rows(min_row=4))
    assert isinstance(book["Bars"].cell(4, 8).value, int | float)


def test_rows_are_high_enough_for_their_wrapped_texts_and_no_higher():
    """Programs that print a workbook unopened keep the heights that it states; 15 points hold one line."""
    book = load(workbook_bytes(a_take_off(a_ceiling("1", box(0, 0, 30_000, 21_000)))))
    seen = {1: 0, 2: 0}
    for sheet in book:
        for row in sheet.iter_rows(min_row=3):
            wrapped = [c for c in row if c.alignment.wrap_text and isinstance(c.value, str)]
            width = {c: sheet.column_dimensions[c.column_letter].width for c in wrapped}
            least = max((-(-len(c.value) // int(1.3 * width[c])) for c in wrapped), default=1)
            lines = (sheet.row_dimensions[row[0].row].height or 15.0) // 13
            assert least <= lines <= least + 2, (sheet.title, row[0].row)
            seen[min(lines, 2)] += 1
    assert all(seen.values())


def test_letter_goes_with_feet_and_inches():
    book = load(workbook_bytes(a_take_off(), "ft-in"))
    assert {int(sheet.page_setup.paperSize) for sheet in book} == {LETTER}
    sizes = {c.value for c in book["Net quantities"]["G"]}
    assert any("'" in str(size) for size in sizes)


def test_the_same_take_off_gives_the_same_workbook():
    assert load(workbook_bytes(a_take_off())).properties.created.year == 2000


def test_without_openpyxl_the_extra_is_named(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "openpyxl", None)
    with pytest.raises(OutputError, match=r"ifcgrid\[tables\]"):
        workbook_bytes(a_take_off())


def test_the_record_is_json_and_its_totals_are_sums_of_its_rooms():
    done = a_take_off(a_ceiling(), a_ceiling("R2"))
    record = json.loads(json.dumps(record_take_off(done), allow_nan=False))
    totals = {total["item"]: total["value"] for total in record["totals"]}
    for item in (Item.PANEL, Item.MAIN_LENGTH, Item.CEILING_AREA, Item.HANGER):
        parts = [q["value"] for room in record["rooms"] for q in room["quantities"] if q["item"] == item]
        assert totals[item] == pytest.approx(sum(parts))
    assert all(plan["gap"] == 0 for plan in record["bar_plans"])


def test_every_mark_of_the_cut_list_is_in_a_plan():
    record = record_take_off(a_take_off())
    cut = {(row["mark"], name) for row in record["cut_list"] for name in row["from"]}
    planned = {
        (part["mark"], bar["bar"])
        for plan in record["bar_plans"]
        for bar in plan["cuts"]
        for part in bar["parts"]
    }
    planned |= {
        (p["mark"], c["panel"]) for plan in record["panel_plans"] for c in plan["cuts"] for p in c["pieces"]
    }
    assert cut == planned
    assert [row["step"] for row in record["cut_list"]] == sorted(row["step"] for row in record["cut_list"])


def test_people_read_the_gap_and_a_caution():
    text = format_take_off(record_take_off(a_take_off()))
    assert "within 0.00% of its proved bound" in text
    assert "measure on site" in text


@pytest.mark.skipif(shutil.which("soffice") is None, reason="no second spreadsheet program here")
def test_a_second_program_recalculates_without_an_error(tmp_path: Path):
    done = evil_take_off()
    (tmp_path / "ours.xlsx").write_bytes(workbook_bytes(done))
    profile = (tmp_path / "profile").as_uri()
    command = [
        "soffice",
        f"-env:UserInstallation={profile}",
        "--headless",
        "--convert-to",
        "xlsx",
        "--outdir",
    ]
    run = subprocess.run(
        [*command, str(tmp_path / "again"), str(tmp_path / "ours.xlsx")],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    book = load((tmp_path / "again" / "ours.xlsx").read_bytes(), data_only=True)
    values = [c.value for sheet in book for row in sheet.iter_rows() for c in row]
    assert not [v for v in values if isinstance(v, str) and v.startswith(("#", "Err:"))]
    assert "=1+1" in values
    for row, line in enumerate(done.orders, start=4):
        cells = [book["Order list"].cell(row, column).value for column in (7, 9, 10)]
        assert cells == [line.pieces, line.packs, line.ordered]
    summary = {row[0].value: row[1].value for row in book["Summary"].iter_rows(min_row=4)}
    assert summary[Item.PANEL.value] == done.total(Item.PANEL)
    assert summary[Item.CEILING_AREA.value] == pytest.approx(done.total(Item.CEILING_AREA), abs=0.01)
