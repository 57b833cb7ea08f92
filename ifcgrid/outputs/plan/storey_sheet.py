"""A storey's reflected ceiling plan on paper: every room, its grid, what is in it and what was found.

A reflected plan shows the ceiling as a mirror on the floor would: from above, with the
orientation of the floor plan (common practice, no source), so nothing changes sides. True
to scale and readable in monochrome.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.outputs.cautions import caution_texts
from ifcgrid.outputs.paper.dimension import fraction_of, is_metric, told
from ifcgrid.outputs.paper.sheet import (
    MARGIN,
    Block,
    Paper,
    View,
    draw_foot,
    draw_head,
    draw_north,
    draw_scale_bar,
    flow_blocks,
)
from ifcgrid.outputs.paper.svg import Box, Canvas, Label, write_svg
from ifcgrid.outputs.plan.content import OmittedRoom, Storey, find_extent, find_things
from ifcgrid.outputs.plan.dimensions import place_dimensions
from ifcgrid.outputs.plan.drawing import Drawing, Mark, Part, Tag, Thing
from ifcgrid.outputs.plan.fit import Fit, choose_fit
from ifcgrid.outputs.plan.kinds import CeilingKinds, find_kinds, tag_wishes
from ifcgrid.outputs.plan.layers import Layers, read_layers
from ifcgrid.outputs.plan.legend import draw_legend, legend_height, legend_parts
from ifcgrid.outputs.plan.paint import letter_of, paint, words_of
from ifcgrid.outputs.plan.symbols import corners_of
from ifcgrid.outputs.plan.tag import place_tag

__all__ = ["OmittedRoom", "StoreySheet", "draw_storey", "lay_out_storey"]

_LIST_TEXT = 2.8
_MOST_FINDINGS = 30
_FLAG_TEXT = 2.8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StoreySheet:
    """A storey's plan: the `drawing` in model coordinates, and the same on paper.

    `view` brings model coordinates to paper, the plan into `plan_box`; `furniture` is what
    stands around it (head, lists, legend, foot), `page` all of it. `layers` names the
    parts; `notes` say what a reader has to know, the kinds of ceiling among it.
    """

    drawing: Drawing
    view: View
    paper: Paper
    furniture: Canvas
    page: Canvas
    plan_box: Box
    layers: Layers
    notes: tuple[str, ...]
    stamp: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Head:
    """The texts around the plan, and how lengths are printed."""

    title: str
    subtitle: str
    stamp: Mapping[str, str]
    units: str


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
    layers: Layers | None = None,
) -> str:
    """The plan of one storey as SVG text; arguments as of `lay_out_storey`.

    Shapes and texts of a ceiling are in groups with its key as `data-zone`; each room's
    outline, without a fill of its own, is in one with class `room` and its key as
    `data-room`, its tag in one with class `tag`; findings bear `data-finding`.
    """
    sheet = lay_out_storey(
        storey,
        ceilings,
        rooms_without,
        obstacles=obstacles,
        findings=findings,
        stamp=stamp,
        units=units,
        north_deg=north_deg,
        layers=layers,
    )
    return write_svg([sheet.page])


def lay_out_storey(
    storey: str,
    ceilings: Sequence[Ceiling],
    rooms_without: Iterable[OmittedRoom] = (),
    *,
    obstacles: Sequence[Obstacle] = (),
    findings: Sequence[Finding] = (),
    stamp: Mapping[str, str],
    units: str = "mm",
    north_deg: float | None = None,
    layers: Layers | None = None,
) -> StoreySheet:
    """The plan of one storey, for SVG, PDF and DXF.

    Args:
        storey: its name, for the title.
        ceilings: the ceilings of this storey.
        rooms_without: its other rooms, with the reason.
        obstacles: walls, columns and devices of this storey; other kinds are not drawn.
        findings: those of this storey; the failing ones are numbered in the given order.
        stamp: provenance, printed as it is.
        units: "mm" or "ft-in" (with a fraction: "ft-in/8"), for lengths, scale and paper.
        north_deg: direction of north in the model's plan, degrees counter-clockwise from
            the model's X axis; no arrow is drawn without it.
        layers: names and line weights of the parts, ours without it.
    """
    layers = layers if layers is not None else read_layers()
    failing = tuple(f for f in findings if f.verdict is Verdict.FAIL)
    things = Storey(
        ceilings=ceilings, omitted=tuple(rooms_without), obstacles=obstacles, failing=failing, units=units
    )
    kinds = find_kinds(ceilings)
    head = _Head(
        title=f"{storey or 'Storey'} - reflected ceiling plan",
        subtitle=_subtitle(units),
        stamp=stamp,
        units=units,
    )
    extent = find_extent(things)
    size = (extent[2] - extent[0], extent[3] - extent[1])
    blocks = _blocks(things, kinds, (), findings)
    fit = _choose(head, size, blocks, things)
    view = _view(fit, extent)
    page = Canvas(fit.paper.width, fit.paper.height, head.title)
    content, left = _place_words(page, view, things, kinds, fit)
    furniture = Canvas(fit.paper.width, fit.paper.height, head.title)
    _furnish(furniture, head, fit, content, north_deg, layers)
    _list(furniture, _blocks(things, kinds, left, findings), fit.column)
    page = Canvas(fit.paper.width, fit.paper.height, head.title)
    _paint_rooms(page, view, ceilings)
    paint(page, view, content, layers)
    page.shapes += furniture.shapes
    page.texts += furniture.texts
    drawing = Drawing(title=head.title, scale=fit.scale, units=units, extent=extent, things=content)
    return StoreySheet(
        drawing=drawing,
        view=view,
        paper=fit.paper,
        furniture=furniture,
        page=page,
        plan_box=fit.plan.grow(4.0),
        layers=layers,
        notes=(head.subtitle, *kinds.lines),
        stamp=stamp,
    )


def _subtitle(units: str) -> str:
    told_in = "mm" if is_metric(units) else f"feet and inches, to 1/{fraction_of(units)} in"
    return (
        "Ceiling as in a mirror on the floor: same orientation as the floor plan and model, left stays left. "
        "Levels (+) above each room's floor, to the underside of the grid; C1, C2 ... as listed. "
        f"Lengths in {told_in}, each rounded once."
    )


def _choose(head: _Head, size: tuple[float, float], blocks: Sequence[Block], storey: Storey) -> Fit:
    parts = legend_parts(find_things(storey, 100.0))

    def frame(paper: Paper) -> tuple[float, float]:
        scratch = Canvas(paper.width, paper.height, "")
        top = draw_head(scratch, head.title, head.subtitle)
        return top, draw_foot(scratch, head.stamp, caution_texts(is_short=True))

    return choose_fit(
        head.units,
        size,
        frame,
        lambda width: legend_height(parts, width) + 5.0,
        lambda column: flow_blocks(None, blocks, [column], _LIST_TEXT),
    )


def _view(fit: Fit, extent: tuple[float, float, float, float]) -> View:
    """The storey in the middle of the box for the plan."""
    width, height = extent[2] - extent[0], extent[3] - extent[1]
    return View(
        frame=Frame(x=0.0, y=0.0),
        scale=fit.scale,
        u=extent[0],
        v=extent[1],
        x=fit.plan.left + (fit.plan.width - width / fit.scale) / 2,
        y=fit.plan.top + (fit.plan.height + height / fit.scale) / 2,
    )


def _place_words(
    board: Canvas, view: View, storey: Storey, kinds: CeilingKinds, fit: Fit
) -> tuple[tuple[Thing, ...], list[str]]:
    """All things with their words in places where none meets another, and what found no place."""
    bare = find_things(storey, view.scale)
    marks = _reserve(board, view, bare)
    things = [_flagged(board, view, thing) for thing in bare]
    board.reserve(Box(0.0, 0.0, board.page.right, fit.plan.top - 6.0))
    board.reserve(Box(0.0, fit.plan.bottom + 6.0, board.page.right, board.page.bottom))
    board.reserve(Box(fit.plan.right + 3.0, 0.0, board.page.right, board.page.bottom))
    outside = _outside(view, storey, fit)
    left: list[str] = []
    tags: list[Tag] = []
    for wish in tag_wishes(storey, kinds):
        tag, is_whole = place_tag(board, view, wish, marks, outside)
        tags += [tag] if tag is not None else []
        if not is_whole:
            left.append(", ".join(text for _, text in wish.lines))
    for ceiling in storey.ceilings:
        lines, missing = place_dimensions(board, view, ceiling, storey.units, marks)
        things += lines
        if missing:
            names = "+".join(room.number or room.name for room in ceiling.zone.rooms)
            left.append(f"{names}: borders not drawn for want of space: {', '.join(missing)}")
    return (*things, *tags), left


def _outside(view: View, storey: Storey, fit: Fit) -> BaseGeometry:
    """Where there is no room on the paper of the plan."""
    page = shapely.box(fit.plan.left, fit.plan.top - 5.0, fit.plan.right, fit.plan.bottom + 5.0)
    rooms = [shapely.Polygon(view.rings(c.zone.outline)[0]).buffer(2.0) for c in storey.ceilings]
    rest = page.difference(shapely.union_all(rooms))
    shapely.prepare(rest)
    return rest


def _flagged(board: Canvas, view: View, thing: Thing) -> Thing:
    """A finding's pointer with its number where there is room for it."""
    if not isinstance(thing, Mark) or thing.part is not Part.FINDING:
        return thing
    ((x, y),) = view.paper([thing.point]).tolist()
    text = dict(thing.facts)["NUMBER"]
    spots = [(1.8, -0.4), (-1.8, -0.4), (1.8, 2.6), (-1.8, 2.6), (1.8, -3.4), (-1.8, -3.4)]
    label = board.put_first_free(
        Label(
            x=x + dx, y=y + dy, text=text, size=_FLAG_TEXT, anchor="start" if dx > 0 else "end", is_bold=True
        )
        for dx, dy in spots
    )
    return thing if label is None else replace(thing, words=words_of(label, view))


