"""Lengths measured on site that contradict the others."""

from __future__ import annotations

from collections.abc import Iterator

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.measured import MeasuredLength

__all__ = ["check_measured"]


def check_measured(ceiling: Ceiling) -> Iterator[Finding]:
    """One finding a length that was set aside, with what the others ask for in its place."""
    measured = ceiling.zone.measured
    for one in measured.set_aside if measured else ():
        yield Finding(
            rule="measured-length",
            source="W. Baarda, A testing procedure for use in geodetic networks, 1968 (from memory)",
            clause="standardised residual",
            verdict=Verdict.FAIL,
            room=ceiling.zone.rooms[0].key,
            subjects=(f"{ceiling.key}/measured/{one.name}",),
            message=_message(one),
            value=abs(one.residual),
            limit=_LIMIT * one.deviation,
            unit="mm",
            title="A length measured on site contradicts the others",
        )


_LIMIT = 3.29
"""Standard deviations beyond which one honest residual in a thousand lies (normal distribution)."""


def _message(one: MeasuredLength) -> str:
    what = f"wall {one.name}" if one.is_wall else f"distance {one.name}"
    way = "more" if one.residual > 0 else "less"
    return (
        f"{what} was measured as {one.given:.1f} mm; the other lengths of the room agree on "
        f"{one.after:.1f} mm, {abs(one.residual):.1f} mm {way} (the model has {one.before:.1f} mm); "
        "it was set aside: measure it again"
    )
