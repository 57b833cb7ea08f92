"""Printed lengths: rounded once each from the exact value, never added up from rounded ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import floor

from ifcgrid.domain.errors import UnitError
from ifcgrid.domain.units import INCH, format_feet_inches, in_feet_and_inches

__all__ = [
    "FRACTIONS",
    "UNITS",
    "Run",
    "format_length",
    "format_residual",
    "fraction_of",
    "is_metric",
    "round_length",
    "run_dimensions",
    "told",
    "unbroken",
]

UNITS = ("mm", "ft-in")
"""Ways in which lengths may be printed: whole millimetres, or feet, inches and sixteenths.

"ft-in/8" is feet and inches to eighths, and so on for all `FRACTIONS`.
"""

FRACTIONS = (2, 4, 8, 16, 32)
"""Denominators of the finest fraction of an inch that may be chosen."""

_USUAL_FRACTION = 16
"""Borders and first lines are set out to 1/16 in (common practice, no source)."""

_FINE = 64


def fraction_of(units: str) -> int:
    """The denominator of the finest fraction of an inch that `units` prints; 1 for millimetres.

    Raises:
        UnitError: units is none of `UNITS`, or its fraction none of `FRACTIONS`.
    """
    name, _, part = units.partition("/")
    if name not in UNITS or (part and name == "mm"):
        raise UnitError(f"units {units!r}: choose one of {', '.join(UNITS)}")
    if part and part not in map(str, FRACTIONS):
        raise UnitError(f"fraction 1/{part} in: choose one of {', '.join(f'1/{n}' for n in FRACTIONS)}")
    return 1 if name == "mm" else int(part or _USUAL_FRACTION)


def is_metric(units: str) -> bool:
    """Whether lengths are printed in millimetres.

    Raises:
        UnitError: units is none of `UNITS`.
    """
    return fraction_of(units) == 1


def _step(units: str) -> Fraction:
    """The step that is printed, in mm: 1 mm or the fraction of an inch (common practice, no source)."""
    part = fraction_of(units)
    return Fraction(1) if part == 1 else INCH / part


@lru_cache(maxsize=1 << 14)  # a hall has thousands of equal pieces
def _steps(length: float, units: str) -> int:
    # A float of millimetres is within 1e-9 of the fraction that was meant; snap to it first.
    exact = (Fraction(length) / _step(units)).limit_denominator(1 << 16)
    return floor(exact + Fraction(1, 2)) if exact >= 0 else -floor(-exact + Fraction(1, 2))


def round_length(length: float, units: str) -> float:
    """The length in mm as it is printed; halves go away from zero.

    Raises:
        UnitError: units is not one of `UNITS`.
    """
    return float(_steps(length, units) * _step(units))


def format_length(length: float, units: str) -> str:
    r"""The length in mm as text: bare millimetres, or feet and inches to the fraction.

    >>> format_length(934.6, "mm"), format_length(1040.60625, "ft-in"), format_length(38.1, "ft-in/2")
    ('935', '3\'-5"', '1 1/2"')

    Raises:
        UnitError: units is not one of `UNITS`.
    """
    if is_metric(units):
        return str(_steps(length, units))
    return _feet_inches(length, units)


@lru_cache(maxsize=1 << 14)
def _feet_inches(length: float, units: str) -> str:
    return format_feet_inches(length, fraction_of(units))


def unbroken(length: float, units: str) -> str:
    """A printed length whose fraction stays on the line of its inches."""
    return format_length(length, units).replace(" ", "\u00a0")


def told(sentence: str, units: str) -> str:
    """A sentence of ours, which tells lengths in mm, with its lengths as all others are printed."""
    return sentence if is_metric(units) else in_feet_and_inches(sentence, fraction_of(units))


def format_residual(residual: float, units: str) -> str:
    r"""What rounding left over, with its sign, finer than the printed step: 0.1 mm or 1/64 in.

    >>> format_residual(-0.79375, "ft-in"), format_residual(0.25, "mm"), format_residual(0.0, "mm")
    ('-1/32"', '+0.3', '0')
    """
    if not is_metric(units):
        text = format_feet_inches(residual, _FINE)
        is_zero = text.lstrip("-") == '0"'
    else:
        tenths = _steps(residual * 10.0, "mm")
        text, is_zero = f"{tenths / 10:g}", tenths == 0
    if is_zero:
        return "0"
    return text if text.startswith("-") else f"+{text}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Running dimensions from one wall to the other, in mm.

    `printed` are the rounded distances of the lines from the first wall, `total` the
    rounded length; `last` is what a tape then shows from the last line to the far wall
    (total minus last printed line) and `residual` how far that is from the exact border.
    """

    printed: tuple[float, ...]
    total: float
    last: float
    residual: float


def run_dimensions(lines: Sequence[float], length: float, units: str) -> Run:
    """Round every line's distance from the first wall once, and say what is left at the far wall.

    Raises:
        UnitError: units is not one of `UNITS`.
    """
    printed = tuple(round_length(line, units) for line in lines)
    total = round_length(length, units)
    last = total - (printed[-1] if printed else 0.0)
    exact = length - (lines[-1] if lines else 0.0)
    return Run(printed=printed, total=total, last=last, residual=last - exact)
