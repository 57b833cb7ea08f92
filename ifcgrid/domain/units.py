"""Lengths as people write them, read exactly: inches are fractions until they become one float."""

from __future__ import annotations

import re
from fractions import Fraction
from math import floor, isfinite

from ifcgrid.domain.errors import UnitError

__all__ = [
    "INCH",
    "MILLIMETRES",
    "format_feet_inches",
    "format_mm",
    "in_feet_and_inches",
    "parse_length",
    "parse_size",
]

INCH = Fraction(254, 10)
"""Millimetres in an inch, exact (international inch, 1959)."""

MILLIMETRES = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": INCH,
    "inch": INCH,
    "inches": INCH,
    '"': INCH,
    "″": INCH,
    "”": INCH,
    "ft": INCH * 12,
    "foot": INCH * 12,
    "feet": INCH * 12,
    "'": INCH * 12,
    "′": INCH * 12,
    "’": INCH * 12,
}
"""Millimetres in each unit that may be written."""

_NUMBER = r"(?:\d+[\s-]+\d+\s*/\s*\d+|\d+\s*/\s*\d+|\d+\.\d*|\.\d+|\d+)"
_TERM = re.compile(
    rf"\s*({_NUMBER})\s*(mm|cm|m|inches|inch|in|feet|foot|ft|''|[\"'″”′’])?\s*-?\s*", re.IGNORECASE
)
_HELP = "write for example 9576 mm, 9.576 m, 31' 5 1/2\" or 31ft 5in"


def _number(text: str) -> Fraction:
    whole, _, fraction = text.strip().rpartition(" ") if "/" in text else ("", "", text.strip())
    if "/" in text:
        parts = re.split(r"[\s-]+", text.strip().replace(" /", "/").replace("/ ", "/"))
        whole, fraction = ("0", parts[0]) if len(parts) == 1 else (parts[0], parts[-1])
        top, bottom = fraction.split("/")
        if int(bottom) == 0:
            raise UnitError(f"{text!r} divides by zero; {_HELP}")
        return Fraction(int(whole)) + Fraction(int(top), int(bottom))
    return Fraction(fraction)


def parse_length(value: str | float) -> float:
    r"""A length in mm from a number (mm) or a text with units.

    >>> parse_length("600"), parse_length("9.576 m"), parse_length('1\'-9 1/2"')
    (600.0, 9576.0, 546.1)

    Raises:
        UnitError: the text is no length, repeats a unit, or the number is not finite.
    """
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise UnitError(f"{value!r} is no length; {_HELP}")
    if not isinstance(value, str):
        if not isfinite(value):
            raise UnitError(f"{value!r} is no length; {_HELP}")
        return float(value)
    text = value.strip().replace("''", '"')
    total = Fraction(0)
    seen: list[str] = []
    negative = text.startswith("-")
    position = 1 if negative else 0
    if position == len(text):
        raise UnitError(f"{value!r} is no length; {_HELP}")
    while position < len(text):
        match = _TERM.match(text, position)
        if match is None:
            raise UnitError(f"{value!r} is no length at {text[position:]!r}; {_HELP}")
        unit = (match[2] or "").lower()
        if not unit and (seen or match.end() < len(text)):
            # 31' 5 means 31 feet 5 inches; any other bare number beside units is a slip.
            if not (seen and MILLIMETRES[seen[-1]] == INCH * 12 and match.end() == len(text)):
                rest = text[match.end() :]
                what = f"{rest!r} is no unit" if rest[:1].isalpha() else f"{match[1]!r} has no unit"
                raise UnitError(f"{value!r}: {what}; {_HELP}")
            unit = "in"
        unit = unit or "mm"
        if seen and MILLIMETRES[unit] >= MILLIMETRES[seen[-1]]:
            raise UnitError(f"{value!r}: {unit} cannot follow {seen[-1]}; {_HELP}")
        total += _number(match[1]) * MILLIMETRES[unit]
        seen.append(unit)
        position = match.end()
    return float(-total if negative else total)


def parse_size(text: str) -> tuple[float, float]:
    """Two lengths in mm from `A x B`; a unit at the end alone serves both.

    >>> parse_size("600 x 1200"), parse_size("2 x 4 ft")
    ((600.0, 1200.0), (609.6, 1219.2))

    Raises:
        UnitError: there are not two lengths, or one is not greater than zero.
    """
    parts = [p for p in re.split(r"\s*[x×*]\s*", text.strip(), flags=re.IGNORECASE)]
    if len(parts) != 2 or not all(parts):
        raise UnitError(f"{text!r} is no size; write LENGTH x WIDTH, for example 9.6 m x 4.2 m")
    unit = re.search(r"[A-Za-z\"'″”′’]+$", parts[1])
    if unit and not re.search(r"[A-Za-z\"'″”′’]", parts[0]):
        parts[0] += unit[0]
    first, second = parse_length(parts[0]), parse_length(parts[1])
    if first <= 0 or second <= 0:
        raise UnitError(f"{text!r}: both lengths must be greater than zero")
    return first, second


def _round_half_away(value: Fraction) -> int:
    return -floor(-value + Fraction(1, 2)) if value < 0 else floor(value + Fraction(1, 2))


def format_feet_inches(length: float, denominator: int = 16) -> str:
    r"""A length in mm as feet, inches and a fraction; halves are rounded away from zero.

    >>> format_feet_inches(546.1)
    '1\'-9 1/2"'
    """
    # A float of millimetres is within 1e-9 of the fraction that was meant; snap to it first.
    exact = (Fraction(length) / INCH).limit_denominator(1 << 20)
    units = _round_half_away(exact * denominator)
    sign, units = ("-" if units < 0 else ""), abs(units)
    feet, rest = divmod(units, 12 * denominator)
    inches, part = divmod(rest, denominator)
    fraction = Fraction(part, denominator)
    if not feet and not inches and part:
        return f'{sign}{fraction}"'
    tail = f" {fraction}" if part else ""
    return f"{sign}{feet}'-{inches}{tail}\"" if feet else f'{sign}{inches}{tail}"'


def format_mm(length: float) -> str:
    """A length in mm as whole millimetres, halves away from zero: `545 mm`."""
    return f"{_round_half_away(Fraction(length).limit_denominator(1 << 20))} mm"


_DECIMAL = r"[+-]?\d+(?:\.\d+)?"
_NAME_OR_LENGTHS = re.compile(
    rf"(?<!\w)'[^']*'(?!\w)"  # a name in quotes is somebody's own word and stays as it is
    rf"|\({_DECIMAL}(?:, {_DECIMAL})+\) mm\b"
    rf"|(?<![\w.]){_DECIMAL}(?:(?: x | to |/){_DECIMAL})* mm\b"
)


def in_feet_and_inches(sentence: str, denominator: int = 16) -> str:
    r"""A sentence with its lengths in mm, single or in a row before one unit, restated to 1/16 in.

    `denominator` is that of the finest fraction of an inch.

    >>> in_feet_and_inches("609.6 x 609.6 mm stand 40 mm off; move by (-51, 0) mm")
    '2\'-0" x 2\'-0" stand 1 9/16" off; move by (-2", 0")'
    """

    def restate(match: re.Match[str]) -> str:
        if match[0].startswith("'"):
            return match[0]
        return re.sub(_DECIMAL, number, match[0].removesuffix(" mm"))

    def number(match: re.Match[str]) -> str:
        plus = "+" if match[0].startswith("+") else ""
        return plus + format_feet_inches(float(match[0]), denominator)

    return _NAME_OR_LENGTHS.sub(restate, sentence)
