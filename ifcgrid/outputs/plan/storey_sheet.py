"""A storey's reflected ceiling plan on paper: every room, its grid, what is in it and what was found.

A reflected plan shows the ceiling as a mirror on the floor would: from above, with the
orientation of the floor plan (common practice, no source), so nothing changes sides. True
to scale and readable in monochrome.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ifcgrid.domain.building import BuildingAxis
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.outputs.cautions import caution_texts
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.dimension import format_length, fraction_of, is_metric
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
    scale_words,
)
from ifcgrid.outputs.paper.svg import write_svg
from ifcgrid.outputs.plan.content import OmittedRoom, Storey, find_extent, find_things
from ifcgrid.outputs.plan.drawing import Drawing, Thing
from ifcgrid.outputs.plan.fit import Around, Fit, choose_fit
from ifcgrid.outputs.plan.kinds import find_kinds
from ifcgrid.outputs.plan.layers import Layers, read_layers
from ifcgrid.outputs.plan.legend import draw_legend, legend_height, legend_parts
from ifcgrid.outputs.plan.lists import LIST_TEXT, draw_list, list_blocks
from ifcgrid.outputs.plan.paint import paint
from ifcgrid.outputs.plan.placing import place_words
from ifcgrid.outputs.plan.title_block import block_height, draw_title_block

__all__ = ["OmittedRoom", "StoreySheet", "draw_storey", "lay_out_storey"]

_AXIS_MARGIN = 10.0


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
    storey: str
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
    axes: Sequence[BuildingAxis] = (),
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
        axes=axes,
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
    axes: Sequence[BuildingAxis] = (),
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
        axes: axes of the building, drawn with their tags.
        layers: names and line weights of the parts, ours without it.
    """
    layers = layers if layers is not None else read_layers()
    failing = tuple(f for f in findings if f.verdict is Verdict.FAIL)
    things = Storey(
        ceilings=ceilings,
        omitted=tuple(rooms_without),
        obstacles=obstacles,
        failing=failing,
        axes=axes,
        units=units,
    )
    kinds = find_kinds(ceilings, units)
    head = _head(storey, stamp, units)
    extent = find_extent(things)
    size = (extent[2] - extent[0], extent[3] - extent[1])
    blocks = list_blocks(things, kinds, (), findings)
    fit = _choose(head, size, blocks, things)
    view = _view(fit, extent)
    content, left = place_words(_sheet(fit, head), view, things, kinds, fit)
    furniture = _sheet(fit, head)
    _furnish(furniture, head, fit, content, _title_rows(head, things, fit), north_deg, layers)
    draw_list(furniture, list_blocks(things, kinds, left, findings), fit.column)
    page = _sheet(fit, head)
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


def _head(storey: str, stamp: Mapping[str, str], units: str) -> _Head:
    return _Head(
        storey=storey or "without a name",
        title=f"{storey or 'Storey'} - reflected ceiling plan",
        subtitle=_subtitle(units),
        stamp=stamp,
        units=units,
    )


def _sheet(fit: Fit, head: _Head) -> Canvas:
    return Canvas(fit.paper.width, fit.paper.height, head.title)


def _unit_words(units: str) -> str:
    return "mm" if is_metric(units) else f"feet and inches, to 1/{fraction_of(units)} in"


def _subtitle(units: str) -> str:
    return (
        "Ceiling as in a mirror on the floor: same orientation as the floor plan and model, left stays left. "
        "Levels (+) above each room's floor, to the underside of the grid; C1, C2 ... as listed. "
        f"Lengths in {_unit_words(units)}, each rounded once."
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
        Around(
            frame=frame,
            legend_height=lambda width: legend_height(parts, width) + 5.0,
            left_over=lambda column: flow_blocks(None, blocks, [column], LIST_TEXT),
            block_height=block_height(_title_rows(head, storey, None)),
            margin=_AXIS_MARGIN if storey.axes else 0.0,
        ),
    )


def _scale_on(fit: Fit, units: str) -> str:
    return f"{scale_words(fit.scale, units).removeprefix('Scale ')} on {fit.paper.name}"


def _title_rows(head: _Head, storey: Storey, fit: Fit | None) -> list[tuple[str, str]]:
    """The rows of the title block; before the paper is chosen as many as after."""
    floors = sorted({round(room.floor, 1) for c in storey.ceilings for room in c.zone.rooms})
    levels = [format_length(floor, head.units) for floor in (floors[:1] + floors[1:][-1:])]
    return [
        ("Drawing", "Reflected ceiling plan"),
        ("Storey", head.storey),
        ("Floor level", f"{' to '.join(levels)} in the model's heights" if levels else "no room"),
        ("Scale", _scale_on(fit, head.units) if fit else ""),
        ("Lengths", _unit_words(head.units)),
        *head.stamp.items(),
        ("Revision, date", ""),
        ("Checked by", ""),
    ]


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
    rows: Sequence[tuple[str, str]],
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
    draw_title_block(canvas, fit.block, rows)
