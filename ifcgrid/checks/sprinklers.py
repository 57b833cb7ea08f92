"""Small devices against the panels they are cut into: heads on tees, off their point, shared panels."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.checks.fixture import Fixtures
from ifcgrid.checks.scene import Scene, list_names, name_of, verb, words
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import Kind

__all__ = ["check_shared_panels", "check_sprinklers"]

_FRACTIONS = (0.25, 0.5, 0.75)
"""Agreed points of a panel along each axis: its quarter points and its middle."""


def find_panels(scene: Scene, points: NDArray[np.float64]) -> NDArray[np.int64]:
    """Index (n,) of the panel piece in which each local point (n, 2) lies, -1 where there is none."""
    panels = scene.ceiling.panels
    found = np.full(len(points), -1, dtype=np.int64)
    if len(panels) == 0:
        return found
    low, high = panels.bounds[:, :2], panels.bounds[:, 2:]
    tree = shapely.STRtree(np.asarray(shapely.box(*low.T, *high.T)))
    for point, panel in tree.query(shapely.points(points), predicate="intersects").T.tolist():
        outline = panels.outlines.get(panel)
        # Filled: the hole that was cut for a device is in its panel too.
        if outline is None or shapely.Polygon(outline.exterior).intersects(shapely.Point(points[point])):
            found[point] = panel if found[point] < 0 else min(found[point], panel)
    return found


def _is_judged(fixtures: Fixtures) -> NDArray[np.int64]:
    """Indices of the sprinklers that stand in the ceiling; a sidewall head stands at a wall."""
    return np.array(
        [
            i
            for i, o in enumerate(fixtures.obstacles)
            if o.kind is Kind.SPRINKLER and "sidewall" not in f"{o.name} {o.type_name}".lower()
        ],
        dtype=np.int64,
    )


def check_sprinklers(scene: Scene, fixtures: Fixtures) -> Iterator[Finding]:
    """No escutcheon meets a member; heads stand at the middle or a quarter point of their panel.

    The second is told, not failed: whether such points were agreed is not in the model.
    """
    heads = _is_judged(fixtures)
    on_member = dict(_on_members(scene, fixtures, heads))
    yield from on_member.values()
    yield from _off_points(scene, fixtures, heads[~np.isin(heads, list(on_member))])


def _on_members(scene: Scene, fixtures: Fixtures, heads: NDArray[np.int64]) -> Iterator[tuple[int, Finding]]:
    lines = np.flatnonzero(scene.ceiling.members.role != Role.WALL_ANGLE)
    if len(lines) == 0 or len(heads) == 0:
        return
    radius = np.maximum(fixtures.size[heads].max(axis=1) / 2, scene.limits["escutcheon"].value)
    limit = scene.limits["sprinkler-on-member"].value + scene.contact
    points = np.asarray(shapely.points(fixtures.centre[heads]))
    tree = shapely.STRtree(scene.lines[lines])
    head, line = tree.query(points, predicate="dwithin", distance=radius)
    met: dict[int, list[int]] = defaultdict(list)
    for h, k in zip(head.tolist(), line.tolist(), strict=True):
        met[h].append(int(lines[k]))
    for h, members in sorted(met.items()):
        near = shapely.distance(scene.lines[members], points[h])
        depth = float(radius[h] - near.min())
        if depth <= limit:
            continue
        i = int(heads[h])
        closest = scene.lines[members[int(np.argmin(near))]]
        foot = shapely.get_coordinates(shapely.shortest_line(closest, points[h]))
        move = _away(foot, closest) * depth
        yield (
            i,
            scene.finding(
                "sprinkler-on-member",
                at=fixtures.centre[i],
                subjects=[fixtures.obstacles[i].key, *scene.member_keys(members)],
                message=f"{words([fixtures.obstacles[i]])} in {name_of(scene.room_at(fixtures.centre[i]))} "
                f"stands {near.min():.0f} mm from a member's axis, its escutcheon of {2 * radius[h]:.0f} mm "
                f"meets it by {depth:.0f} mm; move by {scene.vector(move)} or more",
                value=depth,
            ),
        )


def _away(foot: NDArray[np.float64], line: shapely.LineString) -> NDArray[np.float64]:
    """The unit direction from a line to a point beside it; square to the line when the point is on it."""
    step: NDArray[np.float64] = foot[1] - foot[0]
    length = float(np.hypot(*step))
    if length > 0:
        return step / length
    a, b = shapely.get_coordinates(line)
    along = (b - a) / np.hypot(*(b - a))
    return np.array([-along[1], along[0]])


def _off_points(scene: Scene, fixtures: Fixtures, heads: NDArray[np.int64]) -> Iterator[Finding]:
    limit = scene.limits["sprinkler-off-point"].value
    panel = find_panels(scene, fixtures.centre[heads])
    heads, panel = heads[panel >= 0], panel[panel >= 0]
    bounds = scene.ceiling.panels.bounds[panel]
    low, extent = bounds[:, :2], bounds[:, 2:] - bounds[:, :2]
    targets = low[:, None] + extent[:, None] * np.array(_FRACTIONS)[None, :, None]
    gaps = targets - fixtures.centre[heads][:, None]
    nearest = np.take_along_axis(gaps, np.abs(gaps).argmin(axis=1)[:, None], axis=1)[:, 0]
    distance = np.hypot(*nearest.T)
    off = np.flatnonzero(distance > limit + scene.contact)
    rooms: dict[str, list[int]] = defaultdict(list)
    for k in off.tolist():
        rooms[scene.room_at(fixtures.centre[heads[k]]).key].append(k)
    for group in rooms.values():
        worst = max(group, key=lambda k: (distance[k], -k))
        i = int(heads[worst])
        devices = [fixtures.obstacles[int(heads[k])] for k in group]
        yield scene.finding(
            "sprinkler-off-point",
            at=fixtures.centre[i],
            subjects=[d.key for d in devices],
            verdict=Verdict.UNKNOWN,
            message=f"{words(devices)} in {name_of(scene.room_at(fixtures.centre[i]))} "
            f"{verb(devices, 'stands', 'stand up to')} {distance[worst]:.0f} mm off the middle and the "
            f"quarter points of the panel; the farthest would move by {scene.vector(nearest[worst])}. "
            "Whether such points were agreed is not in the model",
            value=float(distance[worst]),
        )


def check_shared_panels(
    scene: Scene, fixtures: Fixtures, crossed: Mapping[int, Sequence[int]]
) -> Iterator[Finding]:
    """No panel takes more than one device; those that overlap or stand across a line are told elsewhere."""
    small = np.setdiff1d(np.flatnonzero(~fixtures.is_lay_in), list(crossed))
    panel = find_panels(scene, fixtures.centre[small])
    shared: dict[int, list[int]] = defaultdict(list)
    for i, p in zip(small.tolist(), panel.tolist(), strict=True):
        if p >= 0:
            shared[p].append(i)
    keys = scene.ceiling.panels.keys() if any(len(g) > 1 for g in shared.values()) else []
    for p, group in sorted(shared.items()):
        apart = [i for i in group if not _overlaps_another(fixtures, i, group)]
        if len(group) < 2 or not apart:
            continue
        middle = fixtures.centre[group].mean(axis=0)
        names = list_names([words([fixtures.obstacles[i]]) for i in group])
        yield scene.finding(
            "devices-in-one-panel",
            at=middle,
            subjects=[*(fixtures.obstacles[i].key for i in group), scene.part(keys[p])],
            message=f"{names} in {name_of(scene.room_at(middle))} are cut into one panel; "
            "move one to the next",
            value=float(len(group)),
        )


def _overlaps_another(fixtures: Fixtures, i: int, group: list[int]) -> bool:
    others = [j for j in group if j != i]
    return bool(shapely.intersects(fixtures.outlines[others], fixtures.outlines[i]).any())
