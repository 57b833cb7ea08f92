"""Units in which rules state their numbers. What is measured is turned into them; limits never are.

Measures come in mm, mm2, N, N/mm (line loads), N/mm2 (area loads and stresses), degrees or
as bare numbers.
"""

from __future__ import annotations

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.loads import GRAVITY, POUND_N

__all__ = ["UNITS", "find_slack", "find_unit"]

_INCH, _FOOT, _METRE = 25.4, 304.8, 1000.0

UNITS: dict[str, tuple[str, float]] = {
    "mm": ("length", 1.0),
    "m": ("length", _METRE),
    "in": ("length", _INCH),
    "ft": ("length", _FOOT),
    "m2": ("area", _METRE**2),
    "ft2": ("area", _FOOT**2),
    "N": ("force", 1.0),
    "lb": ("force", POUND_N),
    "N/m": ("line load", 1 / _METRE),
    "lb/ft": ("line load", POUND_N / _FOOT),
    "N/m2": ("area load", 1 / _METRE**2),
    "kg/m2": ("area load", GRAVITY / _METRE**2),
    "psf": ("area load", POUND_N / _FOOT**2),
    "ksi": ("stress", 1000 * POUND_N / _INCH**2),
    "deg": ("angle", 1.0),
    "ratio": ("number", 1.0),
    "span/deflection": ("number", 1.0),
    "hangers": ("number", 1.0),
    "members": ("number", 1.0),
    "wires": ("number", 1.0),
    "turns": ("number", 1.0),
    "walls": ("number", 1.0),
}
"""Of each unit what it measures, and how many internal units it is."""


def find_unit(unit: str) -> tuple[str, float]:
    """What a unit measures, and how many internal units it is.

    Raises:
        SystemDataError: the unit is not known.
    """
    if unit not in UNITS:
        raise SystemDataError(f"unit {unit!r} is not known; choose one of {', '.join(UNITS)}")
    return UNITS[unit]


def find_slack(unit: str, limit: float) -> float:
    """By how much a measure may pass a limit, both in `unit`, and still count as at it."""
    kind, factor = find_unit(unit)
    least = {"length": tolerance.LENGTH, "area": tolerance.AREA}.get(kind, 0.0)
    return max(least / factor, abs(limit) * tolerance.RELATIVE)
