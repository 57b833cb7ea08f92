"""Rooms that are smaller than a policy speaks of."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.policy import Policy, SmallRoom
from ifcgrid.domain.room import Zone
from ifcgrid.domain.units import format_mm

__all__ = ["narrow_side", "why_skipped", "with_exemption"]


def narrow_side(outline: Polygon) -> float:
    """The shorter side in mm of the smallest rectangle around an outline, in whatever direction."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(outline))
    return float(np.hypot(*np.diff(corners[:3], axis=0).T).min())


def _is_small(outline: Polygon, policy: Policy) -> bool:
    return policy.smallest_room > 0 and tolerance.is_less(narrow_side(outline), policy.smallest_room)


def _words(outline: Polygon, policy: Policy) -> str:
    return (
        f"its narrow side of {format_mm(narrow_side(outline))} is below the smallest room of policy "
        f"{policy.id}, {format_mm(policy.smallest_room)}"
    )


def why_skipped(zone: Zone, policy: Policy) -> str:
    """Why the policy wants no ceiling here; "" where it wants one."""
    if policy.small_room is SmallRoom.SKIP and _is_small(zone.outline, policy):
        return _words(zone.outline, policy)
    return ""


def with_exemption(zone: Zone, policy: Policy) -> tuple[Zone, Policy]:
    """The zone and its policy; a small room is exempt from the least border and says so in a note."""
    if policy.small_room is not SmallRoom.EXEMPT or not _is_small(zone.outline, policy):
        return zone, policy
    note = f"exempt from the least border of {policy.minimum_words}: {_words(zone.outline, policy)}"
    return replace(zone, notes=(*zone.notes, note)), policy.without_minimum()
