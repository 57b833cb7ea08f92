"""Rows of a check's record gathered by storey and rule: what a whole floor looks like."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

__all__ = ["by_storey", "floor_rows", "label", "numbers", "title_of"]

_WORST_FIRST = ("fail", "unknown", "pass")


def title_of(room: Mapping[str, Any]) -> str:
    """Number and name of a room."""
    return " ".join(filter(None, (room["number"], room["name"]))) or str(room["key"])


def label(row: Mapping[str, Any]) -> str:
    """Document and edition of a row, with the category where the document has several."""
    document, category, rest = str(row["document"]).partition(" SDC ")
    return f"{document}-{row['edition']}{category}{rest}"


def numbers(row: Mapping[str, Any]) -> tuple[str, str, str]:
    """Value, limit and margin of a row in words, "-" where there is none."""
    found = tuple("-" if row[k] is None else f"{row[k]:.4g}" for k in ("value", "limit", "margin"))
    return found[0], found[1], found[2]


def by_storey(record: Mapping[str, Any]) -> dict[str, list[Mapping[str, Any]]]:
    """Rooms by the name of their storey, in the record's order."""
    storeys: dict[str, list[Mapping[str, Any]]] = {}
    for room in record["rooms"]:
        storeys.setdefault(str(room["storey"] or "no storey"), []).append(room)
    return storeys


def _worse(row: Mapping[str, Any]) -> tuple[int, float]:
    margin = row["margin"]
    limit = abs(row["limit"] or 0) or 1.0
    return _WORST_FIRST.index(row["verdict"]), float("inf") if margin is None else margin / limit


def floor_rows(
    record: Mapping[str, Any], rooms: Iterable[Mapping[str, Any]]
) -> list[tuple[Mapping[str, Any], dict[str, int]]]:
    """For each rule the worst row of some rooms, and in how many rooms it has which verdict."""
    keys = {room["key"] for room in rooms}
    groups: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for row in record["checks"]:
        if row["room"] in keys:
            groups.setdefault((label(row), row["rule"]), []).append(row)
    return [
        (
            min(rows, key=_worse),
            {verdict: sum(r["verdict"] == verdict for r in rows) for verdict in _WORST_FIRST},
        )
        for rows in groups.values()
    ]
