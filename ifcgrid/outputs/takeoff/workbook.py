"""The take-off as a workbook: real numbers, formulas where a user changes an allowance, ready to print.

Texts are written as texts whatever they begin with, so a room named =1+1 stays a name.
openpyxl is an extra (`tables`) and imported here only.
"""

from __future__ import annotations

import io
import textwrap
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.quantity import Item, TakeOff
from ifcgrid.outputs.cautions import caution_texts
from ifcgrid.outputs.takeoff.tables import (
    Row,
    bar_rows,
    cost_rows,
    cut_rows,
    format_size,
    panel_rows,
    quantity_rows,
    size_cell,
)

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["workbook_bytes"]

A4, LETTER = 9, 1
"""Paper sizes as the office file format numbers them."""

_GREY, _INPUT = "D9D9D9", "FFF2CC"
_HEAD_ROW = 3
_FONT = "Calibri"
_LINE = 13.5
"""Height of a line of text in points."""

_LETTERS = 1.1
"""Letters of a sentence for each unit of a column's width, in the wide fonts that stand in for ours."""

_WIDE = 30
"""Columns at least so wide hold sentences, which are wrapped."""


class _Book:
    """A workbook in the making; every sheet gets a title, frozen headings and a print set-up."""

    def __init__(self, paper: int, foot: str) -> None:
        from openpyxl import Workbook

        self.book = Workbook()
        assert self.book.active is not None
        self.book.remove(self.book.active)
        self.paper, self.foot = paper, foot

    def sheet(self, name: str, title: str, heads: Sequence[str], widths: Sequence[float]) -> Worksheet:
        from openpyxl.styles import Alignment, Font, PatternFill
        from openpyxl.utils import get_column_letter
        from openpyxl.worksheet.properties import PageSetupProperties

        sheet: Worksheet = self.book.create_sheet(name)
        put(sheet, 1, 1, title).font = Font(name=_FONT, bold=True, size=14)
        for column, (head, width) in enumerate(zip(heads, widths, strict=True), start=1):
            cell = put(sheet, _HEAD_ROW, column, head)
            cell.font = Font(name=_FONT, bold=True)
            cell.fill = PatternFill("solid", fgColor=_GREY)
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            sheet.column_dimensions[get_column_letter(column)].width = width
        _heighten(sheet, _HEAD_ROW)
        sheet.freeze_panes = f"A{_HEAD_ROW + 1}"
        sheet.print_title_rows = f"{_HEAD_ROW}:{_HEAD_ROW}"
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.paperSize = self.paper
        sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
        sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        foot: Any = sheet.oddFooter
        foot.left.text, foot.right.text = self.foot.replace("&", "&&"), "&P / &N"
        return sheet

    def fill(self, sheet: Worksheet, rows: Iterable[Row]) -> int:
        """Rows under the headings; the number of the last one."""
        from openpyxl.styles import Alignment

        last = _HEAD_ROW
        wrapped = {k for k in range(1, sheet.max_column + 1) if _width(sheet, k) >= _WIDE}
        for last, row in enumerate(rows, start=_HEAD_ROW + 1):
            for column, value in enumerate(row, start=1):
                if value != "":
                    cell = put(sheet, last, column, value)
                    is_size = sheet.cell(_HEAD_ROW, column).value == "Size"  # one number or several
                    cell.alignment = Alignment(
                        horizontal="left" if is_size else None, wrap_text=column in wrapped, vertical="top"
                    )
            _heighten(sheet, last)
        if last > _HEAD_ROW:
            sheet.auto_filter.ref = f"A{_HEAD_ROW}:{_letter(sheet.max_column)}{last}"
        return last


def _heighten(sheet: Worksheet, row: int) -> None:
    """Makes a row as high as its wrapped texts: not every program does so when it opens a workbook."""
    lines = 1
    for cell in sheet[row]:
        if isinstance(cell.value, str) and cell.alignment.wrap_text:
            room = max(int(_width(sheet, cell.column) * _LETTERS), 1)
            lines = max(lines, len(textwrap.wrap(cell.value, room)))
    if lines > 1:
        sheet.row_dimensions[row].height = lines * _LINE


def _width(sheet: Worksheet, column: int) -> float:
    return float(sheet.column_dimensions[_letter(column)].width)


def _letter(column: int) -> str:
    from openpyxl.utils import get_column_letter

    return get_column_letter(column)


def put(sheet: Worksheet, row: int, column: int, value: str | float | int) -> Any:
    """A cell with a number, or a text that is never taken for a formula."""
    from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

    cell = sheet.cell(row, column)
    if isinstance(value, str):
        cell.value = ILLEGAL_CHARACTERS_RE.sub("?", value)
        cell.data_type = "s"
        cell.quotePrefix = value[:1] in ("=", "+", "-", "@")
    else:
        cell.value = value
    return cell


