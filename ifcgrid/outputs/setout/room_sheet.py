"""A room's set-out sheet as SVG: what a foreman needs to start with one tape, one laser and two strings.

Reflected ceiling plan seen from above (same orientation as the floor plan), turned so that
the grid stands level on paper, to a true scale, readable in monochrome.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.outputs.cautions import caution_texts
from ifcgrid.outputs.paper.dimension import format_length
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
)
from ifcgrid.outputs.paper.svg import Box, Canvas, Label
from ifcgrid.outputs.setout.control import ControlLine, find_control_lines, plan_setout
from ifcgrid.outputs.setout.drawing import chain_width, draw_legend, draw_plan
from ifcgrid.outputs.setout.lists import list_blocks

__all__ = ["ControlLine", "draw_setout", "find_control_lines", "page_frame"]

_GOOD_SCALE = 50
"""A room that fits A4 at this scale or larger stays on A4 (our own choice)."""

_LEAST_SCALE = 100
"""A room that A3 takes only at a smaller scale than this gets a larger sheet (our own choice)."""

_AREA = 5e4

_LARGER = ("A4x4 ", "A2 ", "A3x3 ", "A1 ")

_LIST_TEXT = (3.6, 3.2, 2.8)
"""Font sizes of the lists in mm, the largest that fits is taken."""

_PARTS = (1.0, 0.8, 0.6)
"""How much of their greatest height lists below the plan may take."""

_LEGEND = 19.0
_STEP = {"mm": 300.0, "ft-in": 304.8}
"""Unit of the 3-4-5 check: 300 mm or 1 ft."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """A way to put the room on paper: regions in mm, scale 1 to `scale`, lines of text that do not fit."""

    paper: Paper
    plan: Box
    room: Box
    columns: tuple[Box, ...]
    scale: int
    text: float
    left_over: int


def page_frame(frame: Frame) -> Frame:
    """The layout's frame turned by quarter turns until it is within 45 degrees of the model's axes."""
    return Frame(x=frame.x, y=frame.y, angle_deg=(frame.angle_deg + 45.0) % 90.0 - 45.0)


def _split(paper: Paper, top: float, bottom: float, part: float) -> tuple[Box, tuple[Box, ...]]:
    """The plan's region and the columns of text beside it (`part` 0), or below it on part of their height."""
    left, right = MARGIN, paper.width - MARGIN
    is_large = not paper.name.startswith("A4 ")
    if not part:
        start = right - (118.0 if is_large else 100.0)
        return Box(left, top, start - 4.0, bottom), (Box(start, top + 1.5, right, bottom),)
    count, start = (3, bottom - 118.0 * part) if is_large else (2, bottom - 112.0 * part)
    if paper.width > paper.height:
        count += 1
    width = (right - left - 5.0 * (count - 1)) / count
    columns = tuple(
        Box(left + k * (width + 5.0), start, left + k * (width + 5.0) + width, bottom) for k in range(count)
    )
    return Box(left, top, right, start - 3.0), columns


