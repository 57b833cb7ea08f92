"""Cautions that every output carries from which someone could build.

Each is a paraphrase; `source` says where it stands. None of them says that a ceiling
is in order: the outputs say what was checked, against which edition, and what was not.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["CAUTIONS", "Caution", "caution_texts"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution; `is_short` marks those that a drawing with little room still prints."""

    text: str
    source: str
    is_short: bool = False


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        text="Drawn by a program from the model named here. Measure the room at ceiling height and check "
        "this sheet against the site before anything is cut or fixed.",
        source="common practice, no source",
        is_short=True,
    ),
    Caution(
        text="Local codes apply; the authority having jurisdiction decides which, and deviations need its "
        "approval.",
        source="ASTM E580/E580M-09a 1.2; Municipality of Anchorage, Handout A.04, 2",
        is_short=True,
    ),
    Caution(
        text="A registered design professional selects and completes details, hangers, bracing and fixings; "
        "heavier, faceted and other special ceilings need their own design.",
        source="California DSA IR 25-2, rev. 03/18/22",
        is_short=True,
    ),
    Caution(
        text="Loads, seismic restraint, fire and sound ratings are not checked unless a finding names the "
        "document and its edition.",
        source="scope of this program",
        is_short=True,
    ),
    Caution(
        text="Standards do not address every hazard of the work; whoever uses them sets the practice for it.",
        source="ASTM C636-96 1.6; ASTM E580-06 1.4",
    ),
    Caution(
        text="In a fire-rated assembly the listing controls clips, hangers, number of fixtures and the "
        "support of wiring.",
        source="ASTM C636/C636M-19 1.2; NEC 2008 300.11(A)(1) (second-hand)",
    ),
    Caution(
        text="Powder-actuated fasteners in seismic braces may need seismic approval and special inspection.",
        source="NWCB Technical Document 401, undated edition filed with the City of Everett (second-hand)",
    ),
    Caution(
        text="Outdoor ceilings (wind) need review by an architect or engineer.",
        source="ASTM C636/C636M-19 1.5; ASTM C635/C635M-17 1.3",
    ),
    Caution(
        text="Existing ceilings can release asbestos when disturbed: have them surveyed first.",
        source="FEMA E-74, p. 6-82 (2011); HSE HSG264",
        is_short=True,
    ),
    Caution(
        text="Do not walk on the ceiling or hang anything else from it; wrong or too few fixings, added load "
        "and later trades are known causes of collapse.",
        source="EN 13964 trade manual, 7.1.9; Finishes and Interiors Sector, survey of collapses 2010",
        is_short=True,
    ),
    Caution(
        text="Look at what is in and above the floor or roof before drilling (post-tensioning, services); "
        "isolate circuits before fixtures are touched.",
        source="common practice, no source",
        is_short=True,
    ),
    Caution(
        text="Work at height, towers, stilts, lighting and power for the installers are planned items.",
        source="Finishes and Interiors Sector, Site Guide, October 2015 (contents)",
    ),
)
"""In the order in which they are printed."""


def caution_texts(*, is_short: bool = False) -> tuple[str, ...]:
    """The sentences to print, all or only the short list, without their sources."""
    return tuple(c.text for c in CAUTIONS if c.is_short or not is_short)