def workbook_bytes(take_off: TakeOff, units: str = "mm", *, letter: bool | None = None) -> bytes:
    """The workbook's bytes.

    Args:
        take_off: what is written.
        units: `mm` or `ft-in`.
        letter: Letter paper instead of A4; by default with feet and inches.

    Raises:
        OutputError: openpyxl is not installed.
    """
    try:
        import openpyxl  # noqa: F401 (here to be told early, and in words)
    except ImportError as error:
        raise OutputError(
            "a workbook needs the extra `tables` (openpyxl); pip install ifcgrid[tables]"
        ) from error
    is_letter = units != "mm" if letter is None else letter
    source = take_off.source
    book = _Book(LETTER if is_letter else A4, " ".join(source.get(k, "") for k in ("model", "library")))
    _summary(book, take_off, units)
    _rooms(book, take_off, units)
    _quantities(book, take_off, units)
    _orders(book, take_off, units)
    _cuts(book, take_off, units)
    if take_off.costs:
        heads = ("Storey", "Room", "Name", "System", "Mains at, degrees", "Cost", "", "Without a price")
        sheet = book.sheet(
            "Costs", "Cost by room and by way of laying it out", heads, (16, 10, 24, 20, 10, 12, 12, 50)
        )
        book.fill(sheet, cost_rows(take_off))
    _assumptions(book, take_off)
    # No clock in the file: equal take-offs give equal bytes.
    book.book.properties.created = book.book.properties.modified = datetime(2000, 1, 1)
    book.book.properties.creator = source.get("library", "ifcgrid")
    target = io.BytesIO()
    book.book.save(target)
    return target.getvalue()


def _summary(book: _Book, take_off: TakeOff, units: str) -> None:
    sheet = book.sheet(
        "Summary",
        "Take-off of suspended ceilings",
        ("What", "Quantity", "Unit", "How it is measured"),
        (34, 16, 8, 90),
    )
    totals: dict[str, tuple[float, str, str]] = {}
    for row in quantity_rows(take_off, units):
        item, value, unit, rule = str(row[5]), row[7], str(row[8]), str(row[9])
        assert not isinstance(value, str)
        totals[item] = (totals.get(item, (0.0, "", ""))[0] + value, unit, rule)
    for item in Item:
        if item.value in totals:
            # Sums are taken of the sheet of net quantities, so that both always agree.
            row_number = sheet.max_row + 1
            put(sheet, row_number, 1, item.value)
            sheet.cell(
                row_number, 2
            ).value = f"=SUMIFS('Net quantities'!H:H,'Net quantities'!F:F,A{row_number})"
            put(sheet, row_number, 3, totals[item.value][1])
            put(sheet, row_number, 4, totals[item.value][2])
    row_number = sheet.max_row + 2
    lines = [
        *(f"{key}: {value}" for key, value in take_off.source.items()),
        "",
        *caution_texts(is_short=True),
    ]
    for number, text in enumerate(lines, start=row_number):
        if text:
            put(sheet, number, 1, text)


_BY_ROOM = (
    Item.CEILING_AREA,
    Item.PERIMETER,
    Item.PANEL,
    Item.CUT_PANEL,
    Item.MAIN_RUNNER,
    Item.CROSS_TEE,
    Item.SECOND_TEE,
    Item.WALL_ANGLE,
    Item.HANGER,
    Item.LAY_IN_OPENING,
    Item.CUT_OPENING,
)


def _rooms(book: _Book, take_off: TakeOff, units: str) -> None:
    area, length = ("m2", "m") if units == "mm" else ("ft2", "ft")
    unit = {Item.CEILING_AREA: f", {area}", Item.PERIMETER: f", {length}"}
    heads = ("Storey", "Room", "Name", "System", *(i.value.capitalize() + unit.get(i, "") for i in _BY_ROOM))
    sheet = book.sheet("Rooms", "Net quantities by room", heads, (16, 10, 24, 18, *([11] * len(_BY_ROOM))))
    sums: dict[tuple[str, Item], float] = {}
    scale = {
        Item.CEILING_AREA: 1.0 if units == "mm" else 1 / 0.3048**2,
        Item.PERIMETER: 1e-3 if units == "mm" else 1 / 304.8,
    }
    for q in take_off.quantities:
        sums[q.room, q.item] = sums.get((q.room, q.item), 0.0) + q.value * scale.get(q.item, 1.0)
    rows: list[Row] = [
        (r.storey, r.number, r.name, r.system, *(round(sums.get((r.key, item), 0.0), 3) for item in _BY_ROOM))
        for r in take_off.rooms
    ]
    last = book.fill(sheet, rows)
    if rows:
        put(sheet, last + 1, 1, "All rooms")
        for column in range(5, 5 + len(_BY_ROOM)):
            letter = _letter(column)
            sheet.cell(last + 1, column).value = f"=SUM({letter}{_HEAD_ROW + 1}:{letter}{last})"


