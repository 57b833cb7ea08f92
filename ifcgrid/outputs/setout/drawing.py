"""The picture on a room's set-out sheet: grid, strings, dimensions, hangers, flags."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.finding import Finding
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.dimension import format_length
from ifcgrid.outputs.paper.pen import Pen, draw_dimension, draw_ticks
from ifcgrid.outputs.paper.sheet import View, widest
from ifcgrid.outputs.paper.symbol import draw_number
from ifcgrid.outputs.paper.text import Label, centre_label
from ifcgrid.outputs.setout.control import ControlLine, Datum, SetOut
from ifcgrid.outputs.setout.devices import Device
from ifcgrid.outputs.setout.lists import run_lines, running
from ifcgrid.outputs.setout.marks import (
    draw_devices,
    draw_diagonals,
    draw_field,
    draw_flags,
    draw_splices,
    keep_hangers_clear,
    number_devices,
    number_hangers,
)
from ifcgrid.outputs.setout.strokes import (
    BAND,
    FIRST_MAIN,
    FIRST_TEE,
    FIRST_TEE_DASH,
    MAIN,
    STRING,
    STRING_DASH,
    TEE,
    WALL,
)
from ifcgrid.outputs.setout.wall import Wall

__all__ = ["chain_width", "draw_plan"]

_CHAIN_TEXT = 2.9
_WALL_TEXT = 3.6
_CHAIN_OFF = 9.5
"""Distance of the running dimensions from the room, on paper in mm: letters and strings end between."""


def chain_width(ceiling: Ceiling, setout: SetOut, units: str) -> float:
    """Width on paper of the longest running dimension, in mm."""
    totals = [running(ceiling, datum, units) for datum in (setout.datum_u, setout.datum_v)]
    texts = [format_length(x, units) for run in totals for x in (run.total, *run.printed)]
    return widest(texts, _CHAIN_TEXT)


def _grid(pen: Pen, setout: SetOut) -> None:
    members = pen.ceiling.members
    starts, ends = pen.local(members.start), pen.local(members.end)
    pieces = np.stack([starts, ends], axis=1)
    is_main = members.role == Role.MAIN_RUNNER
    is_tee = (members.role == Role.CROSS_TEE) | (members.role == Role.SECOND_TEE)
    first = np.zeros(len(members), dtype=bool)
    for line in setout.lines:
        if line.number == 1:
            first = is_main & (members.line == line.index)
    pen.canvas.lines(pieces[first], FIRST_MAIN, colour=BAND)
    pen.canvas.lines(pieces[is_tee], TEE)
    pen.canvas.lines(pieces[is_main & ~first], MAIN)
    if setout.first_tee is not None:
        at = round(setout.first_tee / pen.ceiling.layout.along)
        is_first = (members.role == Role.CROSS_TEE) & (members.line == at)
        pen.canvas.lines(pieces[is_first], FIRST_TEE, dash=FIRST_TEE_DASH)


def _outline(pen: Pen, setout: SetOut, units: str) -> None:
    outline = pen.ceiling.zone.outline
    for hole in outline.interiors:
        pen.canvas.areas([pen.view.paper(np.asarray(hole.coords)[:-1, :2])], 0.4, fill="#bbb")
    pen.canvas.areas(pen.view.rings(outline), WALL)
    for wall in setout.walls:
        pen.canvas.lines([pen.local(wall.points)], WALL, says=format_length(wall.length, units))


def _string(pen: Pen, line: ControlLine) -> None:
    """The string from wall to wall and a little beyond, with its number at both ends."""
    a, b = pen.local([line.start, line.end])
    unit = (b - a) / np.hypot(*(b - a))
    a, b = a - 2.4 * unit, b + 2.4 * unit
    pen.canvas.lines([[a, b]], STRING, dash=STRING_DASH)
    for x, y in (a - 2.4 * unit, b + 2.4 * unit):
        box = Box(x - 2.4, y - 2.4, x + 2.4, y + 2.4)
        if pen.canvas.is_free(box):
            draw_number(pen.canvas, float(x), float(y), str(line.number))


def _tie_places(pen: Pen, line: ControlLine, others: Sequence[ControlLine]) -> Iterator[tuple[float, float]]:
    """Points on the string in the middle of cells, clear of the other string, from its ends to its middle."""
    k = 1 if line.axis == "u" else 0
    module = pen.ceiling.layout.across if line.axis == "u" else pen.ceiling.layout.along
    crossing = [other.at for other in others if other.axis != line.axis]
    for part in (0.2, 0.8, 0.3, 0.7, 0.1, 0.9, 0.4, 0.6, 0.5):
        along = line.start[k] + (line.end[k] - line.start[k]) * part
        along = (np.floor(along / module) + 0.5) * module
        if line.start[k] < along < line.end[k] and all(abs(along - c) > 0.6 * module for c in crossing):
            yield (line.at, float(along)) if line.axis == "u" else (float(along), line.at)


def _tie(pen: Pen, setout: SetOut, line: ControlLine, place: int, units: str) -> None:
    """The dimension from a wall to a string, where it crowds nothing; the list says which wall it is."""
    tie = line.ties[place]
    if tie.start != tie.end and format_length(tie.start, units) != format_length(tie.end, units):
        return
    datum = setout.datum_v if line.axis == "v" else setout.datum_u
    towards = datum.inward if place == 0 else -datum.inward
    k = 0 if line.axis == "u" else 1
    size = 3.8 if place == 0 else 3.1
    for point in _tie_places(pen, line, setout.lines):
        foot = np.array(point)
        foot[k] -= towards * tie.start
        if not pen.is_inside(foot, np.array(point)):
            continue  # nobody can hold a tape through a wall
        a, b = pen.local([foot, point])
        if draw_dimension(pen, a, b, format_length(tie.start, units), size, is_bold=True):
            return


def _ties(pen: Pen, setout: SetOut, units: str) -> None:
    for line in setout.lines:
        for place in range(len(line.ties)):
            _tie(pen, setout, line, place, units)


def _wall_label(pen: Pen, wall: Wall, units: str) -> None:
    """Letter and length outside the wall."""
    text = f"{wall.letter}  {format_length(wall.length, units)}"
    outward = -pen.direction(wall.inward)
    a, b = pen.local([wall.points[0], wall.points[-1]])
    is_vertical = abs(b[1] - a[1]) > 3 * abs(b[0] - a[0]) and not wall.is_curve
    spots = []
    for words in (text, wall.letter):
        for off in (1.4, 4.8):
            for part in (0.5, 0.35, 0.65, 0.2, 0.8):
                x, y = pen.local([wall.middle(part)])[0]
                box = centre_label(0.0, 0.0, words, _WALL_TEXT, is_vertical=is_vertical, is_bold=True).box
                reach = off + abs(outward[0]) * box.width / 2 + abs(outward[1]) * box.height / 2
                spots.append(
                    centre_label(
                        x + outward[0] * reach,
                        y + outward[1] * reach,
                        words,
                        _WALL_TEXT,
                        is_vertical=is_vertical,
                        is_bold=True,
                    )
                )
    pen.canvas.put_first_free(spots)


def _border_ends(wall: Wall) -> list[tuple[float, float]]:
    """Parts of the wall at which its border is shown, with the width there."""
    if wall.least is None or wall.greatest is None or wall.axis not in ("u", "v"):
        return []
    if not wall.is_tapered:
        return [(0.5, wall.least)]
    k = 0 if wall.axis == "u" else 1
    # The border is wider where the wall lies farther out, against its inward normal.
    outwards = -np.sign(wall.inward[k])
    is_start_wider = outwards * (wall.points[0, k] - wall.points[-1, k]) > 0
    ends = (wall.greatest, wall.least) if is_start_wider else (wall.least, wall.greatest)
    return [(0.0, ends[0]), (1.0, ends[1])]


def _border(pen: Pen, wall: Wall, units: str) -> None:
    """The border's width between the wall and the grid, at its middle or at both ends of a taper."""
    k = 0 if wall.axis == "u" else 1
    bounds = pen.ceiling.layout.frame.shape_to_local(pen.ceiling.zone.outline).bounds
    for place, width in _border_ends(wall):
        tries = (
            (0.5, 0.42, 0.58, 0.3, 0.7, 0.16, 0.84) if place == 0.5 else (abs(place - 0.04), abs(place - 0.1))
        )
        for part in tries:
            at = wall.middle(part)
            inside = at.copy()
            inside[k] += np.sign(wall.inward[k]) * width
            if not bounds[k] - 1.0 <= inside[k] <= bounds[k + 2] + 1.0:
                return  # one piece from wall to wall: the wall's length says it
            a, b = pen.local([at, inside])
            if draw_dimension(pen, a, b, format_length(width, units), 2.9):
                break


