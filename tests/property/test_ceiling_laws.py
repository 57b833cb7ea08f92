"""Laws that hold for every room, checked by brute force with shapely on random rooms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from handmade_lattices import make_zone
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from random_lattices import SYSTEMS, layouts
from shapely import LineString, Polygon, affinity, box

from ifcgrid.design.framing import place_members
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.suspension import place_hangers
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Members, Opening, Panels, Role
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Layout

HAIR = 0.03
"""Wider than the tolerance by which a wall may be moved onto a line, in mm."""


def _shapes(panels: Panels) -> list[Polygon]:
    return [panels.outlines.get(k, box(*panels.bounds[k])) for k in range(len(panels))]


def _lines(members: Members, *roles: Role) -> list[LineString]:
    chosen = np.isin(members.role, roles)
    return [LineString(ends) for ends in np.stack([members.start, members.end], axis=1)[chosen]]


TEES = (Role.MAIN_RUNNER, Role.CROSS_TEE, Role.SECOND_TEE)


@given(layouts())
@settings(max_examples=150, deadline=None)
def test_panels_are_the_pieces_of_room_in_the_cells(case: tuple[Polygon, Layout, int]) -> None:
    room, layout, _ = case
    panels = cut_panels(make_zone(room), layout)
    local = layout.frame.shape_to_local(room)
    left, low, right, high = local.bounds
    wanted: list[tuple[int, int, float]] = []
    for i in range(math.floor(left / layout.along) - 1, math.ceil(right / layout.along) + 1):
        for j in range(math.floor(low / layout.across) - 1, math.ceil(high / layout.across) + 1):
            a, b = layout.along, layout.across
            cell = box(i * a, j * b, (i + 1) * a, (j + 1) * b)
            wanted += [(i, j, p.area) for p in shapely.get_parts(local.intersection(cell)) if p.area > 0]
    # Scraps about as large as the least piece may fall on either side of it.
    sure = sorted(w for w in wanted if w[2] > tolerance.PIECE_AREA + 20)
    found = sorted(zip(panels.column.tolist(), panels.row.tolist(), panels.area.tolist(), strict=True))
    found = [f for f in found if f[2] > tolerance.PIECE_AREA + 20]
    assert [f[:2] for f in found] == [w[:2] for w in sure]
    assert [f[2] for f in found] == pytest.approx([w[2] for w in sure], abs=20)
    assert panels.area.sum() == pytest.approx(room.area, abs=len(wanted) * tolerance.PIECE_AREA)
    assert len(set(panels.keys())) == len(panels)
    for k, shape in enumerate(_shapes(panels)):
        assert shape.area == pytest.approx(panels.area[k], abs=2)
        assert shape.bounds == pytest.approx(tuple(panels.bounds[k]), abs=1e-6)
        missing = layout.along * layout.across - panels.area[k]
        assert bool(panels.is_full[k]) == (missing <= tolerance.AREA)


@given(layouts())
@settings(max_examples=150, deadline=None)
def test_members_lie_in_the_room_and_carry_every_panel_edge(case: tuple[Polygon, Layout, int]) -> None:
    room, layout, number = case
    zone = make_zone(room)
    members = place_members(zone, SYSTEMS[number], layout)
    panels = cut_panels(zone, layout)
    local = layout.frame.shape_to_local(room)
    assert len(set(members.keys())) == len(members)
    tees = _lines(members, *TEES)
    # Inside, clear of holes, and not along a wall.
    for line in tees:
        assert line.difference(local.buffer(HAIR)).is_empty
        assert line.intersection(local.boundary).length <= HAIR
        assert local.distance(line.interpolate(0.5, normalized=True)) == 0
    # No two on one another.
    carried = shapely.union_all(tees)
    assert carried.length == pytest.approx(sum(line.length for line in tees), abs=HAIR * (len(tees) + 1))
    _assert_edges_are_carried(panels, carried, local)
    # The wall angle is the outline.
    angles = shapely.union_all(_lines(members, Role.WALL_ANGLE))
    assert angles.hausdorff_distance(local.boundary) <= HAIR
    for line in _lines(members, Role.WALL_ANGLE):
        (x, y), (p, q) = line.coords
        middle = line.interpolate(0.5, normalized=True)
        left = shapely.Point(middle.x - (q - y) / line.length * 0.2, middle.y + (p - x) / line.length * 0.2)
        assert local.contains(left)


def _assert_edges_are_carried(panels: Panels, carried: shapely.Geometry, local: Polygon) -> None:
    walls = local.boundary.buffer(2 * HAIR)
    rings = shapely.union_all([shape.boundary for shape in _shapes(panels)])
    bare = rings.intersection(local).difference(walls).difference(carried.buffer(HAIR))
    assert all(part.length <= tolerance.SHORTEST_MEMBER + HAIR for part in shapely.get_parts(bare))


@given(layouts())
@settings(max_examples=80, deadline=None)
def test_hangers_keep_both_limits_with_the_least_number(case: tuple[Polygon, Layout, int]) -> None:
    room, layout, number = case
    zone, system = make_zone(room), SYSTEMS[number]
    members = place_members(zone, system, layout)
    hangers = place_hangers(zone, system, layout, members)
    mains = members.role == Role.MAIN_RUNNER
    assert len(set(hangers.keys())) == len(hangers)
    seen = 0
    for line, start, end in zip(members.line[mains], members.start[mains], members.end[mains], strict=True):
        on_run = (hangers.line == line) & (hangers.point[:, 0] >= start[0]) & (hangers.point[:, 0] <= end[0])
        places = np.sort(hangers.point[on_run, 0])
        seen += len(places)
        assert places[0] - start[0] <= system.hanger_end + 0.01
        assert end[0] - places[-1] <= system.hanger_end + 0.01
        assert (np.diff(places) <= system.hanger_spacing + 0.01).all()
        # One fewer could not reach from end to end.
        reach = 2 * system.hanger_end + (len(places) - 2) * system.hanger_spacing
        assert len(places) == 1 or reach < end[0] - start[0]
    assert seen == len(hangers)


def _ceiling(room: Polygon, layout: Layout, number: int) -> Ceiling:
    zone, system = make_zone(room), SYSTEMS[number]
    members = place_members(zone, system, layout)
    return Ceiling(
        zone=zone,
        system=system,
        layout=layout,
        panels=cut_panels(zone, layout),
        members=members,
        hangers=place_hangers(zone, system, layout, members),
    )


def _sizes(ceiling: Ceiling) -> tuple[list[float], list[list[float]], int]:
    lengths = [
        sorted(x for x in ceiling.members.length[ceiling.members.role == role].tolist() if x > 2)
        for role in Role
    ]
    return sorted(a for a in ceiling.panels.area.tolist() if a > 120), lengths, len(ceiling.hangers)


@given(layouts(), st.sampled_from([0, 90, 180, 31.7]), st.booleans(), st.sampled_from([0.0, 1234.5, 2.5e7]))
@settings(max_examples=80, deadline=None)
def test_translation_rotation_and_mirror_carry_the_ceiling(
    case: tuple[Polygon, Layout, int], turn: float, mirrored: bool, far: float
) -> None:
    room, layout, number = case
    one = _ceiling(room, layout, number)
    origin = shapely.Point(layout.frame.x, layout.frame.y)
    angle, phase = layout.frame.angle_deg, layout.main_phase
    if mirrored:
        room = affinity.scale(room, 1, -1, origin=(0, 0))
        origin, angle, phase = affinity.scale(origin, 1, -1, origin=(0, 0)), -angle, -phase
    room = affinity.translate(affinity.rotate(room, turn, origin=(0, 0)), far, -far)
    origin = affinity.translate(affinity.rotate(origin, turn, origin=(0, 0)), far, -far)
    moved = replace(
        layout,
        frame=Frame(x=origin.x, y=origin.y, angle_deg=angle + turn),
        main_phase=phase % layout.main_every,
    )
    areas, lengths, hangers = _sizes(one)
    other_areas, other_lengths, other_hangers = _sizes(_ceiling(room, moved, number))
    assert other_areas == pytest.approx(areas, abs=20)
    for role in Role:
        assert other_lengths[role] == pytest.approx(lengths[role], abs=0.05)
    assert other_hangers == hangers


@given(layouts(), st.data())
@settings(max_examples=80, deadline=None)
def test_lay_in_openings_take_panels_and_tees_but_leave_all_other_edges_carried(
    case: tuple[Polygon, Layout, int], data: st.DataObject
) -> None:
    room, layout, number = case
    zone = make_zone(room)
    whole = cut_panels(zone, layout)
    cells = set(zip(whole.column[whole.is_full].tolist(), whole.row[whole.is_full].tolist(), strict=True))
    assume(cells)
    openings: list[Opening] = []
    for name in range(data.draw(st.integers(1, 3))):
        i, j = data.draw(st.sampled_from(sorted(cells)))
        size = data.draw(st.sampled_from([(1, 1), (2, 1), (1, 2), (2, 2), (3, 1)]))
        names = {(i + k, j + m) for k in range(size[0]) for m in range(size[1])}
        on_main = any((j + m - layout.main_phase) % layout.main_every == 0 for m in range(1, size[1]))
        if on_main or not names <= cells:
            continue
        cells -= names
        a, b = layout.along, layout.across
        outline = box(i * a, j * b, (i + size[0]) * a, (j + size[1]) * b)
        opening = Opening(key=str(name), outline=outline, room=0, is_lay_in=True, cells=(i, j, *size))
        openings.append(opening)
        if not cells:
            break
    panels = cut_panels(zone, layout, openings)
    members = place_members(zone, SYSTEMS[number], layout, openings)
    gone = sum(o.outline.area for o in openings)
    assert panels.area.sum() == pytest.approx(whole.area.sum() - gone, abs=9 * tolerance.AREA)
    tees = shapely.union_all(_lines(members, *TEES))
    for opening in openings:
        assert tees.intersection(opening.outline.buffer(-HAIR)).is_empty
    _assert_edges_are_carried(panels, tees, layout.frame.shape_to_local(room))
    # A second tee still ends on something at both ends.
    rests = shapely.union_all([*_lines(members, *TEES), layout.frame.shape_to_local(room).boundary])
    for line in _lines(members, Role.CROSS_TEE, Role.SECOND_TEE):
        for end in line.boundary.geoms:
            others = rests.intersection(end.buffer(0.5))
            across = [p for p in shapely.get_parts(others) if p.length > 0]
            assert sum(p.length for p in across) > 0.75
