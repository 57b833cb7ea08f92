"""Ceilings and findings become entity rows, which any sink can write."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.context import WriteContext
from ifcgrid.ifc.writing.fingerprint_rows import ZoneRows, add_fingerprints
from ifcgrid.ifc.writing.interference_rows import add_interferences
from ifcgrid.ifc.writing.mapping import find_names
from ifcgrid.ifc.writing.rows import Rows
from ifcgrid.ifc.writing.zone_rows import add_zone

__all__ = ["DETAILS", "Compiled", "compile_ceilings"]

DETAILS = ("ceiling", "grid", "panels")
"""Detail levels, coarse to fine.

`ceiling`: one covering a room with its quantities. `grid`: also members, hangers, openings
and set-out lines. `panels`: also one part a panel; the covering then has no body of its
own, for a whole is either drawn itself or by its parts. A ceiling that was adopted keeps
its body and gets no panels, or it would be drawn twice.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Compiled:
    """Rows ready to be written; `counts` of what they hold by part; GlobalIds of `adopted` ceilings."""

    rows: Rows
    counts: Mapping[str, int]
    adopted: tuple[str, ...]


def compile_ceilings(
    context: WriteContext,
    ceilings: Sequence[Ceiling],
    findings: Sequence[Finding] = (),
    detail: str = "grid",
    *,
    replace: bool = False,
    provenance: Mapping[str, str] | None = None,
    earlier: Mapping[str, Mapping[str, str]] | None = None,
) -> Compiled:
    """Turns ceilings into rows, in the order of their keys.

    Args:
        context: the model to be written into.
        ceilings: one a zone.
        findings: failing clashes between our parts and elements of the model become
            relations where the schema has one.
        detail: one of `DETAILS`.
        replace: write our own ceiling even where the architect modelled one.
        provenance: texts for the provenance set, by property name.
        earlier: the provenance that an earlier run left, by the zone's key.

    Raises:
        ValueError: the detail is none of `DETAILS`.
    """
    if detail not in DETAILS:
        raise ValueError(f"detail {detail!r}; choose one of {', '.join(DETAILS)}")
    book = Book(context, detail)
    zones = []
    for ceiling in sorted(ceilings, key=lambda c: c.key):
        begin = len(book.rows.parts)
        carriers = add_zone(
            book, ceiling, replace=replace, provenance=provenance or {}, earlier=earlier or {}
        )
        zones.append(ZoneRows(key=ceiling.key, begin=begin, end=len(book.rows.parts), carriers=carriers))
    book.close()
    add_fingerprints(book, zones)
    if find_names(context.schema).has_interference:
        add_interferences(book, ceilings, findings)
    return Compiled(
        rows=book.rows,
        counts={str(part): n for part, n in sorted(book.counts.items())},
        adopted=tuple(sorted(book.adopted)),
    )