def _strides(count: int, spacing: float) -> list[int]:
    """Which of `count` evenly spaced labels to set so that they do not crowd, the first and last always."""
    step = max(1, int(np.ceil((_CHAIN_TEXT * 1.15) / max(spacing, 0.05))))
    return [k for k in range(count) if k % step == 0 or k == count - 1]


def _chain(pen: Pen, datum: Datum, units: str) -> None:
    """Running dimensions along the lower or the left side, counted from the datum's wall."""
    lines = run_lines(pen.ceiling, datum)
    run = running(pen.ceiling, datum, units)
    spots = [datum.at, *(at for _, at in lines), datum.at + datum.inward * _true_length(pen, datum)]
    values = [0.0, *run.printed, run.total]
    points = pen.local([(at, 0.0) if datum.axis == "u" else (0.0, at) for at in spots])
    is_level = abs(points[-1][0] - points[0][0]) > abs(points[-1][1] - points[0][1])
    x0, y0 = pen.box.left - _CHAIN_OFF, pen.box.bottom + _CHAIN_OFF
    places = [(float(p[0]), y0) if is_level else (x0, float(p[1])) for p in points]
    pen.canvas.lines(
        [[(x, y - 1.0), (x, y + 1.0)] if is_level else [(x - 1.0, y), (x + 1.0, y)] for x, y in places], 0.22
    )
    draw_ticks(pen.canvas, np.array([places[0], places[-1]]))
    module = pen.ceiling.layout.along if datum.axis == "u" else pen.ceiling.layout.across
    chosen = {0, len(spots) - 1} | {k + 1 for k in _strides(len(lines), module / pen.view.scale)}
    order = sorted(chosen, key=lambda k: (k not in (0, len(spots) - 1), k))
    for k in order:
        x, y = places[k]
        text, bold = format_length(values[k], units), k in (1, len(spots) - 1)
        label = pen.canvas.put_first_free([_chain_label(x, y, text, is_level, bold)])
        if k and (label or k == len(spots) - 1):
            pen.canvas.lines([[places[0], places[k]]], 0.22, says=text if label else "")


