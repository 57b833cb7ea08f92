"""The report's tables: rooms, findings, quantities, orders and what was checked; they sort and filter."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any
from urllib.parse import quote

from ifcgrid.domain.finding import Finding, Unchecked, Verdict
from ifcgrid.domain.quantity import TakeOff
from ifcgrid.outputs.check_sheet.floors import label
from ifcgrid.outputs.paper.dimension import told
from ifcgrid.outputs.report.content import Card, Storey
from ifcgrid.outputs.report.markup import Content, Markup, element
from ifcgrid.outputs.report.words import (
    area,
    badge,
    head_of,
    length,
    measured,
    say_verdict,
)
from ifcgrid.outputs.takeoff.tables import format_size, shown

__all__ = ["checked_table", "findings_table", "order_table", "quantity_table", "rooms_table"]

_RANK = {"fail": 0, "unknown": 1, "clear": 2, "pass": 2, "bare": 3}

Cell = Markup


def _cell(content: Content, sort: str | float | None = None, *, is_number: bool = False) -> Cell:
    """A cell; `sort` is what it is sorted by where that is not its text."""
    key = f"{sort:.6g}" if isinstance(sort, float) else sort
    return element("td", content, class_="n" if is_number else None, data_sort=key)


def _table(name: str, caption: str, heads: Sequence[str], rows: Iterable[Markup]) -> Markup:
    buttons = [
        element("th", element("button", head, type="button"), scope="col", aria_sort="none") for head in heads
    ]
    table = element(
        "table",
        element("caption", caption),
        element("thead", element("tr", *buttons)),
        element("tbody", *rows),
        class_="sorts",
        id=f"{name}-table",
    )
    return element("div", table, class_="wide", tabindex=0, role="group", aria_label=caption)


def _room_link(card: Card) -> Markup:
    return element("a", card.number or card.name or "?", href=f"#room={quote(card.key, safe='$')}")


def rooms_table(storeys: Sequence[Storey], units: str) -> Markup:
    """Every room with its standing, size, borders and counts."""
    heads = (
        *("Room", "Name", "Storey", "Standing", "Area", head_of("Height", units), "System"),
        *(head_of("Least border", units), "Full panels", "Cut panels", "Hangers", "Why or why not"),
    )
    rows = [_room_row(card, storey, units) for storey in storeys for card in storey.cards]
    return _table("rooms", "Rooms", heads, rows)


def _room_row(card: Card, storey: Storey, units: str) -> Markup:
    head = [
        element("th", _room_link(card), scope="row"),
        _cell(card.name),
        _cell(storey.name),
        _cell(badge(card.standing), str(_RANK[card.standing.value])),
    ]
    if not card.parts or card.room is None:
        cells = [*head, *(_cell("–", "") for _ in range(7)), _cell(card.reason)]
        return element("tr", *cells, data_room=card.place)
    ceiling, index = card.parts[0]
    own = ceiling.panels.room == index
    full = int((ceiling.panels.is_full & own).sum())
    least = min((b.least for b in ceiling.layout.borders), default=None)
    height = card.room.height.value if card.room.height else None
    size = card.room.outline.area / 1e6
    cells = [
        *head,
        _cell(area(size, units), size, is_number=True),
        _cell(length(height, units), height, is_number=True),
        _cell(ceiling.system.id),
        _cell(length(least, units), least, is_number=True),
        _cell(full, is_number=True),
        _cell(int(own.sum()) - full, is_number=True),
        _cell(int((ceiling.hangers.room == index).sum()), is_number=True),
        _cell(told(ceiling.layout.reason, units)),
    ]
    return element("tr", *cells, data_room=card.place)


def findings_table(storeys: Sequence[Storey], units: str) -> Markup:
    """Every finding that fails or is not known, each with the way to its place."""
    heads = ("No.", "Verdict", "Room", "Storey", "Finding", "Measured", "Limit", "Rule", "Source")
    rows = [
        _finding_row(card, storey, k, units)
        for storey in storeys
        for card in storey.cards
        for k in range(len(card.findings))
    ]
    return _table("findings", "Findings", heads, rows)


def _finding_row(card: Card, storey: Storey, place: int, units: str) -> Markup:
    numbered = card.findings[place]
    finding = numbered.finding
    value, limit = measured(finding, units)
    link = element(
        "a",
        numbered.number,
        href=f"#finding={numbered.number}",
        aria_label=f"Finding {numbered.number}: show its place",
        class_=f"no {finding.verdict.value}",
    )
    source = ", ".join(filter(None, (_document(finding), finding.source, finding.clause)))
    return element(
        "tr",
        element("th", link, scope="row", data_sort=numbered.number),
        _cell(say_verdict(finding), str(_RANK[finding.verdict.value])),
        _cell(_room_link(card), card.number or card.name),
        _cell(storey.name),
        _cell(told(finding.message, units)),
        _cell(value, finding.value, is_number=True),
        _cell(limit, finding.limit, is_number=True),
        _cell(finding.title or finding.rule),
        _cell(source),
        data_room=card.place,
        data_finding=numbered.number,
    )


def quantity_table(take_off: TakeOff, units: str) -> Markup:
    """Net quantities by storey: items that come in several sizes are summed."""
    storey_of = {line.key: line.storey for line in take_off.rooms}
    sums: dict[tuple[str, str, str], float] = {}
    for q in take_off.quantities:
        value, unit = shown(q, units)
        key = (storey_of.get(q.room, ""), q.item.value, unit)
        sums[key] = sums.get(key, 0.0) + value
    rows = [
        element(
            "tr",
            element("th", item, scope="row"),
            _cell(storey),
            _cell(f"{value:,.2f}" if unit[:1] in "mf" else f"{value:,.0f}", value, is_number=True),
            _cell(unit),
            data_storey_name=storey,
        )
        for (storey, item, unit), value in sums.items()
    ]
    heads = ("Item", "Storey", "Net", "Unit")
    return _table("quantities", "Net quantities, as hung, without waste and spares", heads, rows)


def order_table(take_off: TakeOff, units: str) -> Markup:
    """What is to be bought of each article after cutting, with its allowance, in whole packs."""
    heads = ("Article", "Size", "Net", "After cutting", "Allowance", "To order", "In packs of", "Rule")
    rows = [
        element(
            "tr",
            element("th", " ".join(filter(None, (line.item.value, line.spec))), scope="row"),
            _cell(format_size(line.size, units)),
            _cell(line.net, is_number=True),
            _cell(line.stock, is_number=True),
            _cell(f"{line.allowance:.0%}", float(line.allowance), is_number=True),
            _cell(line.ordered, is_number=True),
            _cell(line.pack, is_number=True),
            _cell(line.rule),
        )
        for line in take_off.orders
    ]
    return _table("orders", "What to order", heads, rows)


def _document(judged: Finding | Unchecked) -> str:
    """Document and edition, "" for what no document asks."""
    return label({"document": judged.document, "edition": judged.edition}) if judged.document else ""


def checked_table(findings: Sequence[Finding], unchecked: Sequence[Unchecked]) -> Markup:
    """Each rule with how many findings have which verdict, and where it was not applied."""
    rows: dict[tuple[str, str], dict[str, Any]] = {}
    for f in findings:
        document = _document(f) or "clashes"
        row = rows.setdefault((document, f.rule), {"title": f.title or f.rule, "source": f.source})
        row[f.verdict] = row.get(f.verdict, 0) + max(f.measured, 1)
    for u in unchecked:
        row = rows.setdefault((_document(u), u.rule), {"title": u.title, "source": u.clause})
        row["not"] = row.get("not", 0) + 1
    heads = ("Document", "Rule", "Fails", "Not known", "Within", "Rooms not checked", "Source")
    return _table(
        "checked",
        "What was checked, by rule",
        heads,
        [
            element(
                "tr",
                element("th", document, scope="row"),
                _cell(row["title"]),
                *(_cell(row.get(verdict, 0), is_number=True) for verdict in _ORDER),
                _cell(row.get("not", 0), is_number=True),
                _cell(row["source"]),
            )
            for (document, _), row in rows.items()
        ],
    )


_ORDER = (Verdict.FAIL, Verdict.UNKNOWN, Verdict.PASS)
