"""What measuring on site changed: for records, sheets, explanations and summaries.

`measured_sentences` is what a sheet prints in a block of its own; a ceiling whose
`zone.measured` is None has none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.measured import AsMeasured, LayoutBefore, MeasuredLength
from ifcgrid.outputs.setout.wall import Wall, name_walls

__all__ = ["measured_sentences", "record_measured", "summary_lines"]

Format = Callable[[float], str]

SAME = 0.05
"""Lengths in mm that differ by less print the same."""


def _changed_walls(ceiling: Ceiling, measured: AsMeasured) -> list[dict[str, Any]]:
    """Every wall with its length and border before and after."""
    now = {wall.letter: wall for wall in name_walls(ceiling)}
    before = (
        {letter: (least, most) for letter, least, most in measured.before.borders} if measured.before else {}
    )
    given = {one.name: one.given for one in measured.lengths if one.is_wall}
    return [
        {
            "wall": wall.letter,
            "model_mm": wall.before,
            "measured_mm": given.get(wall.letter),
            "used_mm": wall.after,
            "border_model_mm": before.get(wall.letter),
            "border_used_mm": _border(now.get(wall.letter)),
        }
        for wall in measured.walls
    ]


def _border(wall: Wall | None) -> tuple[float, float] | None:
    if wall is None or wall.least is None or wall.greatest is None:
        return None
    return (wall.least, wall.greatest)


def _rounded(value: Any) -> Any:
    if isinstance(value, tuple | list):
        return [_rounded(part) for part in value]
    return round(value, 3) + 0.0 if isinstance(value, float) else value


def record_measured(ceiling: Ceiling) -> dict[str, Any]:
    """The entry `measured` of a room's record: lengths with residuals, walls, panels before and after."""
    measured = ceiling.zone.measured
    if measured is None:
        return {}
    full = int(ceiling.panels.is_full.sum())
    record: dict[str, Any] = {
        "date": measured.date,
        "by": measured.by,
        "level_mm": measured.level,
        "hold": measured.hold,
        "redundancy": measured.redundancy,
        "angles_kept": measured.is_square,
        "lengths": [_record_length(one) for one in measured.lengths],
        "walls": [
            {key: _rounded(value) for key, value in wall.items()}
            for wall in _changed_walls(ceiling, measured)
        ],
        "panels": {"full": full, "cut": len(ceiling.panels) - full},
        "cells": [ceiling.layout.columns, ceiling.layout.rows],
        "notes": list(measured.notes),
    }
    if (before := measured.before) is not None:
        record["panels_model"] = {"full": before.full, "cut": before.cut}
        record["cells_model"] = [before.columns, before.rows]
        record["angle_model_deg"] = round(before.angle_deg, 6)
    return {"measured": record}


def _record_length(one: MeasuredLength) -> dict[str, Any]:
    return {
        "name": one.name,
        "model_mm": _rounded(one.before),
        "measured_mm": _rounded(one.given),
        "used_mm": _rounded(one.after),
        "residual_mm": _rounded(one.residual),
        "deviation_mm": _rounded(one.deviation),
        "redundancy": round(one.redundancy, 4),
        "standardised": None if one.standardised is None else round(one.standardised, 3),
        "set_aside": one.is_set_aside,
    }


def measured_sentences(ceiling: Ceiling, form: Format) -> list[str]:
    """What was measured and what it changed, a sentence each; `form` prints a length.

    Empty where nothing was measured.
    """
    measured = ceiling.zone.measured
    if measured is None:
        return []
    sentences = [_head(measured, form)]
    sentences += [_wall(wall, form) for wall in _changed_walls(ceiling, measured) if _is_changed(wall)]
    if measured.lengths and len(sentences) == 1:
        sentences.append("No wall and no border differs from the model.")
    if measured.before is not None:
        sentences.append(_panels(ceiling, measured.before))
    sentences += _residuals(measured, form)
    return [*sentences, *measured.notes]


def _head(measured: AsMeasured, form: Format) -> str:
    text = "Measured on site"
    if measured.date:
        text += f" on {measured.date}"
    if measured.by:
        text += f" by {measured.by}"
    what = []
    if measured.lengths:
        count = len(measured.lengths)
        what.append(f"{count} length{'s' if count > 1 else ''}")
    if measured.level is not None:
        what.append(f"level {form(measured.level)} above the floor")
    return f"{text}: {', '.join(what)}." + (
        " The outline on this sheet is adjusted to them." if measured.lengths else ""
    )


