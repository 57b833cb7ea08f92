"""A room's set-out sheet: what a foreman needs to start with one tape, one laser and two strings.

Reflected ceiling plan seen from above (same orientation as the floor plan), turned so that
the grid stands level on paper, to a true scale, readable in monochrome. Lists that find no
room beside the plan go on to further pages.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.outputs.cautions import caution_texts
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.columns import Block, set_blocks
from ifcgrid.outputs.paper.dimension import format_length, fraction_of, is_metric
from ifcgrid.outputs.paper.sheet import (
    MARGIN,
    NORTH_WIDTH,
    View,
    draw_foot,
    draw_head,
    draw_north,
    draw_scale_bar,
)
from ifcgrid.outputs.paper.svg import write_svg
from ifcgrid.outputs.paper.text import Label
from ifcgrid.outputs.setout.arrangement import LEGEND, Sheet, Texts, Wish, choose_sheet, list_columns
from ifcgrid.outputs.setout.control import ControlLine, find_control_lines, plan_setout
from ifcgrid.outputs.setout.devices import Device, find_devices
from ifcgrid.outputs.setout.drawing import chain_width, draw_plan
from ifcgrid.outputs.setout.key_plan import KEY_WIDTH, Shape, draw_key_plan
from ifcgrid.outputs.setout.legend import draw_legend
from ifcgrid.outputs.setout.lists import FIRST_PAGE, list_blocks

__all__ = ["ControlLine", "draw_setout", "find_control_lines", "page_frame", "setout_pages"]

_STEP = {True: 300.0, False: 304.8}
"""Unit of the 3-4-5 check: 300 mm or 1 ft."""

_MORE_TEXT = (3.6, 3.2)
"""Font sizes of lists on further pages in mm; the larger one where it takes no more pages."""

_LEGIBLE = 200
"""At a smaller scale lines of the grid run together on paper (our choice)."""

_WIDEST = "00 of 00"
_LONGEST_TITLE = 44


def page_frame(frame: Frame) -> Frame:
    """The layout's frame turned by quarter turns until it is within 45 degrees of the model's axes."""
    return Frame(x=frame.x, y=frame.y, angle_deg=(frame.angle_deg + 45.0) % 90.0 - 45.0)


def _title(ceiling: Ceiling) -> str:
    rooms = sorted(ceiling.zone.rooms, key=lambda room: (room.number, room.name))
    names = [" ".join(t for t in dict.fromkeys((room.number, room.name)) if t) for room in rooms]
    storey = next((room.storey for room in ceiling.zone.rooms if room.storey), "")
    return ", ".join(dict.fromkeys(names)) + (f" - {storey}" if storey else "")


def _full_names(ceiling: Ceiling) -> list[Block]:
    """The names again in a list where the head may have to cut them."""
    title = _title(ceiling)
    return [Block(title="Rooms", lines=[title])] if len(title) > _LONGEST_TITLE else []


def _subtitle(ceiling: Ceiling, units: str, turn: float) -> str:
    height = next((room.height for room in ceiling.zone.rooms if room.height), None)
    level = f"ceiling {format_length(height.value, units)} above floor; " if height else ""
    unit = "millimetres" if is_metric(units) else f"feet and inches, to 1/{fraction_of(units)} in"
    turned = (
        f"turned {abs(turn):.4g} degrees {'clockwise' if turn > 0 else 'counter-clockwise'} from the model"
        if abs(turn) > 0.005
        else "as it stands in the model"
    )
    return (
        f"Ceiling set-out; {level}{ceiling.system.title}; lengths in {unit}, each rounded once. Reflected "
        f"ceiling plan seen from above, same orientation as the floor plan, {turned}."
    )


def _extent(ceiling: Ceiling, frame: Frame) -> tuple[float, float, float, float]:
    page = frame.to_local(np.asarray(ceiling.zone.outline.exterior.coords)[:, :2])
    (u0, v0), (u1, v1) = page.min(axis=0), page.max(axis=0)
    return float(u0), float(v0), float(u1), float(v1)


def _place(sheet: Sheet, frame: Frame, extent: tuple[float, float, float, float]) -> View:
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


def _kinds(devices: Sequence[Device]) -> list[Kind]:
    found = {device.kind for device in devices if device.ring is not None}
    return [kind for kind in Kind if kind.value in found]


def _blank(sheet: Sheet, texts: Texts) -> Canvas:
    return Canvas(sheet.paper.width, sheet.paper.height, f"Set-out {texts.title}")


def _head_and_foot(canvas: Canvas, texts: Texts, page: str) -> tuple[float, float]:
    top = draw_head(canvas, texts.title, texts.subtitle, corner=texts.corner, least_rows=texts.rows)
    return top, draw_foot(canvas, {"sheet": page, **texts.stamp}, caution_texts(is_short=True))


def _paged(blocks: Sequence[Block], columns: Sequence[Box], size: float) -> list[Sequence[Block]]:
    """What is still to be set at the beginning of each page of lists."""
    starts = []
    while blocks:
        starts.append(blocks)
        blocks = set_blocks(None, blocks, columns, size)
    return starts


def _lists(sheet: Sheet, texts: Texts, blocks: Sequence[Block]) -> list[Canvas]:
    """Pages of lists only, as few as can be."""
    words = replace(texts, subtitle=f"Lists. {texts.subtitle.partition('. ')[0]}.", corner=0.0, rows=1)
    scratch = _blank(sheet, texts)
    top, bottom = _head_and_foot(scratch, words, _WIDEST)
    columns = list_columns(sheet.paper, top + 1.5, bottom)
    size, starts = min(
        ((size, _paged(blocks, columns, size)) for size in _MORE_TEXT), key=lambda t: len(t[1])
    )
    pages = []
    for number, start in enumerate(starts, start=2):
        canvas = _blank(sheet, texts)
        _head_and_foot(canvas, words, f"{number} of {len(starts) + 1}")
        set_blocks(canvas, start, columns, size)
        pages.append(canvas)
    return pages


def _strip(canvas: Canvas, sheet: Sheet, units: str, devices: Sequence[Device], ceiling: Ceiling) -> None:
    """Scale bar, paper and legend below the plan."""
    y = sheet.plan.bottom - LEGEND + 7.0
    left = sheet.plan.left + 2.0
    right = draw_scale_bar(canvas, left, y, sheet.scale, units)
    small = " (small: larger paper shows more)" if sheet.scale > _LEGIBLE else ""
    for place, text in enumerate((f"{sheet.paper.name}{small}", "Printed at full size only")):
        words = Label(x=left, y=y + 7.4 + 3.0 * place, text=text, size=2.4)
        canvas.put(words)
        right = max(right, words.box.right)
    draw_legend(
        canvas, Box(right + 4.0, y - 4.5, sheet.plan.right, sheet.plan.bottom), ceiling, _kinds(devices)
    )


def setout_pages(
    ceiling: Ceiling,
    *,
    units: str = "mm",
    stamp: Mapping[str, str],
    findings: Sequence[Finding] = (),
    obstacles: Sequence[Obstacle] = (),
    north_deg: float | None = None,
    wish: Wish = Wish(),  # noqa: B008 - frozen
    laser: float | None = None,
    storey: Sequence[Shape] = (),
    remarks: Sequence[Block] = (),
) -> tuple[Canvas, ...]:
    """The pages of one ceiling's set-out sheet: the plan with the lists needed first, then further lists.

    Args:
        ceiling: the ceiling to be set out.
        units: "mm" or "ft-in", with the finest fraction of an inch as in "ft-in/8".
        stamp: provenance, printed as it is: model file, hash, system, policy, version.
        findings: those of this ceiling; the failing ones are listed and flagged.
        obstacles: things in and around the room; tells what its openings are for.
        north_deg: direction of north in the model's plan, degrees counter-clockwise from
            the model's X axis; no arrow is drawn without it.
        wish: paper and way up.
        laser: mm from the underside of the grid down to the laser's plane; None for the default.
        storey: outlines of the storey's rooms in model coordinates, for the key plan; none
            is drawn without them.
        remarks: further lists, set after what is needed first.

    Raises:
        UnitError: units is none of those.
    """
    frame = page_frame(ceiling.layout.frame)
    setout = plan_setout(ceiling, step=_STEP[is_metric(units)])
    devices = find_devices(ceiling, obstacles)
    more = [*remarks, *_full_names(ceiling)]
    texts = Texts(
        title=_title(ceiling),
        subtitle=_subtitle(ceiling, units, frame.angle_deg),
        stamp=stamp,
        blocks=list_blocks(ceiling, setout, units, findings, devices, laser=laser, remarks=more),
        units=units,
        needed=FIRST_PAGE,
        corner=NORTH_WIDTH + (KEY_WIDTH if storey else 0.0),
    )
    extent = _extent(ceiling, frame)
    size = (extent[2] - extent[0], extent[3] - extent[1])
    numbered = replace(texts, stamp={"sheet": _WIDEST, **texts.stamp})
    sheet = choose_sheet(numbered, size, chain_width(ceiling, setout, units), wish)
    lists = _lists(sheet, texts, set_blocks(None, texts.blocks, sheet.columns, sheet.text))
    first = _blank(sheet, texts)
    _head_and_foot(first, texts, f"1 of {len(lists) + 1}")
    if storey:
        _key_plan(first, texts, frame, ceiling, storey)
    if north_deg is not None:
        draw_north(first, north_deg - frame.angle_deg)
    set_blocks(first, texts.blocks, sheet.columns, sheet.text)
    _strip(first, sheet, units, devices, ceiling)
    draw_plan(first, _place(sheet, frame, extent), ceiling, setout, units, findings, devices)
    return (first, *lists)


def _key_plan(canvas: Canvas, texts: Texts, frame: Frame, ceiling: Ceiling, storey: Sequence[Shape]) -> None:
    x = canvas.page.width - MARGIN - NORTH_WIDTH - KEY_WIDTH + 2.0
    box = Box(x, MARGIN - 2.0, x + KEY_WIDTH - 2.0, MARGIN + 10.6 + 4.2 * texts.rows - 3.0)
    name = next((room.storey for room in ceiling.zone.rooms if room.storey), "")
    draw_key_plan(canvas, box, frame, ceiling.zone.outline, storey, name)


def draw_setout(
    ceiling: Ceiling,
    *,
    units: str = "mm",
    stamp: Mapping[str, str],
    findings: Sequence[Finding] = (),
    obstacles: Sequence[Obstacle] = (),
    north_deg: float | None = None,
    wish: Wish = Wish(),  # noqa: B008 - frozen
    laser: float | None = None,
    storey: Sequence[Shape] = (),
    remarks: Sequence[Block] = (),
) -> str:
    """The set-out sheet of one ceiling as one SVG text, its pages one below the other.

    Args and errors as of `setout_pages`.
    """
    pages = setout_pages(
        ceiling,
        units=units,
        stamp=stamp,
        findings=findings,
        obstacles=obstacles,
        north_deg=north_deg,
        wish=wish,
        laser=laser,
        storey=storey,
        remarks=remarks,
    )
    return write_svg(pages)
