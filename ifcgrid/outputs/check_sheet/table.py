"""A check's record as CSV: one line a room and rule, also for what was not checked."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

__all__ = ["tabulate_check"]

_HEAD = (
    *("storey", "number", "name", "room", "document", "edition", "rule", "title", "clause", "verdict"),
    *("value", "limit", "margin", "unit", "things_fail", "things_unknown", "things_pass", "basis", "source"),
    *("message", "subjects"),
)


def _plain(text: object) -> object:
    """A cell that a spreadsheet does not take for a formula."""
    return f"'{text}" if isinstance(text, str) and text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def tabulate_check(record: Mapping[str, Any]) -> str:
    """The table, with a head line; values in the unit of their rule."""
    rooms = {room["key"]: room for room in record["rooms"]}
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(_HEAD)
    for row in (*record["checks"], *record["unchecked"]):
        room = rooms[row["room"]]
        counts = row.get("counts", {})
        writer.writerow(
            _plain(cell)
            for cell in (
                *(room["storey"], room["number"], room["name"], room["key"]),
                *(row[k] for k in ("document", "edition", "rule", "title", "clause", "verdict")),
                *("" if row.get(k) is None else row[k] for k in ("value", "limit", "margin", "unit")),
                *(counts.get(k, "") for k in ("fail", "unknown", "pass")),
                *(row.get("basis", ""), row.get("source", "")),
                *(row.get("message") or row.get("reason", ""), " ".join(row.get("subjects", ()))),
            )
        )
    return stream.getvalue()