def _is_changed(wall: Mapping[str, Any]) -> bool:
    if abs(wall["used_mm"] - wall["model_mm"]) > SAME:
        return True
    before, after = wall["border_model_mm"], wall["border_used_mm"]
    return (
        before is not None
        and after is not None
        and any(not tolerance.is_equal(a, b, SAME) for a, b in zip(before, after, strict=True))
    )


def _wall(wall: Mapping[str, Any], form: Format) -> str:
    model, used = form(wall["model_mm"]), form(wall["used_mm"])
    change = wall["used_mm"] - wall["model_mm"]
    text = f"Wall {wall['wall']}: {used} as in the model"
    if model != used:
        sign = "-" if change < 0 else "+"
        text = f"Wall {wall['wall']}: {model} in the model, {used} now ({sign}{form(abs(change))})"
    before, after = wall["border_model_mm"], wall["border_used_mm"]
    if before is None or after is None:
        return f"{text}."
    old, new = _span(before, form), _span(after, form)
    return f"{text}; border {old} becomes {new}." if old != new else f"{text}; border {old} as in the model."


def _span(border: Sequence[float], form: Format) -> str:
    least, most = form(border[0]), form(border[1])
    return least if least == most else f"{least} to {most}"


def _panels(ceiling: Ceiling, before: LayoutBefore) -> str:
    layout = ceiling.layout
    full = int(ceiling.panels.is_full.sum())
    cut = len(ceiling.panels) - full
    now = f"{full} full and {cut} cut panels in {layout.columns} x {layout.rows} cells"
    is_turned = abs((layout.frame.angle_deg - before.angle_deg + 45.0) % 180.0 - 45.0) > _TURNED_DEG
    is_same = (before.full, before.cut, before.columns, before.rows) == (
        *(full, cut),
        *(layout.columns, layout.rows),
    )
    if is_same and not is_turned:
        return f"Panels are as in the model: {now}."
    text = (
        f"PANELS CHANGE: {now}, instead of {before.full} full and {before.cut} cut in "
        f"{before.columns} x {before.rows} (along x across the mains)."
    )
    if is_turned:
        text += (
            f" THE MAINS TURN: they run at {layout.frame.angle_deg:.4g} degrees to the model's X axis, not "
            f"at {before.angle_deg:.4g}."
        )
    return text


_TURNED_DEG = 30.0
"""Mains that turn by more run the other way."""


def _residuals(measured: AsMeasured, form: Format) -> list[str]:
    lines = [
        f"SET ASIDE: {_what(one)} {form(one.given)}; the others agree on {form(one.after)}. Measure it again."
        for one in measured.set_aside
    ]
    if measured.is_square and len(measured.lengths) > len(measured.set_aside):
        lines.append(
            "The model's angles are kept: all lengths used fit them within their standard deviations."
        )
    checked = [one for one in measured.lengths if one.standardised is not None]
    if not checked:
        if measured.lengths:
            lines.append("No length checks another: measure both diagonals to be sure of them.")
        return lines
    worst = max(checked, key=lambda one: abs(one.standardised or 0.0))
    return [
        *lines,
        f"{measured.redundancy} length{'s' if measured.redundancy != 1 else ''} more than the shape needs; "
        f"the one that fits the others least is {_what(worst)}, by "
        f"{abs(worst.standardised or 0.0):.1f} of its standard deviations.",
    ]


def _what(one: MeasuredLength) -> str:
    return f"wall {one.name}" if one.is_wall else f"distance {one.name}"


def summary_lines(rooms: Iterable[Mapping[str, Any]], length: Format) -> list[str]:
    """For a summary from records: one line a measured room with what changed."""
    lines = []
    for room in rooms:
        measured = room.get("measured")
        if not measured:
            continue
        moved = [w for w in measured["walls"] if abs(w["used_mm"] - w["model_mm"]) > SAME]
        text = f"  {room['number'] or room['name'] or room['key']}: "
        text += ", ".join(
            f"wall {w['wall']} {length(w['used_mm'])} (model {length(w['model_mm'])})" for w in moved[:_MOST]
        )
        text += f" and {len(moved) - _MOST} more" if len(moved) > _MOST else ""
        text += "walls as in the model" if not moved else ""
        if measured.get("panels_model") and measured["panels_model"] != measured["panels"]:
            old, new = measured["panels_model"], measured["panels"]
            text += f"; {new['full']} full and {new['cut']} cut panels, not {old['full']} and {old['cut']}"
        aside = [one["name"] for one in measured["lengths"] if one["set_aside"]]
        text += f"; set aside: {', '.join(aside)}" if aside else ""
        lines.append(text)
    return ["", "Measured on site", *lines] if lines else []


_MOST = 4
