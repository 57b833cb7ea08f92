"""The report's words, signs and numbers: one way to say a thing, never by colour alone."""

from __future__ import annotations

from collections.abc import Sequence

from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.units import format_feet_inches
from ifcgrid.outputs.paper.dimension import told
from ifcgrid.outputs.report.content import Card, Standing
from ifcgrid.outputs.report.markup import Markup, element

__all__ = [
    "SIGNS",
    "STANDINGS",
    "area",
    "badge",
    "head_of",
    "length",
    "measured",
    "plural",
    "say_standing",
    "say_verdict",
    "width_words",
]

SIGNS = {Standing.FAIL: "✗", Standing.UNKNOWN: "?", Standing.CLEAR: "○", Standing.BARE: "–"}
"""A sign for each standing, told apart by shape."""

STANDINGS = {
    Standing.FAIL: ("Fails", "at least one check fails"),
    Standing.UNKNOWN: ("Not known", "nothing fails, but the model lacks data for at least one check"),
    Standing.CLEAR: ("Nothing found", "none of the checks that were run fails"),
    Standing.BARE: ("No ceiling", "none was laid out; the reason stands with the room"),
}
"""The word for each standing and what it means."""

VERDICTS = {Verdict.FAIL: "fails", Verdict.UNKNOWN: "not known", Verdict.PASS: "within"}
"""What a finding is called."""


def say_verdict(finding: Finding) -> str:
    """What a finding is called; what somebody accepted says so."""
    word = VERDICTS[finding.verdict]
    return f"{word}, accepted" if finding.waiver is not None else word


def head_of(title: str, units: str) -> str:
    """The head of a column of lengths; feet and inches carry their own signs."""
    return f"{title}, mm" if units == "mm" else title


def length(value: float | None, units: str) -> str:
    r"""A length to a tenth of a millimetre or a sixteenth of an inch, without needless digits.

    >>> length(212.5, "mm"), length(None, "mm"), length(609.6, "ft-in")
    ('212.5', '–', '2\'-0"')
    """
    if value is None:
        return "–"
    return format_feet_inches(value) if units == "ft-in" else f"{value:.1f}".removesuffix(".0")


def area(square_metres: float, units: str) -> str:
    """An area with its unit."""
    if units == "ft-in":
        return f"{square_metres / 0.3048**2:.1f} ft²"
    return f"{square_metres:.2f} m²"


def width_words(least: float | None, greatest: float | None, units: str) -> str:
    """A border's width, or both where it tapers."""
    if least is None or greatest is None:
        return "–"
    narrow, wide = length(least, units), length(greatest, units)
    return narrow if narrow == wide else f"{narrow} to {wide}"


def plural(count: int, one: str, many: str = "") -> str:
    """A count with its noun.

    >>> plural(1, "room"), plural(2, "room")
    ('1 room', '2 rooms')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"


def say_standing(card: Card) -> str:
    """A room's standing in words, with counts."""
    if not card.parts:
        word = "could not be laid out" if card.has_failed else "no ceiling"
        return f"{word}: {card.reason}"
    parts = [
        f"{card.count(verdict)} {word}"
        for verdict, word in ((Verdict.FAIL, "failing"), (Verdict.UNKNOWN, "not known"))
        if card.count(verdict)
    ]
    if accepted := sum(n.finding.waiver is not None for n in card.findings):
        parts.append(f"{accepted} accepted")
    return ", ".join(parts) if parts else "nothing found"


def badge(standing: Standing, text: str = "") -> Markup:
    """A standing as sign and word."""
    return element(
        "span",
        element("span", SIGNS[standing], class_="sign", aria_hidden="true"),
        text or STANDINGS[standing][0],
        class_=f"badge {standing.value}",
    )


def measured(finding: Finding, units: str) -> Sequence[str]:
    """Value and limit of a finding with their unit; "–" where there is none."""
    return [_measure(finding.value, finding.unit, units), _measure(finding.limit, finding.unit, units)]


def _measure(value: float | None, unit: str, units: str) -> str:
    if value is None:
        return "–"
    if unit == "mm":
        return length(value, units) if units == "ft-in" else f"{length(value, units)} mm"
    return told(f"{value:.4g} {unit}".strip(), units)
