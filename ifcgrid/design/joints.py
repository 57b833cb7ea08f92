"""Separation joints: where a large ceiling is parted, and the members that are cut there.

Source of the numbers: `ifcgrid.domain.bracing`. A joint lies on a cross-tee line or on a
main. The members on the line belong to the part before it; those that reach it from beyond
begin a free gap after it. How they rest there is for the detailer: a slip joint of the
system, or a trim of its own on either side.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise, product

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from ifcgrid.design.framing import CROWDED
from ifcgrid.domain import tolerance
from ifcgrid.domain.bracing import BracingRules, SeparationJoint
from ifcgrid.domain.ceiling import Members, Role
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.room import Zone

__all__ = ["cut_members", "find_joints", "split_zone"]

MOST_PARTS = 8
"""Parts a direction that are tried at most: 64 parts of 2,500 ft² are 15,000 m²."""


def find_joints(zone: Zone, layout: Layout, rules: BracingRules) -> tuple[SeparationJoint, ...]:
    """The joints of a zone; none where the rules ask for none.

    The fewest parts whose area and whose ratio of long to short side keep the limits, each
    joint on the line nearest to equal areas; of as few parts those with the shortest joints.
    """
    outline: Polygon = layout.frame.shape_to_local(zone.outline)
    is_large = tolerance.is_greater(outline.area, rules.joint_area, tolerance.AREA)
    is_long = rules.is_ratio_alone and _is_longer(outline, rules.joint_ratio)
    if not rules.is_jointed or not (is_large or is_long):
        return ()
    tried = sorted(product(range(1, MOST_PARTS + 1), repeat=2), key=lambda n: (n[0] * n[1], n))
    best: tuple[int, float, tuple[SeparationJoint, ...]] | None = None
    for along, across in tried:
        if best is not None and along * across > best[0]:
            break
        joints = _joints(outline, layout, (along, across), rules.joint_gap)
        if joints is None or not all(_is_kept(part, rules) for part in _split(outline, layout, joints)):
            continue
        length = sum(shapely.LineString([j.start, j.end]).length for j in joints)
        if best is None or length < best[1] - tolerance.LENGTH:
            best = (along * across, length, joints)
    return best[2] if best else ()


def split_zone(zone: Zone, layout: Layout, joints: Sequence[SeparationJoint]) -> list[Polygon]:
    """The parts of a zone between its joints, local, sorted by their least corner."""
    return _split(layout.frame.shape_to_local(zone.outline), layout, joints)


def _is_longer(part: Polygon, ratio: float) -> bool:
    """Whether the long side of a part is more than so many times its short one."""
    low_u, low_v, high_u, high_v = part.bounds
    short, long = sorted((high_u - low_u, high_v - low_v))
    return tolerance.is_greater(long, ratio * short)


def _is_kept(part: Polygon, rules: BracingRules) -> bool:
    is_large = tolerance.is_greater(part.area, rules.joint_area, tolerance.AREA)
    return not is_large and not _is_longer(part, rules.joint_ratio)


def _split(outline: Polygon, layout: Layout, joints: Sequence[SeparationJoint]) -> list[Polygon]:
    low_u, low_v, high_u, high_v = outline.bounds
    cuts_u = sorted({low_u, high_u, *(j.line * layout.along for j in joints if j.axis == "u")})
    cuts_v = sorted({low_v, high_v, *(j.line * layout.across for j in joints if j.axis == "v")})
    parts = [
        part
        for (u0, u1), (v0, v1) in product(pairwise(cuts_u), pairwise(cuts_v))
        for part in shapely.get_parts(outline.intersection(shapely.box(u0, v0, u1, v1))).tolist()
        if isinstance(part, Polygon) and part.area > tolerance.PIECE_AREA
    ]
    return sorted(parts, key=lambda p: p.bounds)


def _joints(
    outline: Polygon, layout: Layout, parts: tuple[int, int], gap: float
) -> tuple[SeparationJoint, ...] | None:
    """Joints for so many parts along and across the mains; None where there are too few lines."""
    # Shifted rows have no tee line that goes straight through.
    columns = [] if layout.row_shift else list(range(1, layout.columns))
    mains = [
        j for j in range(1, layout.rows) if j % layout.main_every == layout.main_phase % layout.main_every
    ]
    found: list[SeparationJoint] = []
    for axis, lines, module, count in (
        ("u", columns, layout.along, parts[0]),
        ("v", mains, layout.across, parts[1]),
    ):
        chosen = _equal_lines(outline, axis, lines, module, count)
        if chosen is None:
            return None
        for line in chosen:
            found += _on_line(outline, axis, line, module, gap)
    return tuple(found)


def _equal_lines(
    outline: Polygon, axis: str, lines: Sequence[int], module: float, count: int
) -> list[int] | None:
    if count - 1 > len(lines):
        return None
    low_u, low_v, high_u, high_v = outline.bounds
    before = [
        outline.intersection(
            shapely.box(low_u, low_v, k * module, high_v)
            if axis == "u"
            else shapely.box(low_u, low_v, high_u, k * module)
        ).area
        for k in lines
    ]
    chosen = [
        min(range(len(lines)), key=lambda i: (abs(before[i] - outline.area * share / count), i))
        for share in range(1, count)
    ]
    return [lines[i] for i in chosen] if len(set(chosen)) == len(chosen) else None


def _on_line(outline: Polygon, axis: str, line: int, module: float, gap: float) -> Iterator[SeparationJoint]:
    low_u, low_v, high_u, high_v = outline.bounds
    at = line * module
    ends = [(at, low_v), (at, high_v)] if axis == "u" else [(low_u, at), (high_u, at)]
    pieces = [
        sorted(piece.coords)
        for piece in shapely.get_parts(outline.intersection(LineString(ends))).tolist()
        if isinstance(piece, LineString) and piece.length > tolerance.SHORTEST_MEMBER
    ]
    for number, piece in enumerate(sorted(pieces)):
        (u0, v0), (u1, v1) = piece[0], piece[-1]
        yield SeparationJoint(axis=axis, line=line, number=number, start=(u0, v0), end=(u1, v1), gap=gap)


def cut_members(members: Members, layout: Layout, joints: Sequence[SeparationJoint]) -> Members:
    """Members parted at the joints, in the order that `place_members` gives.

    A joint on a cross-tee line parts what runs along the mains, one on a main what runs
    across. What begins at the line is shortened by the gap; what crosses it becomes two.
    """
    for joint in joints:
        members = _cut(members, layout, joint)
    return members


def _cut(members: Members, layout: Layout, joint: SeparationJoint) -> Members:
    k = 0 if joint.axis == "u" else 1
    roles = (Role.MAIN_RUNNER, Role.SECOND_TEE) if k == 0 else (Role.CROSS_TEE,)
    at = joint.line * (layout.along if k == 0 else layout.across)
    place = members.start[:, 1 - k]
    meets = np.isin(members.role, roles)
    meets &= (place >= joint.start[1 - k] - tolerance.LENGTH) & (place <= joint.end[1 - k] + tolerance.LENGTH)
    begins = meets & (np.abs(members.start[:, k] - at) <= tolerance.LENGTH)
    crosses = meets & ~begins & (members.start[:, k] < at) & (members.end[:, k] > at + tolerance.LENGTH)
    start, end = members.start.copy(), members.end.copy()
    start[begins, k] += joint.gap
    rest = np.flatnonzero(crosses)
    rest_start, rest_end = start[rest].copy(), end[rest].copy()
    rest_start[:, k] = at + joint.gap
    end[rest, k] = at
    step = np.full(len(rest), joint.line, dtype=np.int32)
    return _ordered(
        role=np.concatenate([members.role, members.role[rest]]),
        line=np.concatenate([members.line, members.line[rest]]),
        index=np.concatenate([members.index, step]),
        room=np.concatenate([members.room, members.room[rest]]),
        start=np.concatenate([start, rest_start]),
        end=np.concatenate([end, rest_end]),
    )


def _ordered(
    role: NDArray[np.int32],
    line: NDArray[np.int32],
    index: NDArray[np.int32],
    room: NDArray[np.int32],
    start: NDArray[np.float64],
    end: NDArray[np.float64],
) -> Members:
    """Members sorted by role, line and place, without those that a gap ate up; runs counted anew."""
    kept = np.hypot(*(end - start).T) >= tolerance.SHORTEST_MEMBER
    place = np.where(role == Role.CROSS_TEE, start[:, 1], start[:, 0])
    is_trim = role == Role.WALL_ANGLE
    order = np.lexsort((np.where(is_trim, index, place), line, role))
    order = order[kept[order]]
    index = index.copy()
    seen: dict[tuple[int, int, int], int] = {}
    runs: dict[int, int] = {}
    for k in order.tolist():
        if role[k] == Role.MAIN_RUNNER:
            index[k] = runs[int(line[k])] = runs.get(int(line[k]), -1) + 1
        elif not is_trim[k]:
            step = int(index[k]) - CROWDED * round(int(index[k]) / CROWDED)
            key = int(role[k]), int(line[k]), step
            seen[key] = seen.get(key, -1) + 1
            index[k] = key[2] + CROWDED * seen[key]
    return Members(
        role=role[order],
        line=line[order],
        index=index[order].astype(np.int32),
        room=room[order],
        start=start[order],
        end=end[order],
    )
