"""A check's record as one HTML page that prints: a table each storey, then every room and rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from typing import Any

from ifcgrid.outputs.check_sheet.floors import by_storey, floor_rows, label, numbers, title_of

__all__ = ["draw_check"]

_MARK = {
    "fail": "&#10007; beyond",
    "unknown": "? not known",
    "pass": "within",
    "not checked": "&ndash; not checked",
}
_STYLE = """
body { font: 9pt/1.35 sans-serif; margin: 12mm; color: #111; }
h1 { font-size: 14pt; margin: 0 0 2mm; } h2 { font-size: 11.5pt; margin: 6mm 0 1mm; }
h3 { font-size: 10pt; margin: 5mm 0 1mm; }
table { border-collapse: collapse; width: 100%; margin-bottom: 3mm; }
th, td { border-bottom: .2mm solid #bbb; padding: .6mm 1.2mm; text-align: left; vertical-align: top; }
th { border-bottom: .4mm solid #111; font-weight: 600; }
td.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
tr.fail td:first-child { background: #b3261e; color: #fff; font-weight: 600; }
tr.unknown td:first-child { background: #f0c24b; }
tr.pass td:first-child { background: #d7ead9; }
td:first-child { white-space: nowrap; }
small { color: #444; } tr, h3 { break-inside: avoid; } h2, h3 { break-after: avoid; }
@page { size: A4 landscape; margin: 10mm; }
@media print { body { margin: 0; } thead { display: table-header-group; } }
"""


def _cells(row: Mapping[str, Any]) -> str:
    value, limit, margin = numbers(row)
    told = row["message"].partition(": ")[2]
    return "".join(
        (
            f"<td>{escape(label(row))}</td><td>{escape(row['title'])}<br><small>{escape(told)}</small></td>",
            f'<td class="n">{value}</td><td class="n">{limit}</td><td class="n">{margin}</td>',
            f"<td>{escape(row['unit'])}</td><td>{escape(row['clause']) or '&ndash;'}</td>",
            f"<td>{escape(row['basis'])}<br><small>{escape(row['source'])}</small></td>",
        )
    )


def _table(head: Sequence[str], rows: Iterable[str]) -> str:
    cells = "".join(f"<th>{name}</th>" for name in head)
    return f"<table><thead><tr>{cells}</tr></thead><tbody>{''.join(rows)}</tbody></table>"


def _floor(record: Mapping[str, Any], rooms: Sequence[Mapping[str, Any]]) -> str:
    names = {room["key"]: title_of(room) for room in rooms}
    rows = []
    for row, count in floor_rows(record, rooms):
        value, limit, margin = numbers(row)
        counts = "".join(f'<td class="n">{count[verdict]}</td>' for verdict in ("fail", "unknown", "pass"))
        rows.append(
            f'<tr class="{row["verdict"]}"><td>{_MARK[row["verdict"]]}</td><td>{escape(label(row))}</td>'
            f"<td>{escape(row['title'])}</td>{counts}<td>{escape(names[row['room']])}</td>"
            f'<td class="n">{value}</td><td class="n">{limit}</td><td class="n">{margin}</td>'
            f"<td>{escape(row['unit'])}</td></tr>"
        )
    head = (
        "worst",
        "document",
        "rule",
        "beyond",
        "not known",
        "within",
        "worst in",
        "value",
        "limit",
        "margin",
        "unit",
    )
    return _table(head, rows)


def _room(record: Mapping[str, Any], room: Mapping[str, Any]) -> str:
    head = ("verdict", "document", "rule", "value", "limit", "margin", "unit", "clause", "basis and source")
    rows = [
        f'<tr class="{row["verdict"]}"><td>{_MARK[row["verdict"]]}</td>{_cells(row)}</tr>'
        for row in record["checks"]
        if row["room"] == room["key"]
    ]
    rows += [
        f"<tr><td>{_MARK['not checked']}</td><td>{escape(label(row))}</td><td>{escape(row['title'])}</td>"
        f'<td colspan="6">{escape(row["reason"])}</td></tr>'
        for row in record["unchecked"]
        if row["room"] == room["key"]
    ]
    loads = room["loads"]
    facts = (
        f"{room['area_m2']:.2f} m2, system {room['system']}, "
        f"ceiling weight {loads['weight_kg_per_m2']} kg/m2, "
        f"greatest hanger force {loads['greatest_hanger_n']} N"
    )
    assumed = "".join(f"<li>{escape(text)}</li>" for text in room["assumed"])
    return (
        f"<h3>{escape(title_of(room))}</h3><p>{escape(facts)}<br><small>{escape(room['key'])}</small></p>"
        f"{_table(head, rows)}<p>Assumed:</p><ul>{assumed}</ul>"
    )


def draw_check(record: Mapping[str, Any]) -> str:
    """The page; it needs no other file."""
    model = record["model"]
    files = "".join(
        f"<li>{escape(label(f))}: {escape(f['title'])}"
        + "".join(f"; {escape(k)} = {escape(v)}" for k, v in f["switches"].items())
        + "</li>"
        for f in record["judged_by"]
    )
    floors = "".join(
        f"<h2>{escape(storey)}</h2>{_floor(record, rooms)}" for storey, rooms in by_storey(record).items()
    )
    rooms = "".join(_room(record, room) for room in record["rooms"])
    cautions = "".join(
        f"<li>{escape(c['text'])} <small>({escape(c['source'])})</small></li>" for c in record["cautions"]
    )
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>Check sheet</title>'
        f"<style>{_STYLE}</style></head><body><h1>Check sheet</h1>"
        f"<p>{escape(str(model['path']))}, {escape(str(model['schema']))}, "
        f"sha256 {escape(str(model['sha256']))}</p>"
        "<p>What was measured in this model and against which document; nothing here is an approval. "
        "S: read in the named source. S2: second-hand. M: from memory, to be confirmed in the current "
        f"edition. D: arithmetic. P: choice of this project.</p><ul>{files}</ul>"
        f"{floors}<h2>Rooms</h2>{rooms}<h2>Cautions</h2><ul>{cautions}</ul></body></html>\n"
    )
