"""The report as one HTML file: its parts in order, its style and script within, and the ban on all else.

The policy in the file's head names the style and the script by their hashes, so nothing
else runs, also nothing that a model's texts could smuggle in, and nothing is fetched.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from importlib.resources import files

import shapely

from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.version import __version__
from ifcgrid.outputs.cautions import CAUTIONS
from ifcgrid.outputs.check_sheet.floors import label
from ifcgrid.outputs.report.content import Card, FloorReport, Standing, Storey, gather_storeys
from ifcgrid.outputs.report.floor_plans import draw_plans, draw_section
from ifcgrid.outputs.report.look import pack_look
from ifcgrid.outputs.report.markup import Markup, element
from ifcgrid.outputs.report.room_panel import Facts, draw_panel
from ifcgrid.outputs.report.tables import (
    checked_table,
    findings_table,
    order_table,
    quantity_table,
    rooms_table,
)
from ifcgrid.outputs.report.words import SIGNS, STANDINGS, area, plural

__all__ = ["draw_report"]

_STYLES = ("report.css", "print.css")
_SCRIPTS = ("rooms.js", "filters.js", "tables.js", "plans.js", "panel.js", "packs.js", "look.js", "start.js")


def draw_report(report: FloorReport) -> str:
    """The whole file as text."""
    storeys = gather_storeys(report)
    packs = _packs(report)
    style, script = _style(), _script()
    sections = (
        ("plans", "Plans"),
        ("rooms", "Rooms"),
        ("findings", "Findings"),
        *((("takeoff", "Take-off"),) if report.take_off else ()),
        ("checked", "What was checked"),
        ("cautions", "Cautions"),
    )
    main = element(
        "main",
        _summary(storeys, report),
        _filters(storeys),
        draw_plans(storeys, report),
        draw_section("rooms", "Rooms", rooms_table(storeys, report.units)),
        _findings(storeys, report),
        _take_off(report),
        _checked(report),
        _cautions(),
        id="main",
    )
    body = element(
        "body",
        element("a", "Skip to the plans", href="#plans", class_="skip"),
        _header(report, sections),
        main,
        _footer(report),
        *_templates(storeys, report, packs),
        *packs.values(),
        element("script", Markup(script)),
    )
    html = element("html", _head(report, style, script), body, lang="en")
    return f"<!DOCTYPE html>\n{html}\n"


def _asset(name: str) -> str:
    return files(__package__).joinpath("assets", name).read_text(encoding="utf-8")


def _style() -> str:
    return "\n".join(_asset(name) for name in _STYLES)


def _script() -> str:
    """All parts of the script in one scope of its own."""
    return "(() => {\n'use strict';\n" + "\n".join(_asset(name) for name in _SCRIPTS) + "\n})();\n"


def _hash(text: str) -> str:
    return "'sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii") + "'"


def _head(report: FloorReport, style: str, script: str) -> Markup:
    rules = (
        "default-src 'none'",
        f"script-src {_hash(script)}",
        f"style-src {_hash(style)}",
        "img-src data: blob:",
        "base-uri 'none'",
        "form-action 'none'",
    )
    return element(
        "head",
        element("meta", charset="utf-8"),
        element("meta", http_equiv="Content-Security-Policy", content="; ".join(rules)),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="color-scheme", content="light dark"),
        element("meta", name="generator", content=f"ifcgrid {__version__}"),
        element("title", f"Ceilings of {report.title}"),
        element("link", rel="icon", href="data:,"),
        element("style", Markup(style)),
    )


def _header(report: FloorReport, sections: Iterable[tuple[str, str]]) -> Markup:
    return element(
        "header",
        element("h1", "Ceilings of ", element("span", report.title)),
        element("p", report.origin, class_="origin"),
        element(
            "nav",
            *(element("a", title, href=f"#{name}") for name, title in sections),
            aria_label="Parts of this report",
        ),
    )


def _summary(storeys: Sequence[Storey], report: FloorReport) -> Markup:
    cards = [card for storey in storeys for card in storey.cards]
    laid = [card for card in cards if card.room is not None]
    panels = sum(len(c.panels) for c in report.ceilings)
    counts = [
        (plural(len(cards), "room"), f"on {plural(len(storeys), 'storey')}"),
        (area(sum(c.zone.outline.area for c in report.ceilings) / 1e6, report.units), "under grids"),
        (f"{panels:,}", "panels hung"),
        (f"{sum(len(c.hangers) for c in report.ceilings):,}", "hangers"),
        (f"{sum(card.count(Verdict.FAIL) for card in laid)}", "findings fail"),
        (f"{sum(card.count(Verdict.UNKNOWN) for card in laid)}", "not known"),
    ]
    items = [element("div", element("dt", word), element("dd", count)) for count, word in counts]
    return element("dl", *items, class_="summary")


def _filters(storeys: Sequence[Storey]) -> Markup:
    cards = [card for storey in storeys for card in storey.cards]
    systems = sorted({card.parts[0][0].system.id for card in cards if card.parts})
    chips = [
        element(
            "button",
            element("span", SIGNS[standing], class_="sign", aria_hidden="true"),
            f"{STANDINGS[standing][0]} ",
            element("span", sum(card.standing is standing for card in cards), class_="count"),
            type="button",
            class_=f"chip {standing.value}",
            data_standing=standing.value,
            aria_pressed="true",
            title=STANDINGS[standing][1],
        )
        for standing in Standing
    ]
    return element(
        "form",
        _select("storey", "Storey", [(str(s.place), s.name or "no storey") for s in storeys]),
        _select("system", "Grid system", [(name, name) for name in systems]),
        element(
            "label",
            "Find ",
            element("input", type="search", id="words", placeholder="room, finding, rule …"),
        ),
        element("div", *chips, role="group", aria_label="Rooms by how they stand", class_="chips"),
        element("button", "Show all", type="reset", id="show-all"),
        element("p", id="count", role="status", aria_live="polite"),
        class_="filters scripted",
        role="search",
        aria_label="Filter rooms and findings",
    )


def _select(name: str, title: str, options: Iterable[tuple[str, str]]) -> Markup:
    choices = [element("option", "all", value="")]
    choices += [element("option", word, value=value) for value, word in options]
    return element("label", f"{title} ", element("select", *choices, id=name))


def _findings(storeys: Sequence[Storey], report: FloorReport) -> Markup:
    if any(card.findings for storey in storeys for card in storey.cards):
        return draw_section("findings", "Findings", findings_table(storeys, report.units))
    return draw_section(
        "findings", "Findings", element("p", "None of the checks that were run fails or lacks data.")
    )


def _take_off(report: FloorReport) -> Markup | None:
    if report.take_off is None:
        return None
    assumed = [
        element("li", f"{what}: {value} ", element("small", f"({basis})"))
        for what, value, basis in report.take_off.assumptions
    ]
    return draw_section(
        "takeoff",
        "Take-off",
        quantity_table(report.take_off, report.units),
        order_table(report.take_off, report.units),
        element("details", element("summary", "What was assumed"), element("ul", *assumed)),
    )


def _checked(report: FloorReport) -> Markup:
    documents = [
        element("li", f"{label(d)}: {d['title']}", *_switches(d.get("switches", {})))
        for d in report.documents
    ]
    words = (
        "Clashes with what stands in the models, and the rules of these documents and editions:"
        if documents
        else "Clashes with what stands in the models. No document was named, so no rule of one was checked; "
        "loads, seismic restraint, fire and sound were not checked."
    )
    return draw_section(
        "checked",
        "What was checked, and what was not",
        element("p", words),
        element("ul", *documents) if documents else None,
        checked_table(report.findings, report.unchecked) if report.findings or report.unchecked else None,
        element(
            "p",
            "A rule that found nothing to judge is not listed. Nothing here is an approval: what no finding "
            "names was not checked.",
        ),
    )


def _switches(switches: Mapping[str, str]) -> Iterable[str]:
    yield from (f"; {rule} = {choice}" for rule, choice in switches.items())


def _cautions() -> Markup:
    items = [element("li", f"{c.text} ", element("small", f"({c.source})")) for c in CAUTIONS]
    return draw_section("cautions", "Cautions", element("ul", *items))


def _footer(report: FloorReport) -> Markup:
    facts = [
        element("div", element("dt", name), element("dd", value)) for name, value in report.stamp.items()
    ]
    link = None
    if report.model_link:
        link = element("p", element("a", "The ceilings as a 3D model (glTF)", href=report.model_link))
    return element(
        "footer", element("h2", "Where this comes from"), element("dl", *facts, class_="facts"), link
    )


def _packs(report: FloorReport) -> dict[str, Markup]:
    """By ceiling the set-out sheet and the 3D look, packed: the browser unpacks one when it is opened."""
    tree = shapely.STRtree([o.outline for o in report.obstacles])
    packs = {}
    for ceiling in report.ceilings:
        near = [report.obstacles[k] for k in sorted(tree.query(ceiling.zone.outline).tolist())]
        told = {"sheet": report.sheets.get(ceiling.key, ""), "look": pack_look(ceiling, near)}
        packed = gzip.compress(json.dumps(told, separators=(",", ":")).encode("utf-8"), mtime=0)
        packs[ceiling.key] = element(
            "script", base64.b64encode(packed).decode("ascii"), type="text/plain", data_pack=ceiling.key
        )
    return packs


def _templates(
    storeys: Sequence[Storey], report: FloorReport, packs: Mapping[str, Markup]
) -> Iterable[Markup]:
    facts = Facts.of(
        units=report.units,
        storeys=[storey.name for storey in storeys],
        take_off=report.take_off,
        remarks=report.remarks,
        packed=packs,
    )
    for storey in storeys:
        for card in storey.cards:
            yield element("template", draw_panel(card, facts), **_template_facts(card, storey))


def _template_facts(card: Card, storey: Storey) -> dict[str, str | int]:
    return {
        "data_room": card.place,
        "data_key": card.key,
        "data_title": card.title,
        "data_storey": storey.place,
        "data_standing": card.standing.value,
        "data_system": card.parts[0][0].system.id if card.parts else "",
        "data_words": " ".join(
            (
                card.number,
                card.name,
                card.reason,
                *(n.finding.message + " " + n.finding.rule for n in card.findings),
            )
        ).lower(),
    }
