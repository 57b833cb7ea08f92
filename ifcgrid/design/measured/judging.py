"""Measured lengths that cannot be, seen one by one before any is fitted."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ifcgrid.design.measured.network import Lengths
from ifcgrid.design.measured.outline import Outline, Span, spans_between
from ifcgrid.domain.errors import RoomError
from ifcgrid.domain.measured import SiteLength, SiteMeasures
from ifcgrid.domain.units import INCH

__all__ = ["CRITICAL", "judge_lengths", "name_of"]

CRITICAL = 3.29
"""A residual of more standard deviations is a blunder: one in a thousand honest ones would be
(W. Baarda 1968, from memory)."""

_SLIPS = {
    "metres were meant, or a unit is missing": 1000.0,
    "centimetres were meant": 10.0,
    "inches were meant": float(INCH),
    "feet were meant": 12.0 * float(INCH),
}


def judge_lengths(outline: Outline, measures: SiteMeasures, lengths: Lengths, key: str) -> None:
    """Refuses lengths far from the model's, and those longer than a way round that was measured.

    Raises:
        RoomError: with the name, what was given and what would fit; it carries the key.
    """
    _judge_each(outline, measures, lengths, key)
    _judge_sums(outline, measures, lengths, key)


def _judge_each(outline: Outline, measures: SiteMeasures, lengths: Lengths, key: str) -> None:
    """Refuses a length that is far from the model's."""
    model = lengths.at(outline.corners)
    for one, before in zip(measures.lengths, model.tolist(), strict=True):
        if abs(one.length - before) <= measures.within:
            continue
        slip = next(
            (
                words
                for words, factor in _SLIPS.items()
                for share in (factor, 1.0 / factor)
                if abs(one.length / before / share - 1.0) <= measures.within / before
            ),
            "",
        )
        raise RoomError(
            f"measured {name_of(one)}: {one.length:.1f} mm were given, the model has {before:.1f} mm, "
            f"{abs(one.length - before):.1f} mm {'less' if one.length > before else 'more'}"
            + (f"; perhaps {slip}" if slip else "")
            + f"; at most {measures.within:.0f} mm are taken for a difference on site. Measure again; where "
            f"the model is wrong by so much, say within = "
            f'"{_next_limit(abs(one.length - before)):.0f} mm" or correct the model',
            key,
        )


def _next_limit(difference: float) -> float:
    return float(np.ceil(difference / 50.0) * 50.0)


def name_of(one: SiteLength) -> str:
    """A length in words: wall A, distance AB-CD."""
    return f"wall {one.name}" if one.is_wall else f"distance {one.name}"


def _judge_sums(outline: Outline, measures: SiteMeasures, lengths: Lengths, key: str) -> None:
    """Refuses a length longer than a way round that was measured wall by wall."""
    walls = {one.name: one for one in measures.lengths if one.is_wall}
    for one, start, end in zip(measures.lengths, lengths.start.tolist(), lengths.end.tolist(), strict=True):
        ring = next(span.ring for span in outline.spans if start in (span.start, span.end))
        around = outline.on_ring(ring)
        if len(around) == 1 or end not in {span.start for span in around}:
            continue
        for way in spans_between(around, start, end):
            given = [walls.get(span.letter) for span in way]
            if one in given or None in given or len(way) < 2:
                continue
            known = [g for g in given if g is not None]
            most = sum(g.length for g in known)
            slack = CRITICAL * float(np.hypot.reduce([g.deviation for g in [one, *known]]))
            if one.length > most + slack and not any(span.is_curve for span in [*way, *_own(one, around)]):
                raise RoomError(
                    f"measured {name_of(one)}: {one.length:.1f} mm were given, but walls "
                    f"{' and '.join(g.name for g in known)} together reach only {most:.1f} mm; one of them "
                    "is wrong: measure them again",
                    key,
                )


def _own(one: SiteLength, walls: Sequence[Span]) -> list[Span]:
    return [span for span in walls if one.is_wall and span.letter == one.name]