def _quantities(book: _Book, take_off: TakeOff, units: str) -> None:
    heads = ("Storey", "Room", "Name", "Zone", "System", "Item", "Size", "Net quantity", "Unit", "Rule")
    sheet = book.sheet(
        "Net quantities",
        "Net quantities, measured from geometry",
        heads,
        (16, 10, 24, 24, 18, 22, 18, 12, 7, 76),
    )
    book.fill(sheet, quantity_rows(take_off, units))


def _orders(book: _Book, take_off: TakeOff, units: str) -> None:
    from openpyxl.styles import Alignment, PatternFill

    heads = (
        *("Item", "Section or system", "Size", "Net pieces", "Pieces after cutting", "Allowance"),
        *("Pieces with allowance", "Pack", "Packs", "Order, pieces", "Rule", "Basis of allowance and pack"),
    )
    sheet = book.sheet(
        "Order list",
        "What to order; allowance and pack (yellow) may be changed here",
        heads,
        (18, 22, 18, 10, 10, 10, 11, 8, 8, 10, 60, 60),
    )
    for row, line in enumerate(take_off.orders, start=_HEAD_ROW + 1):
        values: Row = (line.item.value, line.spec, size_cell(line.size, units), line.net, line.stock)
        for column, value in enumerate(values, start=1):
            put(sheet, row, column, value)
        put(sheet, row, 6, line.allowance).number_format = "0.0%"
        put(sheet, row, 8, line.pack)
        for column in (6, 8):
            sheet.cell(row, column).fill = PatternFill("solid", fgColor=_INPUT)
        # The inner rounding keeps 100 x 1.05 from becoming 106.
        sheet.cell(row, 7).value = f"=ROUNDUP(ROUND(E{row}*(1+F{row}),6),0)"
        sheet.cell(row, 9).value = f"=ROUNDUP(G{row}/H{row},0)"
        sheet.cell(row, 10).value = f"=I{row}*H{row}"
        for column, text in ((11, line.rule), (12, line.basis)):
            put(sheet, row, column, text).alignment = Alignment(wrap_text=True, vertical="top")
        _heighten(sheet, row)


def _cuts(book: _Book, take_off: TakeOff, units: str) -> None:
    heads: tuple[str, ...] = (
        "Storey",
        "Room",
        "Name",
        "Step",
        "Mark",
        "Item",
        "Size",
        "Count",
        "Note",
        "Cut from",
    )
    sheet = book.sheet(
        "Cut list", "Cut list in the order of work", heads, (16, 10, 24, 22, 9, 16, 20, 8, 34, 40)
    )
    book.fill(sheet, cut_rows(take_off, units))
    heads = ("Scope", "Item", "Stock", "Parts", "Bars", "At least", "Gap", "Found by", "Bound by", "Notes")
    sheet = book.sheet(
        "Cutting plans", "How good each cutting plan is", heads, (22, 16, 16, 9, 9, 9, 9, 32, 28, 40)
    )
    rows: list[Row] = [
        (
            *(p.scope, p.stock.item, size_cell((p.stock.length,), units), len(p.parts), len(p.bars)),
            *(p.bound, p.gap, p.method, p.bound_basis, "; ".join(p.notes)),
        )
        for p in take_off.bar_plans
    ]
    rows += [
        (
            *(p.scope, "cut panel", format_size((p.along, p.across), units), len(p.demands), len(p.sheets)),
            *(p.bound, p.gap, p.method, "two pieces a panel", f"pattern {p.direction.value}"),
        )
        for p in take_off.panel_plans
    ]
    last = book.fill(sheet, rows)
    for row in range(_HEAD_ROW + 1, last + 1):
        sheet.cell(row, 7).number_format = "0.00%"
    heads = (
        "Scope",
        "Bar",
        "Item",
        "Stock",
        "Equal bars",
        "Room",
        "Mark",
        "Length",
        "Begins at",
        "Left over",
    )
    sheet = book.sheet("Bars", "Bars and the parts they give", heads, (16, 20, 14, 14, 8, 10, 24, 14, 14, 14))
    book.fill(sheet, bar_rows(take_off, units))
    heads = (
        "Scope",
        "System",
        "Panel",
        "Equal panels",
        "Room",
        "Mark",
        "Bounds of piece",
        "Second piece turned",
    )
    sheet = book.sheet("Cut panels", "Panels and the pieces they give", heads, (16, 18, 28, 9, 10, 9, 22, 14))
    book.fill(sheet, panel_rows(take_off, units))


def _assumptions(book: _Book, take_off: TakeOff) -> None:
    sheet = book.sheet("Assumptions", "What was assumed", ("What", "Value", "Basis"), (40, 30, 110))
    book.fill(sheet, take_off.assumptions)
