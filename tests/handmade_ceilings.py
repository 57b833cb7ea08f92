"""Ceilings built by hand with shapely, so that the outputs are tested without the solver."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString, Polygon, affinity, box

from ifcgrid.domain.ceiling import Ceiling, Hangers, Members, Opening, Panels, Role
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Border, Candidate, Certificate, Layout
from ifcgrid.domain.room import CeilingHeight, HeightEvidence, HeightSource, Room, Zone
from ifcgrid.systems import read_system

FOOT = 304.8


def rectangle(length: float, width: float) -> Polygon:
    return box(0, 0, length, width)


def inches(*points: tuple[float, float]) -> Polygon:
    return Polygon([(x * 25.4, y * 25.4) for x, y in points])


L2 = inches((0, 0), (250, 0), (250, 126), (146, 126), (146, 200), (0, 200))
TP1 = Polygon(
    [
        (0, 0),
        (6150, 0),
        (6150, 2500),
        (4025, 2500),
        (4025, 4800),
        (2125, 4800),
        (2125, 2500),
        (0, 2500),
    ]
)
T1 = inches((0, 0), (163, 0), (166, 124), (0, 124))
ROUND_ENDED = Polygon(
    [
        (0, 0),
        (6000, 0),
        *[
            (6000 + 1800 * math.sin(a), 1800 - 1800 * math.cos(a))
            for a in (k * math.pi / 16 for k in range(1, 16))
        ],
        (6000, 3600),
        (0, 3600),
    ]
)
HALL = box(0, 0, 28 * FOOT + 9 * 25.4, 68 * FOOT + 8 * 25.4)
"""28 ft 9 in by 68 ft 8 in."""

HALL_TURNED = box(0, 0, 68 * FOOT + 8 * 25.4, 28 * FOOT + 9 * 25.4)


def _borders(outline: Polygon, frame: Frame, along: float, across: float) -> tuple[Border, ...]:
    borders = []
    for number, ring in enumerate((outline.exterior, *outline.interiors)):
        world = np.asarray(ring.coords)
        local = frame.to_local(world)
        left = bool(ring.is_ccw) == (number == 0)
        for edge, (a, b) in enumerate(pairwise(local)):
            direction = (b - a) / np.hypot(*(b - a))
            normal = np.array([-direction[1], direction[0]]) * (1 if left else -1)
            axis = "u" if abs(normal[0]) > math.cos(math.radians(20)) else "oblique"
            axis = "v" if abs(normal[1]) > math.cos(math.radians(20)) else axis
            module, k = (across, 1) if axis == "v" else (along, 0)
            inner = max(a[k], b[k]) if normal[k] > 0 else min(a[k], b[k])
            steps = (inner + 1e-6) / module if normal[k] > 0 else (inner - 1e-6) / module
            line = (math.floor(steps) + 1 if normal[k] > 0 else math.ceil(steps) - 1) * module
            widths = sorted((abs(line - a[k]), abs(line - b[k])))
            borders.append(
                Border(
                    ring=number,
                    edge=edge,
                    start=tuple(map(float, world[edge])),
                    end=tuple(map(float, world[edge + 1])),
                    length=float(np.hypot(*(b - a))),
                    axis=axis,
                    least=float(widths[0]),
                    greatest=float(widths[1]),
                )
            )
    return tuple(borders)


def _panels(local: Polygon, along: float, across: float, columns: int, rows: int) -> Panels:
    found: list[tuple[int, int, int, float, bool, tuple[float, ...]]] = []
    outlines: dict[int, Polygon] = {}
    for i in range(columns):
        for j in range(rows):
            cell = box(i * along, j * across, (i + 1) * along, (j + 1) * across)
            met = local.intersection(cell)
            pieces = [p for p in getattr(met, "geoms", [met]) if p.area > 100]
            for number, piece in enumerate(sorted(pieces, key=lambda p: p.bounds)):
                full = abs(piece.area - cell.area) < 1
                if abs(piece.area - box(*piece.bounds).area) > 1:
                    outlines[len(found)] = piece
                found.append((i, j, number, piece.area, full, piece.bounds))
    column, row, piece, area, is_full, bounds = zip(*found, strict=True)
    return Panels(
        column=np.array(column, dtype=np.int32),
        row=np.array(row, dtype=np.int32),
        piece=np.array(piece, dtype=np.int32),
        room=np.zeros(len(found), dtype=np.int32),
        area=np.array(area),
        is_full=np.array(is_full),
        bounds=np.array(bounds),
        outlines=outlines,
    )


def _cut(local: Polygon, a: tuple[float, float], b: tuple[float, float]) -> list[np.ndarray]:
    met = local.intersection(LineString([a, b]))
    parts = [g for g in getattr(met, "geoms", [met]) if isinstance(g, LineString) and g.length > 1]
    return [np.asarray(p.coords)[[0, -1]] for p in sorted(parts, key=lambda p: p.bounds)]


def _runs(local: Polygon, layout: Layout) -> list[tuple[Role, int, int, np.ndarray]]:
    along, across = layout.along, layout.across
    found: list[tuple[Role, int, int, np.ndarray]] = []
    lines = range(1, layout.rows)
    mains = [j for j in lines if j % layout.main_every == layout.main_phase]
    for j in mains:
        ends = _cut(local, (0, j * across), (layout.columns * along, j * across))
        found += [(Role.MAIN_RUNNER, j, k, piece) for k, piece in enumerate(ends)]
    for i in range(1, layout.columns):
        for low, top in pairwise([0, *mains, layout.rows]):
            pieces = _cut(local, (i * along, low * across), (i * along, top * across))
            found += [(Role.CROSS_TEE, i, low, piece) for piece in pieces]
    for j in (j for j in lines if j not in mains):
        for i in range(layout.columns):
            pieces = _cut(local, (i * along, j * across), ((i + 1) * along, j * across))
            found += [(Role.SECOND_TEE, j, i, piece) for piece in pieces]
    return found


def _trim(local: Polygon) -> list[tuple[Role, int, int, np.ndarray]]:
    rings = [np.asarray(r.coords) for r in (local.exterior, *local.interiors)]
    return [
        (Role.WALL_ANGLE, number, edge, points[edge : edge + 2])
        for number, points in enumerate(rings)
        for edge in range(len(points) - 1)
    ]


def _members(local: Polygon, layout: Layout) -> Members:
    found = _runs(local, layout) + _trim(local)
    role, line, index, ends = zip(*found, strict=True)
    stacked = np.stack(ends)
    return Members(
        role=np.array(role, dtype=np.int32),
        line=np.array(line, dtype=np.int32),
        index=np.array(index, dtype=np.int32),
        room=np.zeros(len(found), dtype=np.int32),
        start=stacked[:, 0],
        end=stacked[:, 1],
    )


def _hangers(members: Members, spacing: float, end: float, bottom: float) -> Hangers:
    line: list[int] = []
    index: list[int] = []
    points: list[tuple[float, float]] = []
    counts: dict[int, int] = {}
    for k in np.flatnonzero(members.role == Role.MAIN_RUNNER):
        (u0, v), (u1, _) = members.start[k], members.end[k]
        first = min(end, (u1 - u0) / 2)
        count = max(2, math.ceil((u1 - u0 - 2 * first) / spacing) + 1)
        for u in np.linspace(u0 + first, u1 - first, count):
            j = int(members.line[k])
            line.append(j)
            index.append(counts.setdefault(j, 0))
            counts[j] += 1
            points.append((float(u), float(v)))
    return Hangers(
        line=np.array(line, dtype=np.int32),
        index=np.array(index, dtype=np.int32),
        room=np.zeros(len(line), dtype=np.int32),
        point=np.array(points, dtype=float).reshape(-1, 2),
        bottom=np.full(len(line), bottom),
        top=np.full(len(line), bottom + 600.0),
        support=("slab",) * len(line),
    )


def build_ceiling(
    outline: Polygon,
    borders: tuple[float, float],
    *,
    system: str = "lay-in-600x600",
    angle_deg: float = 0.0,
    main_phase: int = 0,
    name: str = "Office",
    number: str = "101",
    openings: tuple[Opening, ...] = (),
    at: tuple[float, float] = (0.0, 0.0),
) -> Ceiling:
    """A ceiling over `outline` (given level, then turned by `angle_deg` and moved to `at`).

    `borders` are the first border strips along u and v, counted from the outline's least corner.
    """
    grid = read_system(system)
    u, v = borders
    left, low, right, top = outline.bounds
    origin = (left + u - grid.along, low + v - grid.across)
    turned = affinity.translate(affinity.rotate(outline, angle_deg, origin=(0, 0)), *at)
    turned = shapely.geometry.polygon.orient(turned)
    place = affinity.translate(affinity.rotate(shapely.Point(*origin), angle_deg, origin=(0, 0)), *at)
    frame = Frame(x=place.x, y=place.y, angle_deg=angle_deg)
    local = frame.shape_to_local(turned)
    columns = math.ceil((right - origin[0]) / grid.along - 1e-9)
    rows = math.ceil((top - origin[1]) / grid.across - 1e-9)
    won = Candidate(angle_deg=angle_deg, origin=origin, scores=(("border minimum", 0.0),), lost_on="")
    lost = Candidate(
        angle_deg=angle_deg,
        origin=(0.0, 0.0),
        scores=(("border minimum", 0.0), ("equal borders", 130.0)),
        lost_on="equal borders",
    )
    layout = Layout(
        frame=frame,
        along=grid.along,
        across=grid.across,
        main_every=grid.main_every,
        main_phase=main_phase,
        columns=columns,
        rows=rows,
        borders=_borders(turned, frame, grid.along, grid.across),
        scores=(("border minimum", 0.0),),
        meets_minimum=True,
        reason="borders equal",
        policy="half-module",
        certificate=Certificate(
            method="exact", tried=4, resolution=0.0, statement="four offsets compared", best=(won, lost)
        ),
    )
    height = CeilingHeight(
        value=2700.0,
        source=HeightSource.COVERING,
        candidates=(
            HeightEvidence(source=HeightSource.COVERING, value=2700.0, where="covering 12"),
            HeightEvidence(source=HeightSource.FINISH_CEILING_HEIGHT, value=2800.0, where="a quantity"),
            HeightEvidence(source=HeightSource.BODY, value=3000.0, where="top of the body"),
        ),
    )
    room = Room(
        key="3vB2YO$MX4xv5uCqZZG05x",
        name=name,
        number=number,
        storey="Level 1",
        storey_key="storey",
        section=turned,
        outline=turned,
        floor=0.0,
        top=3000.0,
        height=height,
    )
    members = _members(local, layout)
    return Ceiling(
        zone=Zone(key=room.key, rooms=(room,), outline=turned, level=2700.0),
        system=grid,
        layout=layout,
        panels=_panels(local, grid.along, grid.across, columns, rows),
        members=members,
        hangers=_hangers(members, grid.hanger_spacing, grid.hanger_end, 2738.0),
        openings=openings,
    )


def light(column: int, row: int, ceiling_along: float = 600.0, ceiling_across: float = 600.0) -> Opening:
    outline = box(
        column * ceiling_along,
        row * ceiling_across,
        (column + 1) * ceiling_along,
        (row + 1) * ceiling_across,
    )
    return Opening(
        key=f"light-{column}-{row}", outline=outline, room=0, is_lay_in=True, cells=(column, row, 1, 1)
    )
