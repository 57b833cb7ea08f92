"""Devices in a ceiling: what they weigh, how large they are, which wires and hangers they have."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.checks.case import Case
from ifcgrid.domain.loads import GRAVITY
from ifcgrid.domain.obstacle import Kind, Obstacle

__all__ = ["Device", "corner_distances", "find_devices"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Device:
    """One device in the ceiling: its `weight` in N, `size` (least, greatest) in mm, local `point`.

    `slack`, `taut` count its wires to the structure, None where wires are not in the model.
    """

    key: str
    name: str
    kind: Kind
    weight: float
    is_assumed: bool
    size: tuple[float, float]
    point: tuple[float, float]
    slack: int | None
    taut: int | None


def find_devices(case: Case, kinds: Collection[Kind]) -> list[Device]:
    """The devices of some kinds in the ceiling's openings, by key."""
    known: dict[str, Obstacle] = {o.key: o for o in case.obstacles}
    wires = case.ceiling.wires
    slack: Counter[str] = Counter()
    taut: Counter[str] = Counter()
    if wires is not None:
        for device, is_slack in zip(wires.device, wires.is_slack.tolist(), strict=True):
            (slack if is_slack else taut)[device] += 1
    found = []
    for opening in case.ceiling.openings:
        obstacle = known.get(opening.key)
        kind = Kind.DEVICE if obstacle is None else obstacle.kind
        if kind not in kinds:
            continue
        corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(opening.outline))
        sides = (
            sorted(float(np.hypot(*(corners[k + 1] - corners[k]))) for k in (0, 1))
            if len(corners) > 2
            else [0, 0]
        )
        middle = opening.outline.centroid
        found.append(
            Device(
                key=opening.key,
                name=(obstacle.name if obstacle is not None else "") or opening.key,
                kind=kind,
                weight=case.loads.device_kg[opening.key] * GRAVITY,
                is_assumed=opening.key in case.loads.assumed_devices,
                size=(sides[0], sides[1]),
                point=(middle.x, middle.y),
                slack=None if wires is None else slack[opening.key],
                taut=None if wires is None else taut[opening.key],
            )
        )
    return sorted(found, key=lambda d: d.key)


def corner_distances(case: Case) -> tuple[list[str], NDArray[np.float64], NDArray[np.float64]]:
    """Corners of lay-in lights: their keys, distances (n,) to the nearest hanger or wire, points (n, 2)."""
    known = {o.key: o for o in case.obstacles}
    keys: list[str] = []
    corners = []
    for opening in case.ceiling.openings:
        obstacle = known.get(opening.key)
        if opening.is_lay_in and obstacle is not None and obstacle.kind is Kind.LIGHT:
            box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(opening.outline))[:4]
            keys += [opening.key] * len(box)
            corners.append(box)
    points = np.concatenate([np.empty((0, 2)), *corners])
    ends = [case.ceiling.hangers.point]
    if case.ceiling.wires is not None:
        ends.append(case.ceiling.wires.point)
    held = np.concatenate(ends)
    if len(points) == 0 or len(held) == 0:
        return keys, np.full(len(points), np.nan if len(points) else 0.0), points
    apart = shapely.distance(shapely.points(points), shapely.multipoints(held))
    return keys, np.asarray(apart, dtype=float), points
