"""Laws of pieces and hangers in every room, measured again from the arrays alone."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely
from handmade_lattices import LEVEL, make_zone
from handmade_obstacles import thing
from hypothesis import given, settings
from hypothesis import strategies as st
from random_lattices import SYSTEMS, layouts
from shapely import LineString, Point, Polygon, affinity, box

from ifcgrid.design.framing import place_members
from ifcgrid.design.stock import cut_pieces
from ifcgrid.design.suspension import hang
from ifcgrid.domain.ceiling import Members, Role
from ifcgrid.domain.hanging import HangerKind, Pieces
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import Kind
from ifcgrid.domain.system import GridSystem

HAIR = 0.03
Case = tuple[Polygon, Layout, int]


def _cut(case: Case, **cutting: object) -> tuple[GridSystem, Members, Pieces]:
    room, layout, number = case
    system = SYSTEMS[number]
    assert system.cutting
    system = replace(system, cutting=replace(system.cutting, **cutting))
    members = place_members(make_zone(room), system, layout)
    cut = cut_pieces(system, layout, members)
    assert cut
    return system, members, cut.pieces


def _carriers(members: Members, role: Role) -> list[tuple[np.ndarray, np.ndarray]]:
    wanted = {Role.CROSS_TEE: (Role.MAIN_RUNNER, Role.SECOND_TEE), Role.SECOND_TEE: (Role.CROSS_TEE,)}
    chosen = np.isin(members.role, wanted.get(role, ()))
    return list(zip(members.start[chosen], members.end[chosen], strict=True))


@given(layouts())
@settings(max_examples=60, deadline=None)
def test_no_tee_ends_in_the_air(case: Case) -> None:
    room, layout, _ = case
    _, members, _ = _cut(case)
    walls = layout.frame.shape_to_local(room).boundary
    for role in (Role.MAIN_RUNNER, Role.CROSS_TEE, Role.SECOND_TEE):
        carriers = shapely.linestrings(np.array(_carriers(members, role)).reshape(-1, 2, 2))
        for k in np.flatnonzero(members.role == role).tolist():
            for end in (members.start[k], members.end[k]):
                spot = Point(end)
                on_member = len(carriers) and shapely.distance(carriers, spot).min() <= HAIR
                assert on_member or walls.distance(spot) <= HAIR


@given(layouts(), st.sampled_from([0.0, 3.0]), st.sampled_from([0.0, 500.0]), st.integers(0, 3))
@settings(max_examples=80, deadline=None)
def test_pieces_fill_their_member_and_no_stock_is_used_twice(
    case: Case, gap: float, stagger: float, chain: int
) -> None:
    system, members, pieces = _cut(case, end_gap=gap, stagger=stagger, offcut_chain=chain)
    room, layout, _ = case
    local = layout.frame.shape_to_local(room)
    assert set(pieces.member.tolist()) == set(np.flatnonzero(members.role != Role.WALL_ANGLE).tolist())
    for member in sorted(set(pieces.member.tolist())):
        own = np.flatnonzero(pieces.member == member)
        assert pieces.number[own].tolist() == list(range(len(own)))
        assert pieces.end[own[:-1]] == pytest.approx(pieces.start[own[1:]], abs=1e-6)
        short = members.length[member] - pieces.length[own].sum()
        walls = sum(
            local.boundary.distance(Point(end)) <= HAIR
            for end in (members.start[member], members.end[member])
        )
        assert -1e-6 <= short <= walls * gap + 1e-6
        if members.role[member] == Role.MAIN_RUNNER and members.length[member] > 2 * gap + 2:
            assert short == pytest.approx(2 * gap, abs=1e-6)
    assert pieces.stock is not None
    assert pieces.stock_start is not None
    assert pieces.stock_length is not None
    assert (pieces.length <= pieces.stock_length + 0.02).all()
    assert (pieces.stock_start >= -1e-6).all()
    for stock in sorted(set(pieces.stock.tolist())):
        own = np.flatnonzero(pieces.stock == stock)
        spans = sorted((pieces.stock_start[k], pieces.stock_start[k] + pieces.length[k]) for k in own)
        assert all(a[1] <= b[0] + 0.02 for a, b in pairwise(spans))
        assert spans[-1][1] <= pieces.stock_length[own[0]] + 0.02
        is_tee = members.role[pieces.member[own[0]]] != Role.MAIN_RUNNER
        # NAVEDTRA 14044 p. 5-17: no more than two border tees from one cross tee.
        assert not is_tee or len(own) <= 2
    known = {system.main_stock, *(system.cutting.tees if system.cutting else ())}
    assert set(pieces.stock_length.tolist()) <= known


@given(layouts(), st.integers(0, 3))
@settings(max_examples=80, deadline=None)
def test_a_hole_is_on_every_tee_line_that_meets_a_main(case: Case, chain: int) -> None:
    system, members, pieces = _cut(case, offcut_chain=chain)
    layout = case[1]
    assert system.cutting
    pitch, gap = system.cutting.hole_pitch, system.cutting.end_gap
    for member in np.flatnonzero(members.role == Role.MAIN_RUNNER).tolist():
        low, high = members.start[member, 0], members.end[member, 0]
        holes: list[float] = []
        for k in np.flatnonzero(pieces.member == member).tolist():
            if not math.isnan(pieces.first_hole[k]):
                first = low + pieces.start[k] + pieces.first_hole[k]
                holes += np.arange(first, low + pieces.end[k] + 0.05, pitch).tolist()
        lines = np.arange(math.ceil((low + gap + 0.05) / layout.along), (high - gap - 0.05) / layout.along)
        for line in (lines * layout.along).tolist():
            assert min(abs(hole - line) for hole in holes) <= 0.05
    # Tees of the second rank meet a cross tee at its slots.
    for k in np.flatnonzero(members.role[pieces.member] == Role.CROSS_TEE).tolist():
        if not math.isnan(pieces.first_hole[k]):
            at = members.start[pieces.member[k], 1] + pieces.start[k] + pieces.first_hole[k]
            assert abs(at / layout.across - round(at / layout.across)) * layout.across <= 0.05


def _runs(members: Members) -> list[tuple[int, float, float, float]]:
    mains = np.flatnonzero(members.role == Role.MAIN_RUNNER).tolist()
    return [(k, members.start[k, 0], members.end[k, 0], members.start[k, 1]) for k in mains]


@given(layouts(), st.sampled_from([1, 2]))
@settings(max_examples=60, deadline=None)
def test_spacing_ends_and_splices_have_their_hangers(case: Case, sides: int) -> None:
    room, layout, _ = case
    system, members, pieces = _cut(case)
    system = replace(system, hanging=replace(system.hanging, splice_sides=sides))
    hanging = hang(make_zone(room), system, layout, members, pieces=pieces)
    hangers, rules = hanging.hangers, system.hanging
    assert hanging.notes == ()
    assert len(set(hangers.keys())) == len(hangers)
    for member, low, high, across in _runs(members):
        on = (np.abs(hangers.point[:, 1] - across) < 1e-6) & (hangers.point[:, 0] >= low - 1e-6)
        places = np.sort(hangers.point[on & (hangers.point[:, 0] <= high + 1e-6), 0])
        assert places[0] - low <= system.hanger_end + 0.02
        assert high - places[-1] <= system.hanger_end + 0.02
        assert (np.diff(places) <= system.hanger_spacing + 0.02).all()
        for k in np.flatnonzero((pieces.member == member) & (pieces.number > 0)).tolist():
            splice = low + pieces.start[k]
            beside = places - splice
            assert (np.abs(beside) <= rules.splice_reach + 0.02).any()
            assert (np.abs(beside) >= rules.splice_gap - 0.02).all()
            if sides == 2 and min(splice - low, high - splice) > rules.splice_reach:
                assert {-1.0, 1.0} <= set(np.sign(beside[np.abs(beside) <= rules.splice_reach + 0.02]))


@given(
    layouts(),
    st.tuples(st.integers(-4, 4), st.integers(-4, 4), st.integers(0, 179)),
    st.sampled_from([60, 300, 1100]),
    st.sampled_from([50, 130, 600]),
)
@settings(max_examples=60, deadline=None)
def test_nothing_that_hangs_comes_near_a_duct(
    case: Case, place: tuple[int, int, int], width: int, above: int
) -> None:
    room, layout, _ = case
    system, members, pieces = _cut(case)
    top = LEVEL + system.main.height
    slab = thing(Kind.SLAB, box(*room.bounds).buffer(500), top + 1100, top + 1300, "slab")
    middle = room.representative_point()
    turned = affinity.rotate(box(-3000, -width / 2, 3000, width / 2), place[2])
    outline = affinity.translate(turned, middle.x + 100 * place[0], middle.y + 100 * place[1])
    duct = thing(Kind.DUCT, outline, top + above, top + above + 200, "duct")
    hanging = hang(make_zone(room), system, layout, members, [slab], pieces=pieces, services=[duct])
    hangers, rules = hanging.hangers, system.hanging
    body = layout.frame.shape_to_local(outline)
    near = body.buffer(rules.clearance - 0.5, join_style="mitre")
    # Straight ones may keep a quarter of it where mains else hung free; each is told.
    touched = body.buffer(rules.clearance / 4 - 0.5, join_style="mitre")
    close = 0
    shares = np.linspace(0, 1, 41)[:, None]
    for k in range(len(hangers)):
        low = np.array([*hangers.point[k], hangers.bottom[k]])
        ways = low + shares * (np.array([*hangers.top_points[k], hangers.top[k]]) - low)
        inside = ways[(ways[:, 2] > duct.bottom) & (ways[:, 2] < duct.top)]
        if shapely.contains_xy(near, inside[:, 0], inside[:, 1]).any():
            assert hangers.kinds[k] == HangerKind.STRAIGHT
            assert not shapely.contains_xy(touched, inside[:, 0], inside[:, 1]).any()
            close += 1
    told = [note for note in hanging.notes if "nearer than the clearance" in note]
    assert close <= sum(int(note.split()[0]) for note in told)
    if hanging.trapezes is not None:
        for ends, z in zip(hanging.trapezes.ends, hanging.trapezes.z, strict=True):
            assert z + rules.bar_depth + rules.clearance <= duct.bottom + 0.01
            assert not shapely.contains_xy(near, ends[:, 0], ends[:, 1]).any()
            assert LineString(ends).length <= rules.bar_longest + 0.1
    lean = np.hypot(*(hangers.top_points - hangers.point).T)
    assert (lean <= (hangers.top - hangers.bottom) / rules.splay + 0.01).all()
    counts = [int((hangers.kinds == kind).sum()) for kind in (HangerKind.SPLAYED, HangerKind.COUNTER)]
    assert counts[0] == counts[1]
    if not any("hang free" in note for note in hanging.notes):
        for _, low, high, across in _runs(members):
            on = (np.abs(hangers.point[:, 1] - across) < 1e-6) & (hangers.point[:, 0] >= low - 1e-6)
            places = np.sort(hangers.point[on & (hangers.point[:, 0] <= high + 1e-6), 0])
            stops = [
                low + system.hanger_end - system.hanger_spacing,
                *places,
                high - system.hanger_end + system.hanger_spacing,
            ]
            assert (np.diff(stops) <= system.hanger_spacing + 0.02).all()