def _fit(paper: Paper, texts: _Texts, size: tuple[float, float], chain: float, part: float) -> _Sheet:
    """The largest usual scale at which the room and its dimensions fit this paper, and what is left over."""
    scratch = Canvas(paper.width, paper.height, "")
    top = draw_head(scratch, texts.title, texts.subtitle)
    bottom = draw_foot(scratch, texts.stamp, caution_texts(is_short=True))
    plan, columns = _split(paper, top, bottom, part)
    room = Box(
        plan.left + 11.0 + chain, plan.top + 11.0, plan.right - 11.0, plan.bottom - 12.0 - chain - _LEGEND
    )
    left_over, text = min((flow_blocks(None, texts.blocks, columns, text), -text) for text in _LIST_TEXT)
    return _Sheet(
        paper=paper,
        plan=plan,
        room=room,
        columns=columns,
        scale=pick_scale(*size, room) or SCALES[-1],
        text=-text,
        left_over=left_over,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Texts:
    title: str
    subtitle: str
    stamp: Mapping[str, str]
    blocks: Sequence[Block]


def _choose(texts: _Texts, size: tuple[float, float], chain: float) -> _Sheet:
    """A4 when the room is then large enough to read and all lists fit, else A3; the better way up.

    A room that would be too small to read on A3 gets the smallest larger sheet on which it is not.
    """
    small = [s for s in _fits("A4 ", texts, size, chain) if s.left_over == 0 and s.scale <= _GOOD_SCALE]
    usual = small or _fits("A3 ", texts, size, chain)
    if all(sheet.scale > _LEAST_SCALE for sheet in usual):
        usual += [sheet for name in _LARGER for sheet in _fits(name, texts, size, chain)]
    is_wide = size[0] >= size[1]

    def rank(sheet: _Sheet) -> tuple[bool, bool, int, int, bool, float]:
        lies = sheet.paper.width > sheet.paper.height
        # Sheets of one area, as A2 and A4x4, are as handy as each other.
        bulk = round(sheet.paper.width * sheet.paper.height / _AREA)
        is_tiny = sheet.scale > _LEAST_SCALE
        return (sheet.left_over > 0, is_tiny, bulk, sheet.scale, lies != is_wide, -sheet.text)

    return min(usual, key=rank)


def _fits(name: str, texts: _Texts, size: tuple[float, float], chain: float) -> list[_Sheet]:
    """All ways to put the room on papers whose names begin so."""
    return [
        _fit(paper, texts, size, chain, part)
        for paper in PAPERS.values()
        if paper.name.startswith(name)
        # Beside the plan, which is for paper that lies, the lists take its whole height; below it less.
        for part in ((0.0, *_PARTS) if paper.width > paper.height else _PARTS)
    ]


def _title(ceiling: Ceiling) -> str:
    rooms = sorted(ceiling.zone.rooms, key=lambda room: (room.number, room.name))
    names = [" ".join(t for t in (room.number, room.name) if t) for room in rooms]
    storey = next((room.storey for room in ceiling.zone.rooms if room.storey), "")
    return ", ".join(dict.fromkeys(names)) + (f" - {storey}" if storey else "")


def _subtitle(ceiling: Ceiling, units: str, turn: float) -> str:
    height = next((room.height for room in ceiling.zone.rooms if room.height), None)
    level = f"ceiling {format_length(height.value, units)} above floor; " if height else ""
    unit = "millimetres" if units == "mm" else "feet and inches, to 1/16 in"
    turned = (
        f"turned {abs(turn):.4g} degrees {'clockwise' if turn > 0 else 'counter-clockwise'} from the model"
        if abs(turn) > 0.005
        else "as it stands in the model"
    )
    return (
        f"Ceiling set-out; {level}{ceiling.system.title}; lengths in {unit}. Reflected ceiling plan seen "
        f"from above, same orientation as the floor plan, {turned}."
    )


def _extent(ceiling: Ceiling, frame: Frame) -> tuple[float, float, float, float]:
    page = frame.to_local(np.asarray(ceiling.zone.outline.exterior.coords)[:, :2])
    (u0, v0), (u1, v1) = page.min(axis=0), page.max(axis=0)
    return float(u0), float(v0), float(u1), float(v1)


def _place(sheet: _Sheet, frame: Frame, extent: tuple[float, float, float, float]) -> View:
    """The room centred in the region that is kept for it."""
    u0, v0, u1, v1 = extent
    wide, high = (u1 - u0) / sheet.scale, (v1 - v0) / sheet.scale
    return View(
        frame=frame,
        scale=sheet.scale,
        u=u0,
        v=v0,
        x=sheet.room.left + max(0.0, sheet.room.width - wide) / 2,
        y=sheet.room.top + max(0.0, sheet.room.height - high) / 2 + high,
    )


def _draw_lists(canvas: Canvas, sheet: _Sheet, blocks: Sequence[Block]) -> None:
    *before, last = sheet.columns
    if sheet.left_over:
        last = Box(last.left, last.top, last.right, last.bottom - 5.0)
        canvas.put(
            Label(
                x=last.left,
                y=last.bottom + 3.0,
                text="Lists go on in the record of this room.",
                size=sheet.text,
                is_bold=True,
            )
        )
    flow_blocks(canvas, blocks, [*before, last], sheet.text)


def _kinds(ceiling: Ceiling, obstacles: Sequence[Obstacle]) -> list[Kind]:
    kinds = {o.key: o.kind for o in obstacles}
    found = {kinds.get(opening.key, Kind.DEVICE) for opening in ceiling.openings}
    return [kind for kind in Kind if kind in found]


def draw_setout(
    ceiling: Ceiling,
    *,
    units: str = "mm",
    stamp: Mapping[str, str],
    findings: Sequence[Finding] = (),
    obstacles: Sequence[Obstacle] = (),
    north_deg: float | None = None,
) -> str:
    """The set-out sheet of one ceiling as SVG text.

    Args:
        ceiling: the ceiling to be set out.
        units: "mm" or "ft-in".
        stamp: provenance, printed as it is: model file, hash, system, policy, version.
        findings: those of this ceiling; the failing ones are listed and flagged.
        obstacles: things in and around the room; tells what its openings are for.
        north_deg: direction of north in the model's plan, degrees counter-clockwise from
            the model's X axis; no arrow is drawn without it.

    Raises:
        UnitError: units is not one of the two.
    """
    frame = page_frame(ceiling.layout.frame)
    setout = plan_setout(ceiling, step=_STEP.get(units, 300.0))
    blocks = list_blocks(ceiling, setout, units, findings, obstacles)
    texts = _Texts(
        title=_title(ceiling),
        subtitle=_subtitle(ceiling, units, frame.angle_deg),
        stamp=stamp,
        blocks=blocks,
    )
    extent = _extent(ceiling, frame)
    size = (extent[2] - extent[0], extent[3] - extent[1])
    sheet = _choose(texts, size, chain_width(ceiling, setout, units))
    canvas = Canvas(sheet.paper.width, sheet.paper.height, f"Set-out {texts.title}")
    draw_head(canvas, texts.title, texts.subtitle)
    draw_foot(canvas, stamp, caution_texts(is_short=True))
    _draw_lists(canvas, sheet, blocks)
    y = sheet.plan.bottom - _LEGEND + 7.0
    right = draw_scale_bar(canvas, sheet.plan.left + 2.0, y, sheet.scale, units)
    canvas.put(Label(x=sheet.plan.left + 2.0, y=y + 8.0, text=sheet.paper.name, size=2.4))
    draw_legend(
        canvas, Box(right + 4.0, y - 4.5, sheet.plan.right, sheet.plan.bottom), _kinds(ceiling, obstacles)
    )
    if north_deg is not None:
        draw_north(canvas, north_deg - frame.angle_deg)
    draw_plan(canvas, _place(sheet, frame, extent), ceiling, setout, units, findings, obstacles)
    return canvas.to_text()
