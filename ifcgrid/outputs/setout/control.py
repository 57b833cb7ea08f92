"""Where a foreman starts: control lines tied to walls, the first main and tee line, the square check."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely import LineString

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.control_line import SetOutLine
from ifcgrid.outputs.setout.wall import Wall, name_walls

__all__ = [
    "ControlLine",
    "Datum",
    "Field",
    "SetOut",
    "Tie",
    "find_control_lines",
    "find_set_out_lines",
    "plan_setout",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tie:
    """A control line's distance from a wall in mm, at the wall's start and at its end.

    `wall` is the wall's letter, "" for the outermost point of a room that has no wall
    parallel to the line there; `place` names either in words.
    """

    wall: str
    place: str
    start: float
    end: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Datum:
    """Where running dimensions count from: coordinate `at` on `axis`, `inward` +1 or -1 into the room.

    `wall` is the letter of the wall there, "" when it is the room's outermost point;
    `place` names either in words.
    """

    axis: str
    wall: str
    place: str
    at: float
    inward: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlLine:
    """One of the two strings. Lengths in mm, coordinates local.

    Line 1 runs beside the first main, half a face off its centre, so that the edge of the
    face can follow the string; line 2 runs through the centre of the first full panels
    (common practice, no source). `axis` is the one along which it is measured ("v" for
    line 1), `at` its coordinate, `distance` that from the datum; `index` the line j of the
    main or the column i of the panels; `member` the coordinate of the main, or of the first
    tee line. `start`, `end` are the ends of its longest stretch in the room.
    """

    number: int
    axis: str
    at: float
    distance: float
    index: int
    member: float
    ties: tuple[Tie, ...]
    start: tuple[float, float]
    end: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """The largest rectangle of full panels: its first cell, its cells each way, its diagonal in mm."""

    column: int
    row: int
    columns: int
    rows: int
    diagonal: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SetOut:
    """All that a set-out sheet says about where to start.

    `first_tee` is the coordinate u of the first cross-tee line, None when there is none.
    `triangle` holds the legs on line 1 and line 2 and the diagonal of a 3-4-5 check, in
    mm, None when the strings do not cross in the room or are too short for it.
    """

    walls: tuple[Wall, ...]
    datum_u: Datum
    datum_v: Datum
    lines: tuple[ControlLine, ...]
    first_tee: float | None
    field: Field | None
    triangle: tuple[float, float, float] | None


def _bounds(ceiling: Ceiling, axis: str) -> tuple[float, float]:
    points = ceiling.layout.frame.to_local(np.asarray(ceiling.zone.outline.exterior.coords)[:, :2])
    values = points[:, 0 if axis == "u" else 1]
    return float(values.min()), float(values.max())


def _walls_at(walls: tuple[Wall, ...], axis: str, at: float) -> list[Wall]:
    """Straight outer walls across the axis that reach its end `at`; the best to measure from first."""
    k = 0 if axis == "u" else 1
    found = [
        w
        for w in walls
        if w.ring == 0
        and not w.is_curve
        and w.axis == axis
        and tolerance.is_equal(float(np.abs(w.points[:, k] - at).min()), 0.0)
    ]
    return sorted(found, key=lambda w: (w.is_tapered, -round(w.length, 2), w.edges[0]))


def _outermost(walls: tuple[Wall, ...], axis: str, at: float) -> str:
    """Words for the room's outermost point: the corner of two walls, or a point of one (a curve)."""
    k = 0 if axis == "u" else 1
    touching = [
        w.letter
        for w in walls
        if w.ring == 0 and tolerance.is_equal(float(np.abs(w.points[:, k] - at).min()), 0.0)
    ]
    if len(touching) == 1:
        return f"the outermost point of wall {touching[0]}"
    return f"the corner of walls {' and '.join(touching[:2])}"


def _find_datum(ceiling: Ceiling, walls: tuple[Wall, ...], axis: str) -> Datum:
    """The longest untapered wall at either end of the axis; the lower end when they are alike."""
    low, high = _bounds(ceiling, axis)
    ends = []
    for side, at in ((1, low), (-1, high)):
        for wall in _walls_at(walls, axis, at)[:1]:
            ends.append((wall.is_tapered, -round(wall.length, 2), -side, wall.letter, at, side))
    if not ends:
        return Datum(axis=axis, wall="", place=_outermost(walls, axis, low), at=low, inward=1)
    *_, letter, at, side = min(ends)
    return Datum(axis=axis, wall=letter, place=f"wall {letter}", at=at, inward=side)


