"""What the report's panel shows of one room: findings, borders, why, quantities, sheet and 3D look."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.quantity import Item, Quantity, TakeOff, line_key
from ifcgrid.domain.way_out import WayOut
from ifcgrid.outputs.check_sheet.floors import label
from ifcgrid.outputs.measured import measured_sentences
from ifcgrid.outputs.paper.dimension import told, unbroken
from ifcgrid.outputs.report.content import Card, Numbered, Standing
from ifcgrid.outputs.report.markup import Content, Markup, element, join
from ifcgrid.outputs.report.why import say_method, say_moves, say_runners_up
from ifcgrid.outputs.report.words import (
    area,
    badge,
    head_of,
    length,
    measured,
    plural,
    say_standing,
    say_verdict,
    width_words,
)
from ifcgrid.outputs.setout.wall import name_walls
from ifcgrid.outputs.takeoff.tables import format_size, shown

__all__ = ["Facts", "draw_finding", "draw_panel"]

_AXES = {"u": "along the mains", "v": "across the mains", "oblique": "at its narrowest passage", "": "–"}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facts:
    """What panels need besides their cards: units, storeys' names, quantities by line, remarks, sheets."""

    units: str
    storeys: Sequence[str]
    quantities: Mapping[str, Sequence[Quantity]]
    remarks: Mapping[str, str]
    packed: frozenset[str]

    @classmethod
    def of(
        cls,
        *,
        units: str,
        storeys: Sequence[str],
        take_off: TakeOff | None,
        remarks: Mapping[str, str],
        packed: Iterable[str],
    ) -> Facts:
        """The facts with quantities sorted by the room that they are of."""
        found: dict[str, list[Quantity]] = {}
        for quantity in take_off.quantities if take_off else ():
            found.setdefault(quantity.room, []).append(quantity)
        return cls(units=units, storeys=storeys, quantities=found, remarks=remarks, packed=frozenset(packed))


def draw_panel(card: Card, facts: Facts) -> Markup:
    """The panel's content; the report's script puts it in place when the room is opened."""
    head = join(
        element("h2", card.title, id="panel-title", tabindex=-1),
        element(
            "p",
            badge(card.standing),
            " ",
            say_standing(card) if card.findings else None,
            class_="standing",
        ),
    )
    if not card.parts:
        status = "It could not be laid out" if card.has_failed else "It gets no ceiling"
        return join(
            head, element("p", f"{status}: {card.reason}."), _facts([("Storey", facts.storeys[card.storey])])
        )
    return join(
        head,
        _facts(_head_facts(card, facts)),
        _findings(card, facts),
        *(_part(card, ceiling, index, facts) for ceiling, index in card.parts),
        _measured(card, facts),
        _judged(card),
        _notes(card, facts),
        element("p", "GlobalId ", element("code", card.key), class_="fine"),
    )


def _section(title: str, *content: Content) -> Markup:
    return element("section", element("h3", title), *content)


def _facts(rows: Iterable[tuple[str, Content]]) -> Markup:
    pairs = [element("div", element("dt", name), element("dd", value)) for name, value in rows if value]
    return element("dl", *pairs, class_="facts")


def _head_facts(card: Card, facts: Facts) -> Iterable[tuple[str, Content]]:
    room, units = card.room, facts.units
    yield "Storey", facts.storeys[card.storey] or "–"
    if room is None:
        return
    yield "Area under the grid", area(room.outline.area / 1e6, units)
    if room.height is not None:
        unit = " mm" if units == "mm" else ""
        where = room.height.candidates[0].where if room.height.candidates else ""
        words = f"{length(room.height.value, units)}{unit} above its floor"
        yield "Ceiling", f"{words} (from {room.height.source.value}{': ' if where else ''}{where})"
        disputes = [f"{length(d.value, units)}{unit} in {d.where}" for d in room.height.disputes]
        yield "Other heights in the model", "; ".join(disputes)
    ceiling = card.parts[0][0]
    others = [r.number or r.name for r in ceiling.zone.rooms if r.key != card.key]
    yield "One ceiling with", ", ".join(others)


def draw_finding(numbered: Numbered, units: str, *, has_place: bool) -> Markup:
    """A finding's sentence with its number, and whatever else its judge tells."""
    finding = numbered.finding
    value, limit = measured(finding, units)
    told_values = f"measured {value}, limit {limit}" if limit != "–" else f"measured {value}"
    source = ", ".join(filter(None, (finding.source, finding.clause)))
    document = " ".join(filter(None, (finding.document, finding.edition)))
    rows: list[tuple[str, Content]] = [
        ("Rule", finding.title or finding.rule),
        ("Numbers", "" if value == "–" else told_values),
        ("Source", " – ".join(filter(None, (document, source)))),
        *_further(finding, units),
    ]
    return join(
        element(
            "p",
            element("span", numbered.number, class_=f"no {finding.verdict.value}"),
            " ",
            element("b", say_verdict(finding).capitalize()),
            " – ",
            told(finding.message, units),
        ),
        _facts(rows),
        element(
            "a",
            f"Show finding {numbered.number} on the plan",
            href=f"#finding={numbered.number}",
            class_="follow",
        )
        if has_place
        else None,
    )


