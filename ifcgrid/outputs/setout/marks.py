"""What stands on a set-out plan beyond lines and dimensions: hangers, devices, splices, flags, diagonals."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import Kind
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.dimension import format_length
from ifcgrid.outputs.paper.pen import Pen
from ifcgrid.outputs.paper.symbol import draw_device, draw_flag, draw_hangers
from ifcgrid.outputs.paper.text import Label, centre_label
from ifcgrid.outputs.setout.control import SetOut
from ifcgrid.outputs.setout.corners import find_diagonals
from ifcgrid.outputs.setout.devices import Device
from ifcgrid.outputs.setout.lists import failing, hanger_numbers
from ifcgrid.outputs.setout.strokes import DIAGONAL, DIAGONAL_DASH, FIELD_RING, SPLICE

__all__ = [
    "draw_devices",
    "draw_diagonals",
    "draw_field",
    "draw_flags",
    "draw_splices",
    "keep_hangers_clear",
    "number_devices",
    "number_hangers",
]

_CROWDED = 10.0
"""Where hangers stand closer than this on paper, in mm, only the ends of a row are numbered."""

_CROSS = 0.35
"""Half the side of the square about a hanger that no text covers; its number stands just beyond."""

_NUMBER_TEXT = 2.4
_DIAGONAL_TEXT = 2.8


def draw_devices(pen: Pen, devices: Sequence[Device]) -> None:
    """The symbols of devices with a known outline."""
    for device in devices:
        if device.ring is not None:
            draw_device(pen.canvas, Kind(device.kind), pen.local(device.ring))


def number_devices(pen: Pen, devices: Sequence[Device]) -> None:
    """D1, D2 ... in their symbols or beside them; what finds no place stands in the list only."""
    for device in devices:
        x, y = pen.local([device.point])[0].tolist()
        reach = 1.6
        if device.ring is not None:
            low, high = pen.local(device.ring).min(axis=0), pen.local(device.ring).max(axis=0)
            reach = max(reach, float(high[0] - low[0]) / 2)
        spots = [
            centre_label(x, y, device.mark, _NUMBER_TEXT),
            *(
                Label(
                    x=x + side * (reach + 0.5), y=y + dy, text=device.mark, size=_NUMBER_TEXT, anchor=anchor
                )
                for side, anchor in ((1, "start"), (-1, "end"))
                for dy in (0.8, 3.0, -1.4)
            ),
        ]
        pen.canvas.put_first_free(spots if reach > 3.0 else spots[1:])


def draw_splices(pen: Pen) -> None:
    """A slanted stroke across a main where two of its pieces meet."""
    pieces, members = pen.ceiling.pieces, pen.ceiling.members
    if pieces is None or not len(pieces):
        return
    is_joint = (members.role[pieces.member] == Role.MAIN_RUNNER) & (pieces.number > 0)
    starts = members.start[pieces.member[is_joint]]
    if not len(starts):
        return
    points = pen.local(starts + np.column_stack([pieces.start[is_joint], np.zeros(len(starts))]))
    strokes = [[(x - SPLICE, y + SPLICE), (x + SPLICE, y - SPLICE)] for x, y in points.tolist()]
    pen.canvas.lines(strokes, 0.45)


def draw_flags(pen: Pen, findings: Sequence[Finding]) -> None:
    """A numbered flag where a failing finding has its spot."""
    for number, finding in enumerate(failing(findings), start=1):
        if finding.point is not None:
            x, y = pen.view.paper([finding.point[:2]])[0].tolist()
            draw_flag(pen.canvas, x, y, number)


def draw_diagonals(pen: Pen, setout: SetOut, units: str) -> None:
    """The room's two diagonals with their lengths."""
    for diagonal in find_diagonals(pen.ceiling, setout.walls):
        a, b = pen.local([diagonal.start.point, diagonal.end.point])
        words = format_length(diagonal.length, units)
        pen.canvas.lines([[a, b]], DIAGONAL, dash=DIAGONAL_DASH, says=words)
        spots = [a + (b - a) * part for part in (0.3, 0.7, 0.36, 0.64, 0.24, 0.76, 0.42, 0.58, 0.15, 0.85)]
        text = f"diagonal {words}"
        labels = [centre_label(float(x), float(y), text, _DIAGONAL_TEXT) for x, y in spots]
        inside = [label for label in labels if pen.is_in_room(label.box)]
        pen.canvas.put_first_free(sorted(inside, key=lambda label: _covers_string(pen, setout, label)))


def _covers_string(pen: Pen, setout: SetOut, label: Label) -> bool:
    """Whether a text would stand on a string or on the first tee line."""
    box = label.box
    lines = [(line.start, line.end) for line in setout.lines]
    if setout.first_tee is not None and lines:
        low, high = pen.ceiling.layout.frame.shape_to_local(pen.ceiling.zone.outline).bounds[1::2]
        lines.append(((setout.first_tee, low), (setout.first_tee, high)))
    paths = [shapely.LineString(pen.local(line)) for line in lines]
    area = shapely.box(box.left, box.top, box.right, box.bottom)
    return any(area.intersects(path) for path in paths)


def draw_field(pen: Pen, setout: SetOut) -> None:
    """Rings at the corners of the largest rectangle of full panels, between which the grid is squared."""
    field, layout = setout.field, pen.ceiling.layout
    if field is None:
        return
    u0, v0 = field.column * layout.along, field.row * layout.across
    u1, v1 = u0 + field.columns * layout.along, v0 + field.rows * layout.across
    for x, y in pen.local([(u0, v0), (u1, v0), (u1, v1), (u0, v1)]).tolist():
        pen.canvas.circle(x, y, FIELD_RING, 0.35, fill="#fff")


def keep_hangers_clear(pen: Pen) -> None:
    """Lets no text stand on a hanger's cross, where hangers stand far enough apart for that."""
    if len(pen.ceiling.hangers) and not _is_crowded(pen):
        for x, y in pen.local(pen.ceiling.hangers.point).tolist():
            pen.canvas.reserve(Box(x, y, x, y).grow(_CROSS))


def _is_crowded(pen: Pen) -> bool:
    return pen.ceiling.system.hanger_spacing / pen.view.scale < _CROWDED


def number_hangers(pen: Pen) -> None:
    """Crosses at the hangers, with H1, H2 ... as far as there is room."""
    hangers = pen.ceiling.hangers
    if not len(hangers):
        return
    points = pen.local(hangers.point)
    draw_hangers(pen.canvas, points)
    names = hanger_numbers(pen.ceiling)
    # First and last of every row before the rest, so that a crowded plan keeps what matters.
    rows = [np.flatnonzero(hangers.line == line) for line in sorted(set(hangers.line.tolist()))]
    ends = {int(k) for row in rows for k in (row[0], row[-1])}
    is_crowded = _is_crowded(pen)
    for k in sorted(range(len(names)), key=lambda k: (k not in ends, k)):
        if is_crowded and k not in ends:
            break
        x, y = points[k].tolist()
        spots = (
            Label(x=x + dx, y=y + dy, text=names[k], size=_NUMBER_TEXT, anchor="start" if dx > 0 else "end")
            for dx, dy in ((0.7, -0.8), (0.7, 2.5), (-0.7, -0.8), (-0.7, 2.5))
        )
        pen.canvas.put_first_free(pen.clear_of_walls_first(spots))
