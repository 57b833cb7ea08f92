"""The report's plans with their tools and legend, storey by storey."""

from __future__ import annotations

from collections.abc import Sequence

import shapely

from ifcgrid.domain.obstacle import DEVICES, Kind, Obstacle
from ifcgrid.outputs.report.content import FloorReport, Standing, Storey
from ifcgrid.outputs.report.markup import Content, Markup, element
from ifcgrid.outputs.report.storey_plan import draw_north, draw_plan
from ifcgrid.outputs.report.words import SIGNS, STANDINGS

__all__ = ["draw_plans", "draw_section"]

_HANG = 600.0
"""Devices whose lowest point is at most this far above a storey's highest ceiling, in mm, are in its plan."""

_REACH = 1500.0
"""Walls and columns within this distance of a storey's rooms, in mm, are in its plan."""


def draw_section(name: str, title: str, *content: Content) -> Markup:
    """A part of the report under a heading that addresses lead to."""
    return element(
        "section", element("h2", title, id=name, tabindex=-1), *content, aria_labelledby=name, class_="part"
    )


def draw_plans(storeys: Sequence[Storey], report: FloorReport) -> Markup:
    """The plans of all storeys with their legend, and beside them the place of the panel."""
    layers = [
        element("label", element("input", type="checkbox", checked=True, data_layer=layer), f" {word}")
        for layer, word in (
            ("grid", "grid"),
            ("devices", "devices"),
            ("labels", "labels"),
            ("flags", "findings"),
        )
    ]
    plans = [_figure(storey, report) for storey in storeys]
    legend = [
        element(
            "li",
            element("span", SIGNS[s], class_=f"swatch {s.value}", aria_hidden="true"),
            element("b", STANDINGS[s][0]),
            f": {STANDINGS[s][1]}",
        )
        for s in Standing
    ]
    return element(
        "div",
        draw_section(
            "plans",
            "Plans",
            element("fieldset", element("legend", "On the plans"), *layers, class_="layers scripted"),
            *plans,
            element("ul", *legend, class_="legend"),
            element(
                "p",
                "Arrow keys go from room to room, Enter opens one, + and − enlarge and reduce, 0 shows the "
                "whole storey. With a mouse: click a room, drag to move, Ctrl and wheel to enlarge.",
                id="plan-keys",
                class_="keys scripted",
            ),
        ),
        element("section", id="panel", hidden=True, aria_labelledby="panel-title", class_="panel"),
        class_="bench",
    )


def _figure(storey: Storey, report: FloorReport) -> Markup:
    return element(
        "figure",
        element(
            "figcaption",
            element("h3", storey.name or "No storey"),
            draw_north(report.north_deg),
            _tools(storey),
        ),
        draw_plan(storey, _things_on(storey, report.obstacles), units=report.units),
        _off_plan(storey),
        class_="storey",
        data_storey=storey.place,
        data_name=storey.name,
    )


def _tools(storey: Storey) -> Markup:
    name = storey.name or "the storey"
    tools = [
        element("button", sign, type="button", data_zoom=step, aria_label=f"{words} {name}")
        for sign, step, words in (
            ("+", "in", "Enlarge the plan of"),
            ("−", "out", "Reduce the plan of"),
            ("All", "all", "Show all of"),
        )
    ]
    return element("span", *tools, class_="tools scripted")


def _off_plan(storey: Storey) -> Markup | None:
    """Rooms that are not drawn."""
    lost = [card for card in storey.cards if card.shape is None or card.shape.is_empty]
    if not lost:
        return None
    names = [f"{card.title}: {card.reason}" for card in lost]
    return element(
        "div",
        element("p", "Not drawn, as they have no outline or lie on another room:"),
        element("ul", *(element("li", name) for name in names)),
        class_="off-plan",
    )


def _things_on(storey: Storey, obstacles: Sequence[Obstacle]) -> list[Obstacle]:
    """Walls, columns and devices of a storey: from its floors up to a little above its ceilings."""
    parts = [(ceiling, room) for card in storey.cards for ceiling, _ in card.parts for room in (card.room,)]
    rooms = [room for _, room in parts if room is not None]
    if not rooms:
        return []
    low, high = min(room.floor for room in rooms), max(ceiling.zone.level for ceiling, _ in parts)
    highest = {kind: high + _HANG for kind in DEVICES} | {Kind.WALL: high, Kind.COLUMN: high}
    tall = [o for o in obstacles if o.kind in highest and o.top > low and o.bottom < highest[o.kind]]
    around = shapely.box(*shapely.total_bounds([room.outline for room in rooms])).buffer(_REACH)
    tree = shapely.STRtree([o.outline for o in tall])
    return [tall[k] for k in sorted(tree.query(around).tolist())]