_AVOIDED = (Part.LIGHT, Part.AIR_TERMINAL, Part.SPRINKLER, Part.DETECTOR, Part.DEVICE, Part.FINDING)


def _reserve(board: Canvas, view: View, things: Sequence[Thing]) -> list[Box]:
    """Boxes of the symbols that words shall keep clear of; letters in symbols are kept clear at once."""
    marks = []
    for thing in things:
        if isinstance(thing, Mark) and thing.part in _AVOIDED:
            ring = view.paper(corners_of(thing, view.scale))
            if thing.part is Part.FINDING:
                ring = ring - [0.0, thing.size[1] / 2]
            marks.append(Box(*ring.min(axis=0).tolist(), *ring.max(axis=0).tolist()).grow(0.6))
            if (letter := letter_of(thing, view)) is not None:
                board.reserve(letter.box)
    return marks


def _paint_rooms(page: Canvas, view: View, ceilings: Sequence[Ceiling]) -> None:
    """Each room's outline without a line or a fill of its own, for programs that show the plan."""
    for ceiling in ceilings:
        for room in ceiling.zone.rooms:
            page.belongs = (
                ("class", "room"),
                ("data-zone", ceiling.key),
                ("data-room", room.key),
                ("data-number", room.number),
            )
            shape = room.outline if len(ceiling.zone.rooms) > 1 else ceiling.zone.outline
            page.areas(view.rings(shape), 0.0)
    page.belongs = ()


