"""What a survey says, for people and for programs."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from ifcgrid.domain.points import Deviation, Survey

__all__ = ["format_survey", "record_survey"]

_MOST = 200
_MOST_NAMES = 12


def _number(value: float) -> float | None:
    return round(value, 3) + 0.0 if math.isfinite(value) else None


def record_survey(survey: Survey) -> dict[str, Any]:
    """The survey as plain types, lengths in mm; `verdict` fails with a slip or with a point beyond."""
    return {
        "verdict": "fail" if is_failed(survey) else "pass",
        "tolerance_mm": survey.within,
        "slips": list(survey.slips),
        "says": list(survey.says),
        "shift_mm": [_number(x) for x in survey.shift],
        "turn_deg": round(survey.turn_deg, 7) + 0.0,
        "centre_mm": [_number(x) for x in survey.centre],
        "station_moved": survey.is_moved,
        "rms_mm": _number(survey.rms),
        "rest_rms_mm": _number(survey.rest_rms),
        "points": [_record(point) for point in survey.points],
        "missing": list(survey.missing),
        "unknown": list(survey.unknown),
    }


def is_failed(survey: Survey) -> bool:
    """Whether something must be done: a slip, or a point farther off than the tolerance."""
    return bool(survey.slips) or not survey.points or any(point.is_beyond for point in survey.points)


def _record(point: Deviation) -> dict[str, Any]:
    return {
        "point": point.name,
        "north_mm": _number(point.north),
        "east_mm": _number(point.east),
        "up_mm": _number(point.up),
        "plan_mm": _number(math.hypot(point.north, point.east)),
        "rest_mm": [_number(x) for x in point.rest],
        "outlier": point.is_outlier,
        "beyond": point.is_beyond,
    }


def format_survey(record: Mapping[str, Any]) -> str:
    """The record of a survey for people: what is wrong first, then point by point."""
    points = record["points"]
    beyond = sum(point["beyond"] for point in points)
    lines = [
        f"{len(points)} points compared, {beyond} farther off than {record['tolerance_mm']:g} mm; "
        f"{len(record['missing'])} not measured, {len(record['unknown'])} not known"
    ]
    lines += [f"SLIP: {text}" for text in record["slips"]]
    if record["slips"]:
        lines.append("What follows is with that put right.")
    lines += [text[:1].upper() + text[1:] + "." for text in record["says"]]
    for word in ("missing", "unknown"):
        if names := record[word]:
            rest = f" and {len(names) - _MOST_NAMES} more" if len(names) > _MOST_NAMES else ""
            lines.append(f"{word.capitalize()}: {', '.join(map(_clean, names[:_MOST_NAMES]))}{rest}")
    if points:
        lines += ["", *_table(points)]
    return "\n".join(
        [
            *lines,
            "",
            "Deviations are measured less set out, in mm: how points lie, not whether work may go on.",
        ]
    )


def _clean(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)[:40]


def _cell(value: float | None) -> str:
    if value is None:
        return "-"
    text = f"{value:+.1f}"
    return "0.0" if float(text) == 0.0 else text


def _table(points: list[dict[str, Any]]) -> list[str]:
    head = ("Point", "North", "East", "Up", "Plan", "Rest N", "Rest E", "")
    rows = [
        (
            point["point"],
            *(_cell(point[key]) for key in ("north_mm", "east_mm", "up_mm")),
            f"{point['plan_mm']:.1f}",
            *(_cell(x) for x in point["rest_mm"][:2]),
            "outlier" if point["outlier"] else "beyond" if point["beyond"] else "",
        )
        for point in points[:_MOST]
    ]
    widths = [max(len(row[k]) for row in (head, *rows)) for k in range(len(head))]
    lines = [
        "  ".join(
            cell.ljust(w) if k in (0, 7) else cell.rjust(w)
            for k, (cell, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in (head, *rows)
    ]
    if len(points) > _MOST:
        lines.append(f"and {len(points) - _MOST} more: see the record")
    return lines