def _further(finding: Finding, units: str) -> Iterable[tuple[str, Content]]:
    """What is added for coordination: its weight, who is asked, who accepted it, ways out."""
    if finding.severity is not None:
        yield "Severity", finding.severity.value
    yield "Who is asked", finding.trade
    if finding.waiver is not None:
        until = f" until {finding.waiver.until.isoformat()}" if finding.waiver.until else ""
        yield "Accepted", f"by {finding.waiver.by}{until}: {finding.waiver.reason}"
    if finding.ways_out:
        yield "Ways out", element("ul", *(element("li", _way(way, units)) for way in finding.ways_out))


def _way(way: WayOut, units: str) -> str:
    """One way out with what else it would bring."""
    text = f"{told(way.text, units)} ({way.who})" if way.who else told(way.text, units)
    if way.is_clear:
        return text
    return f"{text}; it would bring: {', '.join(told(b, units) for b in way.brings)}"


def _findings(card: Card, facts: Facts) -> Markup:
    if not card.findings:
        return _section("Findings", element("p", "None of the checks that were run fails here."))
    items = [
        element("li", draw_finding(n, facts.units, has_place=n.finding.point is not None), class_="finding")
        for n in card.findings
    ]
    return _section("Findings", element("ol", *items, class_="findings"))


def _part(card: Card, ceiling: Ceiling, index: int, facts: Facts) -> Markup:
    is_soffit = all(room.key != ceiling.key for room in ceiling.zone.rooms) and len(card.parts) > 1
    key = ceiling.key
    title = f"Set-out sheet of {card.title}"
    parts = [
        element("h3", "Lower ceiling in this room", class_="part") if is_soffit else None,
        _borders(ceiling, facts.units),
        _why(ceiling, index, facts),
        _quantities(facts.quantities.get(line_key(ceiling.zone, index), ()), facts.units),
    ]
    if key in facts.packed:
        parts += [
            _section(
                "Set-out sheet",
                element(
                    "div",
                    element("p", "Unpacking the sheet …"),
                    class_="sheet",
                    data_pack=key,
                    data_alt=title,
                ),
            ),
            _section(
                "3D look",
                element(
                    "div",
                    element("button", "Show in 3D", type="button", class_="open-look"),
                    class_="look",
                    data_pack=key,
                    data_alt=_describe_look(ceiling, card, facts.units),
                ),
            ),
        ]
    return join(*parts)


def _describe_look(ceiling: Ceiling, card: Card, units: str) -> str:
    u0, v0, u1, v1 = ceiling.layout.frame.shape_to_local(ceiling.zone.outline).bounds
    unit = " mm" if units == "mm" else ""
    return (
        f"Ceiling of {card.title} seen from above at a slant: {len(ceiling.panels)} panels, "
        f"{len(ceiling.members)} members and {len(ceiling.hangers)} hangers over "
        f"{length(u1 - u0, units)} by {length(v1 - v0, units)}{unit}, with what stands above it"
    )


def _borders(ceiling: Ceiling, units: str) -> Markup:
    rows = []
    for wall in name_walls(ceiling):
        is_narrow = any((wall.ring, edge) in ceiling.layout.narrow for edge in wall.edges)
        where = "" if wall.ring == 0 else f", hole {wall.ring}"
        rows.append(
            element(
                "tr",
                element("th", wall.letter, scope="row"),
                element("td", length(wall.length, units), class_="n"),
                element(
                    "td",
                    width_words(wall.least, wall.greatest, units),
                    element("b", " ✗ below the least") if is_narrow else None,
                    class_="n",
                ),
                element("td", _AXES[wall.axis] + where),
                class_="narrow" if is_narrow else None,
            )
        )
    heads = ("Wall", head_of("Length", units), head_of("Border", units), "Measured")
    table = element(
        "table",
        element("caption", "Borders wall by wall, lettered as on the set-out sheet", class_="quiet"),
        element("thead", element("tr", *(element("th", head, scope="col") for head in heads))),
        element("tbody", *rows),
    )
    return _section(
        "Borders",
        element("div", table, class_="wide", tabindex=0, role="group", aria_label="Borders, wall by wall"),
    )


