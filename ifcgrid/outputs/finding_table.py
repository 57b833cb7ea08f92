"""Findings as CSV: one line a cause, for lists and meetings."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from ifcgrid.domain.cause import cause_of
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.room import Room

__all__ = ["tabulate_findings"]

_HEAD = (
    *("cause", "severity", "trade", "verdict", "waived", "storey", "number", "name", "room", "rule"),
    *("value", "limit", "unit", "x_mm", "y_mm", "z_mm", "message", "way_out", "way_out_by", "way_out_mm"),
    *("way_out_clear", "way_out_brings", "other_ways_out", "subjects", "source", "clause"),
)

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet would take for the beginning of a formula."""


def tabulate_findings(findings: Sequence[Finding], rooms: Iterable[Room]) -> str:
    """The table, with a head line; lengths in mm, points in model coordinates."""
    known = {room.key: room for room in rooms}
    stream = io.StringIO()
    table = csv.writer(stream, lineterminator="\n")
    table.writerow(_HEAD)
    for finding in findings:
        table.writerow(map(_plain, _row(finding, known.get(finding.room))))
    return stream.getvalue()


def _plain(cell: object) -> object:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell


def _number(value: float | None) -> object:
    return "" if value is None else round(float(value), 3) + 0.0


def _row(finding: Finding, room: Room | None) -> list[object]:
    best, others = next(iter(finding.ways_out), None), finding.ways_out[1:]
    waiver = finding.waiver
    return [
        cause_of(finding),
        finding.severity.value if finding.severity else "",
        finding.trade,
        finding.verdict.value,
        f"{waiver.by}: {waiver.reason}" if waiver else "",
        *((room.storey, room.number, room.name) if room else ("", "", "")),
        finding.room,
        finding.rule,
        *(_number(finding.value), _number(finding.limit), finding.unit),
        *(map(_number, finding.point) if finding.point else ("", "", "")),
        finding.message,
        *((best.text, best.who, _number(best.amount)) if best else ("", "", "")),
        ("yes" if best.is_clear else "no") if best else "",
        "; ".join(best.brings) if best else "",
        "; ".join(way.text for way in others),
        " ".join(finding.subjects),
        finding.source,
        finding.clause,
    ]