def _ties(ceiling: Ceiling, walls: tuple[Wall, ...], datum: Datum, at: float) -> tuple[Tie, ...]:
    """Distances from the datum's wall and from the best wall at the other end."""
    k = 0 if datum.axis == "u" else 1
    low, high = _bounds(ceiling, datum.axis)
    ties = []
    for end in (low, high) if datum.inward > 0 else (high, low):
        facing = _walls_at(walls, datum.axis, end)
        if facing:
            start, stop = (abs(at - float(p[k])) for p in (facing[0].points[0], facing[0].points[-1]))
            letter = facing[0].letter
            ties.append(Tie(wall=letter, place=f"wall {letter}", start=start, end=stop))
        else:
            place = _outermost(walls, datum.axis, end)
            ties.append(Tie(wall="", place=place, start=abs(at - end), end=abs(at - end)))
    return tuple(ties)


def _longest_stretch(
    ceiling: Ceiling, axis: str, at: float
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """The longest piece of the line `axis` = `at` inside the room, local."""
    other = "v" if axis == "u" else "u"
    low, high = _bounds(ceiling, other)
    ends = [(at, low - 1.0), (at, high + 1.0)] if axis == "u" else [(low - 1.0, at), (high + 1.0, at)]
    local = ceiling.layout.frame.shape_to_local(ceiling.zone.outline)
    met = local.intersection(LineString(ends))
    pieces = [p for p in getattr(met, "geoms", [met]) if p.length > tolerance.SHORTEST_MEMBER]
    if not pieces:
        return None
    best = max(pieces, key=lambda p: (round(p.length, 2), -p.bounds[0], -p.bounds[1]))
    (x0, y0), *_, (x1, y1) = best.coords
    return (float(x0), float(y0)), (float(x1), float(y1))


def _make_line(
    ceiling: Ceiling, walls: tuple[Wall, ...], datum: Datum, at: float, index: int, member: float
) -> ControlLine | None:
    stretch = _longest_stretch(ceiling, datum.axis, at)
    if stretch is None:
        return None
    return ControlLine(
        number=1 if datum.axis == "v" else 2,
        axis=datum.axis,
        at=at,
        distance=abs(at - datum.at),
        index=index,
        member=member,
        ties=_ties(ceiling, walls, datum, at),
        start=stretch[0],
        end=stretch[1],
    )


def _lines_inward(low: float, high: float, module: float, inward: int) -> list[int]:
    """Indices of the lattice lines strictly between low and high, the first one met going inward."""
    first, last = tolerance.floor_div(low, module) + 1, tolerance.ceil_div(high, module) - 1
    return list(range(first, last + 1))[::inward]


def _first_main(ceiling: Ceiling, datum: Datum) -> int | None:
    """The j of the main nearest to the datum; of the nearest line when the room has no main."""
    members = ceiling.members
    mains = sorted({int(j) for j in members.line[members.role == Role.MAIN_RUNNER]})[:: datum.inward]
    lines = mains or _lines_inward(*_bounds(ceiling, "v"), ceiling.layout.across, datum.inward)
    return lines[0] if lines else None


def _first_full_column(ceiling: Ceiling, datum: Datum) -> int | None:
    """The i of the column nearest to the datum that holds a full panel; of shifted rows those like row 0."""
    panels = ceiling.panels
    chosen = panels.is_full & (panels.row % len(ceiling.layout.row_offsets) == 0)
    columns = sorted({int(i) for i in panels.column[chosen]})[:: datum.inward]
    return columns[0] if columns else None


def _largest_field(ceiling: Ceiling) -> Field | None:
    """The largest rectangle of full panels, by the stack method on column heights."""
    panels, layout = ceiling.panels, ceiling.layout
    full = panels.is_full & (panels.piece == 0)
    if not full.any() or layout.row_shift:  # shifted rows make no rectangle
        return None
    left, bottom = int(panels.column[full].min()), int(panels.row[full].min())
    width, depth = int(panels.column[full].max()) - left + 1, int(panels.row[full].max()) - bottom + 1
    mask = np.zeros((depth, width), dtype=bool)
    mask[panels.row[full] - bottom, panels.column[full] - left] = True
    best, area = (0, 0, 0, 0), 0
    heights = np.zeros(width, dtype=int)
    for row in range(depth):
        heights = np.where(mask[row], heights + 1, 0)
        stack: list[tuple[int, int]] = []
        for column, height in enumerate([*heights.tolist(), 0]):
            start = column
            while stack and stack[-1][1] >= height:
                start, tall = stack.pop()
                if tall * (column - start) > area:
                    area, best = tall * (column - start), (start, row - tall + 1, column - start, tall)
            stack.append((start, height))
    column, row, columns, rows = best
    return Field(
        column=column + left,
        row=row + bottom,
        columns=columns,
        rows=rows,
        diagonal=math.hypot(columns * layout.along, rows * layout.across),
    )


def _square_triangle(lines: tuple[ControlLine, ...], step: float) -> tuple[float, float, float] | None:
    """The largest 3-4-5 triangle, in up to ten whole `step`s, that fits on the crossing strings."""
    if len(lines) != 2:
        return None
    first, second = lines
    u, v = second.at, first.at
    if not (first.start[0] <= u <= first.end[0] and second.start[1] <= v <= second.end[1]):
        return None
    on_first = max(u - first.start[0], first.end[0] - u)
    on_second = max(v - second.start[1], second.end[1] - v)
    long_first = min(on_first / 4, on_second / 3)
    long_second = min(on_first / 3, on_second / 4)
    k = min(10, int(max(long_first, long_second) / step))
    if k < 1:
        return None
    legs = (4 * k * step, 3 * k * step) if long_first >= long_second else (3 * k * step, 4 * k * step)
    return (*legs, 5 * k * step)


def find_control_lines(ceiling: Ceiling) -> tuple[ControlLine, ...]:
    """The strings of a room: none, one or both, as its mains and full panels allow."""
    return plan_setout(ceiling).lines


_RUNS = {
    1: "beside the first main, half a face off its centre",
    2: "through the middle of the first full panels",
}
"""Where the strings run (common practice, no source)."""


def find_set_out_lines(ceiling: Ceiling) -> tuple[SetOutLine, ...]:
    """The strings as a model holds them."""
    return tuple(
        SetOutLine(
            number=line.number,
            start=line.start,
            end=line.end,
            runs=_RUNS[line.number],
            ties=tuple((tie.place, float(tie.start), float(tie.end)) for tie in line.ties),
        )
        for line in find_control_lines(ceiling)
    )


def plan_setout(ceiling: Ceiling, *, step: float = 300.0) -> SetOut:
    """Find what the sheet shows: walls, datums, strings, first tee line, field and square check.

    Args:
        ceiling: the ceiling to be set out.
        step: the unit of the 3-4-5 check in mm.
    """
    walls = name_walls(ceiling)
    datum_u, datum_v = (_find_datum(ceiling, walls, axis) for axis in ("u", "v"))
    layout = ceiling.layout
    tees = _lines_inward(*_bounds(ceiling, "u"), layout.along, datum_u.inward)
    first_tee = tees[0] * layout.along if tees else None
    found: list[ControlLine | None] = []
    main = _first_main(ceiling, datum_v)
    if main is not None:
        centre = main * layout.across
        at = centre + datum_v.inward * ceiling.system.main.face / 2
        found.append(_make_line(ceiling, walls, datum_v, at, main, centre))
    column = _first_full_column(ceiling, datum_u)
    if column is not None:
        at = (column + 0.5) * layout.along
        member = first_tee if first_tee is not None else at
        found.append(_make_line(ceiling, walls, datum_u, at, column, member))
    lines = tuple(line for line in found if line is not None)
    return SetOut(
        walls=walls,
        datum_u=datum_u,
        datum_v=datum_v,
        lines=lines,
        first_tee=first_tee,
        field=_largest_field(ceiling),
        triangle=_square_triangle(lines, step),
    )
