"""A picture of a decision: the chosen layout and those that lost, side by side at one scale."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Candidate, Layout
from ifcgrid.outputs.cautions import caution_texts
from ifcgrid.outputs.explain.terms import say_loss
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.sheet import MARGIN, PAPERS, View, draw_foot, draw_head
from ifcgrid.outputs.paper.svg import write_svg
from ifcgrid.outputs.paper.text import Label, wrap_text

__all__ = ["draw_explanation"]

_MOST = 6
_COLUMNS = 3
_CAPTION = 13.0
"""Height in mm that each picture leaves for its words."""

_GAP = 6.0
_SIZE = 2.8
_CUT = "#ddd"


def draw_explanation(ceiling: Ceiling, *, stamp: Mapping[str, str] | None = None) -> str:
    """An SVG sheet (A4) of the winner and up to five runners-up; cut panels light grey, devices dark.

    Args:
        ceiling: the room's ceiling; its certificate holds the candidates.
        stamp: what the foot of the sheet is to say of where all this comes from.
    """
    paper = PAPERS["A4 landscape"]
    rooms = " + ".join(" ".join(filter(None, (r.number, r.name))) for r in ceiling.zone.rooms)
    canvas = Canvas(paper.width, paper.height, f"{rooms}: why the grid lies here")
    policy = ceiling.policy
    reason = ceiling.layout.reason
    subtitle = f"{reason[:1].upper()}{reason[1:]}."
    if policy is not None:
        subtitle += f" Policy {policy.id}: {policy.source} [{policy.basis}]."
    top = draw_head(canvas, f"{rooms}: why the grid lies here", subtitle)
    bottom = draw_foot(canvas, stamp or {}, caution_texts(is_short=True)[:1])
    candidates = ceiling.layout.certificate.best[:_MOST]
    boxes = _boxes(len(candidates), Box(MARGIN, top + 2.0, paper.width - MARGIN, bottom - 2.0))
    # The page follows the chosen grid, so that small multiples compare line by line.
    page = Frame(x=0.0, y=0.0, angle_deg=_upright(ceiling.layout.frame.angle_deg))
    low_u, low_v, high_u, high_v = page.shape_to_local(ceiling.zone.outline).bounds
    first = boxes[0]
    # As large as there is room: the pictures are to be compared, not measured.
    ratio = max((high_u - low_u) / first.width, (high_v - low_v) / (first.height - _CAPTION))
    for place, (candidate, box) in enumerate(zip(candidates, boxes, strict=True)):
        _caption(canvas, ceiling, candidate, place, box)
        view = View(
            frame=page,
            scale=ratio,
            u=low_u,
            v=low_v,
            x=box.left,
            y=box.top + _CAPTION + (high_v - low_v) / ratio,
        )
        _draw(canvas, view, ceiling, candidate)
    return write_svg([canvas])


def _upright(angle_deg: float) -> float:
    """A direction modulo 90 degrees within 45 of the page's X, so that north stays roughly up."""
    return (angle_deg + 45.0) % 90.0 - 45.0


def _boxes(count: int, area: Box) -> list[Box]:
    columns = min(count, _COLUMNS)
    rows = -(-count // columns)
    width = (area.width - (columns - 1) * _GAP) / columns
    height = (area.height - (rows - 1) * _GAP) / rows
    return [
        Box(
            area.left + (k % columns) * (width + _GAP),
            area.top + (k // columns) * (height + _GAP),
            area.left + (k % columns) * (width + _GAP) + width,
            area.top + (k // columns) * (height + _GAP) + height,
        )
        for k in range(count)
    ]


def _caption(canvas: Canvas, ceiling: Ceiling, candidate: Candidate, place: int, box: Box) -> None:
    won = dict(ceiling.layout.certificate.best[0].scores)
    own, term = dict(candidate.scores), candidate.lost_on
    if not term:
        words = "chosen"
    elif term in own and term in won:
        words = f"lost on {say_loss(term, own[term], won[term])}"
    else:
        words = f"as good; lost on {term}"
    turn = (candidate.angle_deg - ceiling.layout.frame.angle_deg) % 180.0
    if min(turn, 180.0 - turn) > tolerance.ANGLE_DEG:
        words = f"mains at {candidate.angle_deg:g} degrees; {words}"
    elif not place:
        words = f"chosen, mains at {candidate.angle_deg:g} degrees"
    lines = wrap_text(f"{place + 1}. {words}", box.width, _SIZE, indent="")[:3]
    for k, line in enumerate(lines):
        y = box.top + _SIZE * (1.0 + 1.28 * k)
        canvas.put(Label(x=box.left, y=y, text=line, size=_SIZE, is_bold=place == 0))


def _draw(canvas: Canvas, view: View, ceiling: Ceiling, candidate: Candidate) -> None:
    frame = Frame(x=candidate.origin[0], y=candidate.origin[1], angle_deg=candidate.angle_deg)
    local = frame.shape_to_local(ceiling.zone.outline)
    corners = _cells(local, ceiling.layout)
    cells = shapely.polygons(corners)
    shapely.prepare(local)
    # A cell that a wall touches to within half a millimetre is still whole.
    whole = shapely.covers(local, shapely.buffer(cells, -0.5, join_style="mitre"))
    canvas.areas(view.rings(ceiling.zone.outline), 0.0, fill=_CUT)
    for cell in corners[whole]:
        canvas.areas([view.paper(frame.to_world(cell))], 0.0, fill="#fff")
    sides = shapely.linestrings(np.concatenate([corners[:, :2], corners[:, [0, 3]]]))
    parts = shapely.get_parts(shapely.line_merge(shapely.union_all(shapely.intersection(local, sides))))
    lines = [shapely.get_coordinates(part) for part in parts if part.length > 0]
    canvas.lines([view.paper(frame.to_world(line)) for line in lines], 0.18)
    own = ceiling.layout.frame
    for opening in ceiling.openings:
        # Devices stand where they are, whatever grid is laid around them.
        canvas.areas(view.rings(own.shape_to_world(opening.outline)), 0.2, fill="#888")
    canvas.areas(view.rings(ceiling.zone.outline), 0.5)


def _cells(local: shapely.Polygon, layout: Layout) -> NDArray[np.float64]:
    """Corners (n, 4, 2) of the cells over a room in local axes, the first the least u and v."""
    module = np.array([layout.along, layout.across])
    low = np.floor(np.array(local.bounds[:2]) / module).astype(int) - 1
    high = np.ceil(np.array(local.bounds[2:]) / module).astype(int) + 1
    i, j = (a.ravel() for a in np.mgrid[low[0] : high[0], low[1] : high[1]])
    shift = np.array([layout.row_offset(row) for row in j.tolist()])
    first = np.stack([i * module[0] + shift, j * module[1]], axis=1)
    square: NDArray[np.float64] = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * module
    return first[:, None] + square
