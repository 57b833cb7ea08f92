"""The wall at which a policy wants whole panels: the grid starts there, what is cut falls opposite."""

from __future__ import annotations

from dataclasses import replace

from ifcgrid.design.control import doors_of, find_control
from ifcgrid.design.setting_out import NO_SITE, Start
from ifcgrid.domain import tolerance
from ifcgrid.domain.building import HeldLine, Site
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.room import Zone

__all__ = ["start_at_wall"]


def start_at_wall(start: Start, zone: Zone, policy: Policy, site: Site = NO_SITE) -> Start:
    """A start with a grid line on the policy's preferred wall; the same one where it prefers none.

    What the plan declares goes first: lines of the building, or a direction across the wall.

    Raises:
        NoLayoutError: the room has no such wall, or it is a curve.
    """
    if policy.whole_at is None or start.lines or start.is_turned:
        return start
    floor = min(room.floor for room in zone.rooms)
    wall = find_control(zone.outline, policy.whole_at, doors_of(zone.outline, floor, site.doors), zone.key)
    angles = start.angles or (wall.angle_deg, wall.angle_deg + 90.0)
    if not any(_is_along(angle, wall.angle_deg) for angle in angles):
        return start
    x, y = zone.outline.exterior.coords[wall.edges[0]][:2]
    line = HeldLine(name="the preferred wall", point=(x, y), angle_deg=wall.angle_deg, is_joint=True)
    told = f"whole panels begin at the wall that the policy prefers, {wall.words}"
    return replace(start, angles=angles, lines=(line,), words=", ".join(filter(None, (start.words, told))))


def _is_along(angle_deg: float, wall_deg: float) -> bool:
    """Whether a direction runs along a wall or square to it."""
    return abs((angle_deg - wall_deg + 45.0) % 90.0 - 45.0) <= tolerance.ANGLE_DEG