def _furnish(
    canvas: Canvas,
    head: _Head,
    fit: Fit,
    content: Sequence[Thing],
    north_deg: float | None,
    layers: Layers,
) -> None:
    draw_head(canvas, head.title, head.subtitle)
    draw_foot(canvas, head.stamp, caution_texts(is_short=True))
    if north_deg is not None:
        draw_north(canvas, north_deg)
    y = fit.legend.top + 3.0
    draw_scale_bar(canvas, MARGIN + 2.0, y, fit.scale, head.units)
    draw_legend(canvas, fit.legend, legend_parts(content), layers)


def _blocks(
    storey: Storey, kinds: CeilingKinds, left: Sequence[str], findings: Sequence[Finding]
) -> list[Block]:
    blocks = [Block(title="Ceilings", lines=kinds.lines)] if kinds.lines else []
    blocks.append(Block(title="Findings that fail", lines=_finding_lines(storey)))
    unknown = sum(f.verdict is Verdict.UNKNOWN for f in findings)
    if unknown:
        checks = "1 check" if unknown == 1 else f"{unknown} checks"
        blocks.append(Block(title="Not judged", lines=[f"{checks}: the model lacks the data."]))
    if storey.omitted:
        lines = [f"{' '.join(t for t in (o.number, o.name) if t)}: {o.reason}" for o in storey.omitted]
        blocks.append(Block(title="Rooms without a ceiling", lines=lines))
    if left:
        blocks.append(Block(title="Rooms with too little space on the plan", lines=list(left)))
    return blocks


def _finding_lines(storey: Storey) -> list[str]:
    if not storey.failing:
        return ["None among the checks that were run."]
    names = {room.key: room.number or room.name for c in storey.ceilings for room in c.zone.rooms}
    lines = []
    for number, found in enumerate(storey.failing[:_MOST_FINDINGS], start=1):
        where = names.get(found.room, "")
        lines.append(f"{number}. {where + ': ' if where else ''}{told(found.message, storey.units)}")
    if len(storey.failing) > _MOST_FINDINGS:
        lines.append(f"... and {len(storey.failing) - _MOST_FINDINGS} more: see the record.")
    return lines


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
