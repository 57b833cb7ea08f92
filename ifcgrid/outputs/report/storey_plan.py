"""A storey's plan inside the report: every room with its grid, its standing as colour, pattern and words.

The drawing is in millimetres of the model, y turned down; the script of the report only
moves its view box, shows and fades rooms.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.obstacle import DEVICES, Kind, Obstacle
from ifcgrid.outputs.paper.dimension import told
from ifcgrid.outputs.paper.text import measure_text
from ifcgrid.outputs.report.content import Card, Numbered, Standing, Storey
from ifcgrid.outputs.report.label import place_label
from ifcgrid.outputs.report.markup import Markup, element, join
from ifcgrid.outputs.report.paths import Window
from ifcgrid.outputs.report.words import say_standing, say_verdict

__all__ = ["draw_north", "draw_plan"]

_MARGIN = 900.0
_SOLID = (Kind.WALL, Kind.COLUMN)
_TEXT = 1 / 62
"""The largest text as a share of the plan's width."""

_FLAG = 1 / 150
"""Half the width of a flag as a share of the plan's width."""


def _window(storey: Storey) -> Window | None:
    shapes = [card.shape for card in storey.cards if card.shape is not None and not card.shape.is_empty]
    if not shapes:
        return None
    x0, y0, x1, y1 = shapely.total_bounds(np.array(shapes, dtype=object)).tolist()
    return Window(
        left=x0 - _MARGIN, top=y1 + _MARGIN, width=x1 - x0 + 2 * _MARGIN, height=y1 - y0 + 2 * _MARGIN
    )


def draw_plan(storey: Storey, obstacles: Sequence[Obstacle], *, units: str) -> Markup:
    """The plan of one storey, or a sentence where none of its rooms has an outline.

    Args:
        storey: its rooms.
        obstacles: walls, columns and devices of this storey; other kinds are not drawn.
        units: "mm" or "ft-in".
    """
    window = _window(storey)
    if window is None:
        return element("p", "No room of this storey has an outline that could be drawn.", class_="empty")
    size = max(window.width, window.height * 1.4)
    flags = [n for card in storey.cards for n in card.findings if n.finding.point is not None]
    body = join(
        _patterns(storey.place, size),
        element("g", element("path", d=_solids(window, obstacles)), class_="solids"),
        element("g", *(_room(window, card, storey.place, size) for card in storey.cards), class_="rooms"),
        element("g", *_devices(window, obstacles), class_="devices"),
        element("g", *(_label(window, card, size) for card in storey.cards), class_="labels"),
        element("g", *(_flag(window, n, size, units) for n in flags), class_="flags"),
    )
    return element(
        "svg",
        body,
        class_="plan",
        viewBox=f"0 0 {window.width:.0f} {window.height:.0f}",
        data_storey=storey.place,
        role="group",
        aria_label=f"Plan of {storey.name or 'the storey'}, {len(storey.cards)} rooms",
        aria_describedby="plan-keys",
        preserveAspectRatio="xMidYMid meet",
    )


def _patterns(place: int, size: float) -> Markup:
    """Hatches by standing: the pattern tells them apart where colour does not."""
    step = round(size / 110)
    thin = max(round(step / 9), 1)
    bars = f"M0 {step}L{step} 0M{-step // 4} {step // 4}L{step // 4} {-step // 4}"
    bars += f"M{step * 3 // 4} {step * 5 // 4}L{step * 5 // 4} {step * 3 // 4}"
    cells = {
        Standing.FAIL: element("path", d=bars, stroke_width=thin * 2),
        Standing.UNKNOWN: element("circle", cx=step / 2, cy=step / 2, r=step / 6.5),
        Standing.BARE: element("path", d=f"M0 {step / 2}H{step / 2}M{step / 2} 0H{step}", stroke_width=thin),
    }
    return element(
        "defs",
        *(
            element(
                "pattern",
                cell,
                id=f"hatch-{place}-{standing.value}",
                class_=f"hatch {standing.value}",
                width=step,
                height=step,
                patternUnits="userSpaceOnUse",
            )
            for standing, cell in cells.items()
        ),
    )


def _solids(window: Window, obstacles: Sequence[Obstacle]) -> str:
    """Walls and columns as one shape: where two overlap, the even-odd rule would leave a gap."""
    frame = shapely.box(window.left, window.top - window.height, window.left + window.width, window.top)
    shapes = [o.outline for o in obstacles if o.kind in _SOLID]
    return window.area(shapely.union_all(shapes).intersection(frame))


