"""Lights, air terminals and other devices against the grid: module, members, size, each other."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.checks.fixture import Fixtures
from ifcgrid.checks.scene import Scene, name_of, verb, words
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import Kind

__all__ = ["Crossed", "check_members", "check_modules", "check_overlaps", "check_sizes", "crossed_members"]

Crossed = Mapping[int, Sequence[int]]
"""By device: the members whose axis runs through it, both as indices of their arrays."""


def _deviation(fixtures: Fixtures) -> NDArray[np.float64]:
    """How far (n,) the farthest edge of each lay-in device stands off its place, in mm.

    The greatest shift along u or v of a corner from where it would be, centred and
    parallel: for a device that is not turned, the greater component of its offset.
    """
    offset = fixtures.centre - fixtures.place
    cos, sin = np.cos(fixtures.turn), np.sin(fixtures.turn)
    worst = np.zeros(len(fixtures))
    for a, b in ((1, 1), (1, -1)):
        half = fixtures.size / 2 * np.array([a, b])
        turned = np.stack([cos * half[:, 0] - sin * half[:, 1], sin * half[:, 0] + cos * half[:, 1]], axis=1)
        worst = np.maximum(worst, (np.abs(offset) + np.abs(turned - half)).max(axis=1))
    return worst


def off_module(scene: Scene, fixtures: Fixtures) -> NDArray[np.bool_]:
    """Which lay-in devices stand off module by more than the limit, or have no whole cells near."""
    limit = scene.limits["device-off-module"].value
    deviation = _deviation(fixtures)
    is_on: NDArray[np.bool_] = deviation <= limit + tolerance.LENGTH  # no place is NaN, so not on
    return fixtures.is_lay_in & ~is_on


def check_modules(scene: Scene, fixtures: Fixtures, crossed: Crossed) -> Iterator[Finding]:
    """Lay-in devices stand on the grid's module, along both axes and not turned.

    Devices of one kind in one room that would all move by the same vector have one cause.
    """
    deviation = _deviation(fixtures)
    causes: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for i in np.flatnonzero(off_module(scene, fixtures)).tolist():
        move = fixtures.place[i] - fixtures.centre[i]
        # Without a place the move is NaN, which equals nothing, not even itself.
        step = (
            *np.rint(np.nan_to_num(move)).tolist(),
            round(fixtures.turn[i], 2),
            bool(np.isnan(move).any()),
        )
        causes[(scene.room_at(fixtures.centre[i]).key, fixtures.obstacles[i].kind, step)].append(i)
    for members in causes.values():
        worst = max(members, key=lambda i: (deviation[i], -i))
        devices = [fixtures.obstacles[i] for i in members]
        hit = sorted({m for i in members for m in crossed.get(i, ())})
        yield scene.finding(
            "device-off-module",
            at=fixtures.centre[worst],
            subjects=[d.key for d in devices] + list(scene.member_keys(hit)),
            message=_off_module_text(scene, fixtures, members, worst, float(deviation[worst])),
            value=None if np.isnan(deviation[worst]) else float(deviation[worst]),
        )


def _off_module_text(scene: Scene, fixtures: Fixtures, group: list[int], worst: int, value: float) -> str:
    devices = [fixtures.obstacles[i] for i in group]
    start = f"{words(devices)} in {name_of(scene.room_at(fixtures.centre[worst]))} "
    start += verb(devices, "stands", "stand")
    if np.isnan(value):
        return f"{start} where there is no whole cell of the grid near"
    text = f"{start} {value:.0f} mm off the module"
    text += f"; move by {scene.vector(fixtures.place[worst] - fixtures.centre[worst])}"
    turn = -float(np.degrees(fixtures.turn[worst]))
    return text + (f" and turn by {turn:+.1f}°" if abs(turn) > tolerance.ANGLE_DEG else "")


def check_sizes(scene: Scene, fixtures: Fixtures) -> Iterator[Finding]:
    """Lay-in devices are no larger than the cells they are made for: 24 in do not go into 600 mm."""
    module = np.array([scene.ceiling.layout.along, scene.ceiling.layout.across])
    excess = (fixtures.size - fixtures.cells * module).max(axis=1, initial=-np.inf)
    limit = scene.limits["device-larger-than-module"].value + scene.contact
    causes: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for i in np.flatnonzero(fixtures.is_lay_in & (excess > limit)).tolist():
        size = tuple(np.rint(fixtures.size[i]).tolist())
        causes[(scene.room_at(fixtures.centre[i]).key, fixtures.obstacles[i].kind, size)].append(i)
    for group in causes.values():
        first = max(group, key=lambda i: (excess[i], -i))
        size, room = fixtures.size[first], fixtures.cells[first] * module
        yield scene.finding(
            "device-larger-than-module",
            at=fixtures.centre[first],
            subjects=[fixtures.obstacles[i].key for i in group],
            message=f"{words([fixtures.obstacles[i] for i in group])} in "
            f"{name_of(scene.room_at(fixtures.centre[first]))}: {size[0]:.1f} x {size[1]:.1f} mm "
            f"do not go into {room[0]:.1f} x {room[1]:.1f} mm, {excess[first]:.1f} mm too large",
            value=float(excess[first]),
        )


def crossed_members(scene: Scene, fixtures: Fixtures) -> Crossed:
    """Members whose axis runs through a device's interior deeper than contact, by device.

    For a lay-in device on module its edges may lie on the members around its cells, and
    over them by what is tolerated; so only the middle of its cells is looked at.
    """
    shapes = fixtures.outlines.copy()
    on_module = fixtures.is_lay_in & ~off_module(scene, fixtures)
    module = np.array([scene.ceiling.layout.along, scene.ceiling.layout.across])
    inner = (fixtures.cells * module / 2 - module / 4)[on_module]
    place = fixtures.place[on_module]
    shapes[on_module] = shapely.box(*(place - inner).T, *(place + inner).T)
    crossed: dict[int, list[int]] = defaultdict(list)
    device, member = scene.tree.query(shapes, predicate="intersects")
    met = np.unique(device)
    shapes[met] = shapely.buffer(shapes[met], -scene.contact, join_style="mitre")
    is_deep = shapely.intersects(shapes[device], scene.lines[member])
    for i, m in zip(device[is_deep].tolist(), member[is_deep].tolist(), strict=True):
        crossed[i].append(m)
    return crossed


def check_members(scene: Scene, fixtures: Fixtures, crossed: Crossed) -> Iterator[Finding]:
    """No device stands across a main, a tee or the trim, other than by standing off module.

    Sprinklers are judged by their escutcheon elsewhere.
    """
    off = off_module(scene, fixtures)
    for i, members in sorted(crossed.items()):
        device = fixtures.obstacles[i]
        if off[i] or device.kind is Kind.SPRINKLER:
            continue
        depth, move = _way_out(scene, fixtures, i, members)
        roles = sorted({Role(int(scene.ceiling.members.role[m])) for m in members})
        names = " and ".join(role.word.replace("_", " ") for role in roles)
        text = f"{words([device])} in {name_of(scene.room_at(fixtures.centre[i]))} stands across "
        text += f"{len(members)} members ({names})" if len(members) > 1 else f"a {names}"
        if move is not None:
            text += f", {depth:.0f} mm over the line; move by {scene.vector(move)}, or"
        else:
            text += ";"
        text += " cut the members there and add headers" if len(members) > 1 else " cut it and add headers"
        yield scene.finding(
            "device-across-member",
            at=fixtures.centre[i],
            subjects=[device.key, *scene.member_keys(members)],
            message=text,
            value=depth,
        )


def _way_out(
    scene: Scene, fixtures: Fixtures, i: int, members: Sequence[int]
) -> tuple[float, NDArray[np.float64] | None]:
    """How deep a device reaches over lines, and the shift that frees it; None where it fits no cell."""
    low_u, low_v, high_u, high_v = shapely.bounds(fixtures.outlines[i])
    low, high = np.array([low_u, low_v]), np.array([high_u, high_v])
    module = np.array([scene.ceiling.layout.along, scene.ceiling.layout.across])
    start, end = scene.ceiling.members.start[list(members)], scene.ceiling.members.end[list(members)]
    depth, move = 0.0, np.zeros(2)
    for axis in (0, 1):
        on_line = np.abs(end[:, axis] - start[:, axis]) <= tolerance.LENGTH
        for line in np.unique(start[on_line, axis]):
            up, down = line - low[axis], high[axis] - line
            depth = max(depth, float(min(up, down)))
            move[axis] = up if up <= down else -down
    fits = bool((high - low <= module).all() and move.any())
    return depth, move if fits else None


def check_overlaps(scene: Scene, fixtures: Fixtures) -> Iterator[Finding]:
    """No two devices overlap in plan. The measure is the overlap's extent, the lesser of u and v."""
    if len(fixtures) < 2:
        return
    tree = shapely.STRtree(fixtures.outlines)
    first, second = tree.query(fixtures.outlines, predicate="intersects")
    pairs = sorted((a, b) for a, b in zip(first.tolist(), second.tolist(), strict=True) if a < b)
    for a, b in pairs:
        common = shapely.intersection(fixtures.outlines[a], fixtures.outlines[b])
        low_u, low_v, high_u, high_v = shapely.bounds(common).tolist()
        depth = min(high_u - low_u, high_v - low_v)
        if depth <= scene.limits["devices-overlap"].value + scene.contact:
            continue
        one, other = fixtures.obstacles[a], fixtures.obstacles[b]
        middle = shapely.get_coordinates(shapely.centroid(common))[0]
        yield scene.finding(
            "devices-overlap",
            at=middle,
            subjects=[one.key, other.key],
            message=f"{words([one])} and {words([other])} in {name_of(scene.room_at(middle))} "
            f"overlap by {depth:.0f} mm",
            value=depth,
        )
