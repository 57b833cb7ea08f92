"""From where a grid was set out, its shifted rows and its tapering walls, for records and sheets."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.outputs.tapers import TaperedWall, find_tapers

__all__ = ["record_setting_out", "row_sentence", "taper_sentences"]

_MOST_LENGTHS = 24
"""Cut lengths that a sheet lists for one wall; the record has all."""

Format = Callable[[float], str]


def record_setting_out(ceiling: Ceiling) -> dict[str, Any]:
    """`set_out_from` in words, and where there are such: `row_shift`, `tee_offsets_mm`, `tapers`.

    A taper names its wall by ring and edge, and in order along the wall each member that
    ends there (`key`, `at_mm`, `length_mm`) and each panel (`key`, `sides_mm` towards the wall).
    """
    layout = ceiling.layout
    record: dict[str, Any] = {"set_out_from": layout.set_out_from}
    if layout.row_shift:
        record["row_shift"] = round(layout.row_shift, 9)
        record["tee_offsets_mm"] = [round(x, 3) for x in layout.row_offsets]
    if tapers := find_tapers(ceiling):
        record["tapers"] = [_record_taper(taper) for taper in tapers]
    return record


def _record_taper(taper: TaperedWall) -> dict[str, Any]:
    border = taper.border
    return {
        "ring": border.ring,
        "edge": border.edge,
        "least_mm": round(border.least, 3),
        "greatest_mm": round(border.greatest, 3),
        "members": [
            {"key": tee.key, "at_mm": round(tee.at, 3), "length_mm": round(tee.length, 3)}
            for tee in taper.tees
        ],
        "panels": [
            {
                "key": panel.key,
                "at_mm": round(panel.at, 3),
                "sides_mm": [round(panel.first, 3), round(panel.second, 3)],
            }
            for panel in taper.panels
        ],
    }


def row_sentence(ceiling: Ceiling, form: Format) -> str:
    """How the rows of panels are shifted; "" where they are not."""
    offsets = ceiling.layout.row_offsets
    if len(offsets) == 1:
        return ""
    shifts = " and ".join(form(x) for x in offsets[1:])
    return (
        "Rows are shifted: tee lines are given for the first row and every "
        f"{_ordinal(len(offsets))} after it; the rows between have theirs {shifts} further on."
    )


def _ordinal(number: int) -> str:
    return {2: "second", 3: "third"}.get(number, f"{number}th")


def taper_sentences(ceiling: Ceiling, letters: dict[tuple[int, int], str], form: Format) -> list[str]:
    """One sentence a tapering wall: the lengths that are cut to it, in order along the wall.

    `letters` names walls by ring and edge.
    """
    sentences = []
    for taper in find_tapers(ceiling):
        border = taper.border
        ring, edge = border.ring, border.edge
        count = 1 + max(b.edge for b in ceiling.layout.borders if b.ring == ring)
        before = letters.get((ring, (edge - 1) % count), "")
        text = f"Wall {letters.get((ring, edge), edge + 1)} tapers from {form(border.least)} to "
        text += f"{form(border.greatest)}. From its end at wall {before}, in order:"
        parts = []
        for role in dict.fromkeys(tee.role for tee in taper.tees):
            parts.append(f"{role}s {_listed([form(t.length) for t in taper.tees if t.role == role])}")
        if taper.panels:
            sides = [*(form(panel.first) for panel in taper.panels), form(taper.panels[-1].second)]
            parts.append(f"panel sides {_listed(sides)}")
        sentences.append(f"{text} {'; '.join(parts)}.")
    return sentences


def _listed(texts: list[str]) -> str:
    more = len(texts) - _MOST_LENGTHS
    return ", ".join(texts[:_MOST_LENGTHS]) + (f" and {more} more: see the record" if more > 0 else "")
