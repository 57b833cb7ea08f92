"""A storey's plan inside the report: every room with its grid, its standing as colour, pattern and words.

The drawing is in millimetres of the model, y turned down; the script of the report only
moves its view box, shows and fades rooms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.obstacle import DEVICES, Kind, Obstacle
from ifcgrid.outputs.paper.dimension import told
from ifcgrid.outputs.paper.text import fit_text, measure_text
from ifcgrid.outputs.report.content import Card, Numbered, Standing, Storey
from ifcgrid.outputs.report.markup import Markup, element, join
from ifcgrid.outputs.report.paths import Window
from ifcgrid.outputs.report.words import SIGNS, say_standing, say_verdict

__all__ = ["draw_plan"]

_MARGIN = 900.0
_SOLID = (Kind.WALL, Kind.COLUMN)
_LEAST_SHARE = 1 / 190
"""Text smaller than this share of the plan's width cannot be read before the plan is enlarged."""

_MOST_SHARE = 1 / 62


def _window(storey: Storey) -> Window | None:
    shapes = [card.shape for card in storey.cards if card.shape is not None and not card.shape.is_empty]
    if not shapes:
        return None
    x0, y0, x1, y1 = shapely.total_bounds(np.array(shapes, dtype=object)).tolist()
    return Window(
        left=x0 - _MARGIN, top=y1 + _MARGIN, width=x1 - x0 + 2 * _MARGIN, height=y1 - y0 + 2 * _MARGIN
    )


def draw_plan(
    storey: Storey, obstacles: Sequence[Obstacle], *, units: str, north_deg: float | None = None
) -> Markup:
    """The plan of one storey, or a sentence where none of its rooms has an outline.

    Args:
        storey: its rooms.
        obstacles: walls, columns and devices of this storey; other kinds are not drawn.
        units: "mm" or "ft-in".
        north_deg: direction of north, degrees counter-clockwise from the model's X axis.
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
    plan = element(
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
    return join(plan, _north(north_deg))


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
    frame = shapely.box(window.left, window.top - window.height, window.left + window.width, window.top)
    shapes = (o.outline.intersection(frame) for o in obstacles if o.kind in _SOLID)
    return "".join(window.area(shape) for shape in shapes if shape.area > 0)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Place:
    """The middle of a room's label and how wide and high it may be, in model coordinates."""

    x: float
    y: float
    width: float
    height: float


def _find_place(card: Card) -> _Place | None:
    if card.shape is None or card.shape.is_empty:
        return None
    part = max(getattr(card.shape, "geoms", [card.shape]), key=lambda p: p.area)
    circle = shapely.maximum_inscribed_circle(part, tolerance=50.0)
    (x, y), edge = circle.coords[0], circle.coords[-1]
    radius = float(np.hypot(edge[0] - x, edge[1] - y))
    # The circle says how high a label may be; how wide, the walls beside a band of half that height.
    high = radius * 1.3
    x0, _, x1, _ = part.bounds
    band = shapely.box(x0, y - high / 2, x1, y + high / 2).difference(part)
    parts = [p.bounds for p in getattr(band, "geoms", [band]) if not p.is_empty]
    left = max((b[2] for b in parts if b[2] <= x), default=x0)
    right = min((b[0] for b in parts if b[0] >= x), default=x1)
    return _Place(x=x, y=y, width=1.84 * min(x - left, right - x), height=high)


def _label(window: Window, card: Card, size: float) -> Markup | None:
    """Number, name and standing, as large as the room and the plan allow."""
    place = _find_place(card)
    if place is None:
        return None
    lines = _lines(card)
    text = min(size * _MOST_SHARE, place.height / (1.2 * len(lines)))
    text = min(text, *(place.width / measure_text(line, 1.0) for line in (lines[0], lines[-1])))
    if text < size * _LEAST_SHARE:
        lines = [lines[-1]]
        text = min(size * _MOST_SHARE, place.height, place.width / measure_text(lines[0], 1.0))
    x, y = window.points([(place.x, place.y)])[0].tolist()
    first = y - text * (1.2 * (len(lines) - 1) / 2 - 0.34)
    spans = [
        element("tspan", fit_text(line, place.width, text), x=x, y=round(first + 1.2 * k * text))
        for k, line in enumerate(lines)
    ]
    classes = f"label {card.standing.value}"
    return element(
        "text", *spans, font_size=round(text, 1), class_=classes, data_room=card.place, aria_hidden="true"
    )


_LONGEST = 16


def _lines(card: Card) -> list[str]:
    number = card.number or card.name or "?"
    if len(number) > _LONGEST:
        number = number[: _LONGEST - 1] + "…"
    counts = [card.count(verdict) for verdict in (Verdict.FAIL, Verdict.UNKNOWN)]
    signs = [SIGNS[Standing.FAIL], SIGNS[Standing.UNKNOWN]]
    marks = [f"{sign} {count}" for sign, count in zip(signs, counts, strict=True) if count]
    last = " ".join(marks) if marks and card.parts else SIGNS[card.standing]
    return [number, *([card.name] if card.name and card.name != number else []), last]


def _flag(window: Window, numbered: Numbered, size: float, units: str) -> Markup:
    """A numbered marker whose tip is at the finding's place."""
    finding = numbered.finding
    assert finding.point is not None
    x, y = window.points([finding.point[:2]])[0].tolist()
    r = size / 150
    verdict = say_verdict(finding)
    words = f"Finding {numbered.number}, {verdict}: {told(finding.message, units)}"
    tip = f"M{x} {y}L{x - r:.0f} {y - 1.3 * r:.0f}V{y - 3.1 * r:.0f}H{x + r:.0f}V{y - 1.3 * r:.0f}Z"
    text = min(1.3 * r, 1.7 * r / measure_text(str(numbered.number), 1.0))
    return element(
        "g",
        element("title", words),
        element("circle", cx=x, cy=y, r=round(r * 2.2), class_="ring"),
        element("path", d=tip),
        element("text", numbered.number, x=x, y=round(y - 2.2 * r + text * 0.36), font_size=round(text, 1)),
        class_=f"flag {finding.verdict.value}",
        data_finding=numbered.number,
        role="button",
        tabindex=-1,
        aria_label=words,
    )


def _north(north_deg: float | None) -> Markup | None:
    if north_deg is None:
        return None
    return element(
        "svg",
        element(
            "g",
            element("path", d="M0 -17L6 8L0 4L-6 8Z"),
            element("text", "N", x=0, y=20, font_size=12),
            transform=f"rotate({90 - north_deg:.1f})",
        ),
        class_="north",
        viewBox="-24 -24 48 48",
        role="img",
        aria_label=f"North is {(90 - north_deg) % 360:.1f} degrees clockwise from the top of the plan",
    )
