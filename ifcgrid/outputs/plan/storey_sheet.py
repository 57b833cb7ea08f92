"""A storey's reflected ceiling plan as SVG: every room, its grid, what is in the way and what was found.

Seen from above with the orientation of the floor plan, to a true scale, readable in
monochrome. Rooms without a ceiling are shown dotted, with the reason in the list.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.obstacle import DEVICES, Kind, Obstacle
from ifcgrid.outputs.cautions import caution_texts
from ifcgrid.outputs.paper.dimension import told
from ifcgrid.outputs.paper.sheet import (
    MARGIN,
    PAPERS,
    SCALES,
    Block,
    Paper,
    View,
    draw_foot,
    draw_head,
    draw_north,
    draw_scale_bar,
    flow_blocks,
    pick_scale,
    widest,
)
from ifcgrid.outputs.paper.svg import Box, Canvas, Label
from ifcgrid.outputs.paper.symbol import SYMBOL_WORDS, box_ring, draw_device, draw_flag, draw_hangers
from ifcgrid.outputs.plan.tag import draw_tags

__all__ = ["OmittedRoom", "draw_storey"]

_LIST_TEXT = 2.8
_GOOD_SCALE = 100
"""Ceiling plans are usual at 1:100 (US VA design manual, 1.17.7): larger paper is taken to reach it."""

_PAPERS = tuple(paper for paper in PAPERS.values() if not paper.name.startswith("A4 "))

_LIST_WIDTH = 92.0
_BAR_HEIGHT = 14.0
_GREY = "#bbb"
_MOST_FINDINGS = 30
_WALL, _MAIN, _TEE = 0.5, 0.35, 0.12
_SOLID = (Kind.WALL, Kind.COLUMN)


@dataclass(frozen=True, slots=True, kw_only=True)
class OmittedRoom:
    """A room of the storey that got no ceiling; `outline` in model coordinates, None when unknown."""

    number: str
    name: str
    reason: str
    outline: Polygon | MultiPolygon | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Storey:
    """What is drawn: failing findings in the order of their numbers."""

    ceilings: Sequence[Ceiling]
    omitted: Sequence[OmittedRoom]
    obstacles: Sequence[Obstacle]
    findings: Sequence[Finding] = field(default=())
    units: str = "mm"


def _extent(storey: _Storey) -> tuple[float, float, float, float]:
    """Bounds of all rooms; of the walls and columns when there is no room."""
    shapes: list[Polygon | MultiPolygon] = [c.zone.outline for c in storey.ceilings]
    shapes += [o.outline for o in storey.omitted if o.outline is not None]
    shapes = shapes or [o.outline for o in storey.obstacles]
    if not shapes:
        return (0.0, 0.0, 1000.0, 1000.0)
    x0, y0, x1, y1 = shapely.total_bounds(np.array(shapes, dtype=object)).tolist()
    return (x0, y0, x1, y1)


def _solids(canvas: Canvas, view: View, storey: _Storey, extent: tuple[float, float, float, float]) -> None:
    """Walls and columns in grey, cut off a little outside the rooms."""
    window = shapely.box(*extent).buffer(600.0, join_style="mitre")
    for kind in _SOLID:
        rings: list[NDArray[np.float64]] = []
        for obstacle in storey.obstacles:
            if obstacle.kind is kind:
                shape = obstacle.outline.intersection(window)
                parts = [p for p in getattr(shape, "geoms", [shape]) if isinstance(p, Polygon) and p.area > 0]
                rings += [ring for part in parts for ring in view.rings(part)]
        for ring in rings:
            canvas.areas([ring], 0.18, fill=_GREY)


def _grid(canvas: Canvas, view: View, ceiling: Ceiling) -> None:
    members, frame = ceiling.members, ceiling.layout.frame
    pieces = np.stack(
        [view.paper(frame.to_world(members.start)), view.paper(frame.to_world(members.end))], axis=1
    )
    is_tee = (members.role == Role.CROSS_TEE) | (members.role == Role.SECOND_TEE)
    canvas.lines(pieces[is_tee], _TEE)
    canvas.lines(pieces[members.role == Role.MAIN_RUNNER], _MAIN)
    if len(ceiling.hangers):
        draw_hangers(canvas, view.paper(frame.to_world(ceiling.hangers.point)), size=0.55)


def _devices(canvas: Canvas, view: View, storey: _Storey) -> tuple[list[Kind], list[Box]]:
    """Devices over a room of this storey, drawn by kind; returns the kinds that occur and their places."""
    drawn: set[Kind] = set()
    marks: list[Box] = []
    tree = shapely.STRtree([ceiling.zone.outline for ceiling in storey.ceilings])
    for obstacle in storey.obstacles:
        if obstacle.kind in DEVICES and len(tree.query(obstacle.outline, predicate="intersects")):
            outline = obstacle.outline
            part = max(getattr(outline, "geoms", [outline]), key=lambda p: p.area)
            ring = view.paper(np.asarray(part.exterior.coords)[:-1, :2])
            draw_device(canvas, obstacle.kind, ring)
            drawn.add(obstacle.kind)
            marks.append(Box(*ring.min(axis=0).tolist(), *ring.max(axis=0).tolist()).grow(0.6))
    return [kind for kind in Kind if kind in drawn], marks


def _rooms(canvas: Canvas, view: View, storey: _Storey) -> None:
    for omitted in storey.omitted:
        if omitted.outline is not None:
            canvas.areas(view.rings(omitted.outline), 0.3, dash="0.4 1.2")
    for ceiling in storey.ceilings:
        canvas.areas(view.rings(ceiling.zone.outline), _WALL)
        if len(ceiling.zone.rooms) > 1:
            for room in ceiling.zone.rooms:
                canvas.areas(view.rings(room.outline), 0.2, dash="2 1")


def _legend(canvas: Canvas, box: Box, kinds: Sequence[Kind], has_flags: bool) -> None:
    entries: list[tuple[str, str]] = [
        ("wall of a ceiling", "wall"),
        ("main", "main"),
        ("tee", "tee"),
        ("hanger", "hanger"),
        ("no ceiling (see list)", "omitted"),
        ("wall, column", "solid"),
        *((SYMBOL_WORDS[kind], kind.value) for kind in kinds),
    ]
    if has_flags:
        entries.append(("finding, by number", "flag"))
    x, y, size = box.left, box.top + 2.0, 2.4
    for text, what in entries:
        wide = 9.0 + widest([text], size) + 4.0
        if x + wide > box.right and x > box.left:
            x, y = box.left, y + 4.8
        _sample(canvas, what, x, y)
        canvas.put(Label(x=x + 8.5, y=y + 0.8, text=text, size=size))
        x += wide


def _sample(canvas: Canvas, what: str, x: float, y: float) -> None:
    stroke = [[(x, y), (x + 7.0, y)]]
    if what == "omitted":
        canvas.lines(stroke, 0.3, dash="0.4 1.2")
    elif what == "solid":
        canvas.rectangle(Box(x, y - 1.0, x + 7.0, y + 1.0), 0.18, fill=_GREY)
    elif what == "hanger":
        draw_hangers(canvas, np.array([[x + 5.0, y]]), size=0.55)
    elif what == "flag":
        canvas.areas([[(x + 5.0, y + 1.3), (x + 3.7, y - 1.3), (x + 6.3, y - 1.3)]], 0.35, fill="#000")
    elif what in ("wall", "main", "tee"):
        canvas.lines(stroke, {"wall": _WALL, "main": _MAIN, "tee": _TEE}[what])
    else:
        draw_device(canvas, Kind(what), box_ring(x + 3.5, y - 1.5, 3.0))


def _blocks(storey: _Storey, untagged: Sequence[str], findings: Sequence[Finding]) -> list[Block]:
    blocks = []
    if storey.findings:
        names = {room.key: room.number or room.name for c in storey.ceilings for room in c.zone.rooms}
        lines = []
        for number, found in enumerate(storey.findings[:_MOST_FINDINGS], start=1):
            where = names.get(found.room, "")
            lines.append(f"{number}. {where + ': ' if where else ''}{told(found.message, storey.units)}")
        if len(storey.findings) > _MOST_FINDINGS:
            lines.append(f"... and {len(storey.findings) - _MOST_FINDINGS} more: see the record.")
        blocks.append(Block(title="Findings that fail", lines=lines))
    else:
        blocks.append(Block(title="Findings that fail", lines=["None among the checks that were run."]))
    unknown = sum(f.verdict is Verdict.UNKNOWN for f in findings)
    if unknown:
        blocks.append(Block(title="Not judged", lines=[f"{unknown} checks: the model lacks the data."]))
    if storey.omitted:
        lines = [f"{' '.join(t for t in (o.number, o.name) if t)}: {o.reason}" for o in storey.omitted]
        blocks.append(Block(title="Rooms without a ceiling", lines=lines))
    if untagged:
        blocks.append(Block(title="Rooms too small for a tag", lines=list(untagged)))
    return blocks


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    paper: Paper
    plan: Box
    column: Box
    scale: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """The texts around the plan, and how lengths are printed."""

    title: str
    subtitle: str
    stamp: Mapping[str, str]
    units: str


def _fit(paper: Paper, words: _Words, size: tuple[float, float]) -> _Sheet:
    scratch = Canvas(paper.width, paper.height, "")
    top = draw_head(scratch, words.title, words.subtitle)
    bottom = draw_foot(scratch, words.stamp, caution_texts(is_short=True))
    split = paper.width - MARGIN - _LIST_WIDTH
    plan = Box(MARGIN, top, split - 4.0, bottom)
    room = Box(plan.left + 4.0, plan.top + 4.0, plan.right - 4.0, plan.bottom - _BAR_HEIGHT - 4.0)
    scale = pick_scale(*size, room) or SCALES[-1]
    column = Box(split, top + 1.5, paper.width - MARGIN, bottom)
    return _Sheet(paper=paper, plan=room, column=column, scale=scale)


def _choose(words: _Words, size: tuple[float, float], blocks: Sequence[Block]) -> _Sheet:
    """The smallest paper, from A3 up, on which the storey is at least at the usual scale and the list fits.

    Where none reaches that scale, the one of the largest; the list gives way first.
    """

    def cost(sheet: _Sheet) -> tuple[int, int, float]:
        left_over = flow_blocks(None, blocks, [sheet.column], _LIST_TEXT)
        return max(sheet.scale, _GOOD_SCALE), left_over, sheet.paper.width * sheet.paper.height

    return min((_fit(paper, words, size) for paper in _PAPERS), key=cost)


def _subtitle(storey: _Storey, units: str) -> str:
    systems = ", ".join(dict.fromkeys(c.system.title for c in storey.ceilings)) or "no ceiling"
    return (
        f"Reflected ceiling plan seen from above, same orientation as the floor plan and model. {systems}. "
        f"Levels above each room's floor, to the underside of the grid; borders along / across the mains; "
        f"both in {'mm' if units == 'mm' else 'feet and inches, to 1/16 in'}."
    )


def draw_storey(
    storey: str,
    ceilings: Sequence[Ceiling],
    rooms_without: Iterable[OmittedRoom] = (),
    *,
    obstacles: Sequence[Obstacle] = (),
    findings: Sequence[Finding] = (),
    stamp: Mapping[str, str],
    units: str = "mm",
    north_deg: float | None = None,
) -> str:
    """The plan of one storey as SVG text.

    Args:
        storey: its name, for the title.
        ceilings: the ceilings of this storey.
        rooms_without: its other rooms, with the reason.
        obstacles: walls, columns and devices of this storey; other kinds are not drawn.
        findings: those of this storey; the failing ones are numbered in the given order.
        stamp: provenance, printed as it is.
        units: "mm" or "ft-in", for the tags and the scale bar.
        north_deg: direction of north in the model's plan, degrees counter-clockwise from
            the model's X axis; no arrow is drawn without it.
    """
    failing = [f for f in findings if f.verdict is Verdict.FAIL]
    things = _Storey(
        ceilings=ceilings, omitted=tuple(rooms_without), obstacles=obstacles, findings=failing, units=units
    )
    title = f"{storey or 'Storey'} - ceilings"
    words = _Words(title=title, subtitle=_subtitle(things, units), stamp=stamp, units=units)
    extent = _extent(things)
    size = (extent[2] - extent[0], extent[3] - extent[1])
    sheet = _choose(words, size, _blocks(things, (), findings))
    canvas = Canvas(sheet.paper.width, sheet.paper.height, title)
    draw_head(canvas, title, words.subtitle)
    draw_foot(canvas, stamp, caution_texts(is_short=True))
    if north_deg is not None:
        draw_north(canvas, north_deg)
    y = sheet.plan.bottom + 4.0 + 5.5
    right = draw_scale_bar(canvas, MARGIN + 2.0, y, sheet.scale, units)
    view = View(
        frame=Frame(x=0.0, y=0.0),
        scale=sheet.scale,
        u=extent[0],
        v=extent[1],
        x=sheet.plan.left + (sheet.plan.width - size[0] / sheet.scale) / 2,
        y=sheet.plan.top + (sheet.plan.height + size[1] / sheet.scale) / 2,
    )
    kinds, marks = _draw_things(canvas, view, things, extent)
    _legend(canvas, Box(right + 4.0, y - 4.0, sheet.plan.right, y + 10.0), kinds, bool(failing))
    untagged = draw_tags(
        canvas, view, ceilings, [(o.number, o.name, o.outline) for o in things.omitted], marks, units
    )
    _list(canvas, _blocks(things, untagged, findings), sheet.column)
    return canvas.to_text()


def _list(canvas: Canvas, blocks: Sequence[Block], column: Box) -> None:
    """The list; where it has more than the column holds, the last line says so."""
    note_height = 2.0 * _LIST_TEXT
    lost = flow_blocks(None, blocks, [column], _LIST_TEXT)
    if lost:
        column = Box(column.left, column.top, column.right, column.bottom - note_height)
        lost = flow_blocks(None, blocks, [column], _LIST_TEXT)
        text = f"... and {lost} lines more: see the record."
        canvas.put(Label(x=column.left, y=column.bottom + 0.8 * note_height, text=text, size=_LIST_TEXT))
    flow_blocks(canvas, blocks, [column], _LIST_TEXT)


def _draw_things(
    canvas: Canvas, view: View, storey: _Storey, extent: tuple[float, float, float, float]
) -> tuple[list[Kind], list[Box]]:
    _solids(canvas, view, storey, extent)
    for ceiling in storey.ceilings:
        _grid(canvas, view, ceiling)
    kinds, marks = _devices(canvas, view, storey)
    _rooms(canvas, view, storey)
    for number, finding in enumerate(storey.findings, start=1):
        if finding.point is not None:
            x, y = view.paper([finding.point[:2]])[0].tolist()
            draw_flag(canvas, x, y, number)
            marks.append(Box(x - 1.4, y - 2.8, x + 1.4, y + 0.2))
    return kinds, marks
