"""The terms of a layout's score in words, each with its unit."""

from __future__ import annotations

from ifcgrid.domain.policy import Term

__all__ = ["say_loss", "say_value"]

_MM = {
    Term.BORDER_MINIMUM: "{} mm short",
    Term.EQUAL_BORDERS: "{} mm apart",
    Term.COLUMN_STRIPS: "{} mm short",
    Term.OBLIQUE_PIECES: "{} mm short in sum",
}


def _plain(value: float, digits: int = 1) -> str:
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def say_value(term: str, value: float) -> str:
    """A term's value as people say it: `24 cut panels`, `40 mm apart`."""
    if term in _MM:
        return _MM[Term(term)].format(_plain(value))
    if term == Term.SMALLEST_BORDER:
        return f"narrowest borders of both directions {_plain(-value)} mm in sum"
    if term == Term.CUT_PANELS:
        return f"{value:.0f} cut"
    if term == Term.FIXTURES:
        return f"{value:.0f} off"
    if term == Term.WASTE:
        return f"{_plain(value, 3)} m2"
    if term == Term.MAINS:
        return f"{_plain(value / 1000, 2)} m"
    return _plain(value, 3)


def say_loss(term: str, own: float, won: float) -> str:
    """On which term a layout lost, with both values."""
    if term == Term.SMALLEST_BORDER:
        return f"{term}: {_plain(-own)} mm in both directions together, chosen {_plain(-won)} mm"
    return f"{term}: {say_value(term, own)}, chosen {say_value(term, won)}"