def _chain_label(x: float, y: float, text: str, is_level: bool, is_bold: bool) -> Label:
    third = _CHAIN_TEXT * 0.27
    if is_level:
        return Label(
            x=x + third,
            y=y + 1.6,
            text=text,
            size=_CHAIN_TEXT,
            anchor="end",
            is_vertical=True,
            is_bold=is_bold,
        )
    return Label(x=x - 1.6, y=y + third, text=text, size=_CHAIN_TEXT, anchor="end", is_bold=is_bold)


def _true_length(pen: Pen, datum: Datum) -> float:
    points = pen.ceiling.layout.frame.to_local(np.asarray(pen.ceiling.zone.outline.exterior.coords)[:, :2])
    values = points[:, 0 if datum.axis == "u" else 1]
    return float(values.max() - values.min())


def draw_plan(
    canvas: Canvas,
    view: View,
    ceiling: Ceiling,
    setout: SetOut,
    units: str,
    findings: Sequence[Finding] = (),
    devices: Sequence[Device] = (),
) -> None:
    """Draw the room with everything a foreman measures; what matters most gets its place first."""
    pen = Pen(canvas, view, ceiling)
    draw_devices(pen, devices)
    _grid(pen, setout)
    draw_splices(pen)
    _outline(pen, setout, units)
    for datum in (setout.datum_u, setout.datum_v):
        _chain(pen, datum, units)
    keep_hangers_clear(pen)
    for line in setout.lines:
        _string(pen, line)
    _ties(pen, setout, units)
    draw_flags(pen, findings)
    for wall in sorted(setout.walls, key=lambda w: -w.length):
        _wall_label(pen, wall, units)
    for wall in sorted(setout.walls, key=lambda w: -w.length):
        _border(pen, wall, units)
    draw_diagonals(pen, setout, units)
    draw_field(pen, setout)
    number_hangers(pen)
    number_devices(pen, devices)