def _room(window: Window, card: Card, storey: int, size: float) -> Markup | None:
    if card.shape is None or card.shape.is_empty:
        return None
    path, standing = window.area(card.shape), card.standing
    shapes = [element("path", d=path, class_="fill")]
    if standing is not Standing.CLEAR:
        shapes.append(
            element("path", d=path, class_="pattern", fill=f"url(#hatch-{storey}-{standing.value})")
        )
    shapes += [_grid(window, ceiling, index, size) for ceiling, index in card.parts]
    shapes.append(element("path", d=path, class_="edge"))
    words = f"{card.title}: {say_standing(card)}"
    return element(
        "g",
        element("title", words),
        *shapes,
        class_=f"room {standing.value}",
        data_room=card.place,
        role="button",
        tabindex=-1,
        aria_label=words,
    )


def _grid(window: Window, ceiling: Ceiling, index: int, size: float) -> Markup:
    """Mains, tees and hangers of one room."""
    members, frame = ceiling.members, ceiling.layout.frame
    own = members.room == index
    ends = np.stack([frame.to_world(members.start), frame.to_world(members.end)], axis=1)
    tees = own & ((members.role == Role.CROSS_TEE) | (members.role == Role.SECOND_TEE))
    hung = ceiling.hangers.point[ceiling.hangers.room == index]
    paths = {
        "tees": window.lines(ends[tees]),
        "mains": window.lines(ends[own & (members.role == Role.MAIN_RUNNER)]),
        "hangers": window.crosses(frame.to_world(hung), min(size / 700, 90.0)) if len(hung) else "",
    }
    return element("g", *(element("path", d=d, class_=name) for name, d in paths.items() if d), class_="grid")


def _devices(window: Window, obstacles: Sequence[Obstacle]) -> list[Markup]:
    """One path a kind, so that a floor of a thousand lights stays light."""
    kinds: dict[Kind, list[str]] = {}
    for obstacle in obstacles:
        if obstacle.kind in DEVICES:
            kinds.setdefault(obstacle.kind, []).append(window.area(obstacle.outline))
    return [
        element("path", d="".join(paths), class_=f"device {kind.value.replace(' ', '-')}")
        for kind, paths in sorted(kinds.items())
    ]


def _label(window: Window, card: Card, size: float) -> Markup | None:
    """Number, name and standing, where there is room for them."""
    tips = [n.finding.point[:2] for n in card.findings if n.finding.point is not None]
    flags = np.array(tips, dtype=float).reshape(-1, 2)
    placed = place_label(card, size * _TEXT, flags, size * _FLAG * 2.4)
    if placed is None:
        return None
    x, y = window.points([(placed.x, placed.y)])[0].tolist()
    spans = [
        element(
            "tspan",
            line.text,
            x=x,
            y=round(y + below),
            font_size=round(placed.size * line.share, 1),
            class_="sign" if line.is_sign else None,
        )
        for line, below in zip(placed.lines, placed.baselines(), strict=True)
    ]
    classes = f"label {card.standing.value}"
    return element("text", *spans, class_=classes, data_room=card.place, aria_hidden="true")


def _flag(window: Window, numbered: Numbered, size: float, units: str) -> Markup:
    """A numbered marker whose tip is at the finding's place."""
    finding = numbered.finding
    assert finding.point is not None
    x, y = window.points([finding.point[:2]])[0].tolist()
    r = size * _FLAG
    words = f"Finding {numbered.number}, {say_verdict(finding)}: {told(finding.message, units)}"
    tip = f"M0 0L{-r:.0f} {-1.3 * r:.0f}V{-3.1 * r:.0f}H{r:.0f}V{-1.3 * r:.0f}Z"
    text = min(1.3 * r, 1.7 * r / measure_text(str(numbered.number), 1.0))
    return element(
        "g",
        element("title", words),
        element("circle", r=round(r * 2.2), class_="ring"),
        element("path", d=tip),
        element("text", numbered.number, y=round(-2.2 * r + text * 0.36), font_size=round(text, 1)),
        class_=f"flag {finding.verdict.value}",
        data_finding=numbered.number,
        data_x=x,
        data_y=y,
        transform=f"translate({x} {y})",
        role="button",
        tabindex=-1,
        aria_label=words,
    )


def draw_north(north_deg: float | None) -> Markup | None:
    """An arrow to the north; None where the model does not say where that is."""
    if north_deg is None:
        return None
    return element(
        "svg",
        element("path", d="M0 -20L7 10L0 5L-7 10Z", transform=f"rotate({90 - north_deg:.1f})"),
        class_="north",
        viewBox="-22 -22 44 44",
        role="img",
        aria_label=f"North is {(90 - north_deg) % 360:.1f} degrees clockwise from the top of the plan",
    )