def _why(ceiling: Ceiling, index: int, facts: Facts) -> Markup:
    layout, policy, units = ceiling.layout, ceiling.policy, facts.units
    unit = " mm" if units == "mm" else ""
    full = int(ceiling.panels.is_full.sum())
    reason = told(layout.reason, units)
    rows: list[tuple[str, Content]] = [
        (
            "Grid",
            f"{ceiling.system.title}; module {length(layout.along, units)} x "
            f"{length(layout.across, units)}{unit} along x across the mains, which run at "
            f"{layout.frame.angle_deg:.4g}° to X; {plural(full, 'full panel')} and "
            f"{len(ceiling.panels) - full} cut",
        ),
        ("Start", told(layout.set_out_from, units)),
        ("How it was found", say_method(ceiling)),
    ]
    if policy is not None:
        rows.append(
            (
                "Policy",
                f"{policy.title}; least border {told(policy.minimum_words, units)} "
                f"({policy.source}; {policy.basis})",
            )
        )
    lost = [element("li", sentence) for sentence in say_runners_up(ceiling, units)]
    moves = [element("li", sentence) for sentence in say_moves(ceiling, index, units)]
    remark, proof = facts.remarks.get(ceiling.key), told(layout.certificate.statement, units)
    return _section(
        "Why the grid lies here",
        element("p", f"{reason[:1].upper()}{reason[1:]}."),
        element("p", remark, class_="remark") if remark else None,
        _facts(rows),
        element("details", element("summary", "What proves it"), element("p", proof)) if proof else None,
        join(element("h4", "What lost"), element("ol", *lost, start=2, class_="lost")) if lost else None,
        join(element("h4", "Devices off their seats"), element("ul", *moves)) if moves else None,
    )


_SHORT = frozenset({Item.CUT_PANEL, Item.CROSS_TEE, Item.SECOND_TEE, Item.HANGER})
"""Items that are counted by many sizes; the panel sums them."""


def _quantities(quantities: Sequence[Quantity], units: str) -> Markup | None:
    if not quantities:
        return None
    sums: dict[tuple[Item, tuple[float, ...], str], float] = {}
    for q in quantities:
        value, unit = shown(q, units)
        key = (q.item, () if q.item in _SHORT else q.size, unit)
        sums[key] = sums.get(key, 0.0) + value
    rows = [
        element(
            "tr",
            element("th", f"{item.value} {format_size(size, units)}".strip(), scope="row"),
            element("td", f"{value:.2f}" if unit[:1] in "mf" else f"{value:.0f}", class_="n"),
            element("td", unit),
        )
        for (item, size, unit), value in sums.items()
    ]
    heads = ("Item", "Net", "Unit")
    return _section(
        "Take-off of this room",
        element(
            "table",
            element("caption", "As hung, without waste and spares", class_="quiet"),
            element("thead", element("tr", *(element("th", head, scope="col") for head in heads))),
            element("tbody", *rows),
        ),
    )


def _judged(card: Card) -> Markup | None:
    """How many rules of documents are within, and what was not checked and why."""
    within = len({(f.document, f.edition, f.rule) for f in card.passes})
    if not within and not card.unchecked:
        return None
    counts = [f"{plural(within, 'rule')} within"]
    for verdict, word in ((Verdict.FAIL, "failing"), (Verdict.UNKNOWN, "not known")):
        rules = {
            (n.finding.document, n.finding.rule)
            for n in card.findings
            if n.finding.document and n.finding.verdict is verdict
        }
        counts.append(f"{len(rules)} {word}")
    rest = [
        element("li", f"{label({'document': u.document, 'edition': u.edition})} {u.title}: {u.reason}")
        for u in card.unchecked
    ]
    return _section(
        "Rules of documents",
        element("p", ", ".join(counts) + "."),
        element(
            "details",
            element("summary", f"{plural(len(rest), 'rule')} not checked, and why"),
            element("ul", *rest),
        )
        if rest
        else None,
    )


def _measured(card: Card, facts: Facts) -> Markup | None:
    """What measuring the room on site changed."""
    said = [s for c, _ in card.parts for s in measured_sentences(c, lambda x: unbroken(x, facts.units))]
    return _section("Measured on site", element("ul", *(element("li", s) for s in said))) if said else None


def _notes(card: Card, facts: Facts) -> Markup | None:
    notes = [n for ceiling, _ in card.parts for n in ceiling.zone.notes]
    notes = list(dict.fromkeys((*(card.room.notes if card.room else ()), *notes)))
    if not notes or card.standing is Standing.BARE:
        return None
    return _section("Notes", element("ul", *(element("li", told(note, facts.units)) for note in notes)))
