"""All that holds a ceiling sideways, in the order in which one follows from the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ifcgrid.design.bracing import place_braces
from ifcgrid.design.edges import find_perimeter, place_stabilisers, shorten_members
from ifcgrid.design.joints import cut_members, find_joints, split_zone
from ifcgrid.domain.bracing import BracingRules, PerimeterWall, SeparationJoint, Stabilisers
from ifcgrid.domain.ceiling import Members
from ifcgrid.domain.hanging import Braces
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Zone
from ifcgrid.domain.system import GridSystem

__all__ = ["Restraint", "restrain_ceiling"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Restraint:
    """What restraint adds to a ceiling; `members` are cut at its joints and free walls."""

    members: Members
    joints: tuple[SeparationJoint, ...] = ()
    perimeter: tuple[PerimeterWall, ...] = ()
    stabilisers: Stabilisers | None = None
    braces: Braces | None = None


def restrain_ceiling(
    zone: Zone,
    system: GridSystem,
    layout: Layout,
    members: Members,
    rules: BracingRules | None,
    obstacles: Sequence[Obstacle] = (),
) -> Restraint:
    """Joints, attached and free walls, stabilisers and braces; nothing where there are no rules.

    `obstacles` are the structure that braces are fixed to and all that they have to pass.
    """
    if rules is None:
        return Restraint(members=members)
    joints = find_joints(zone, layout, rules)
    parts = split_zone(zone, layout, joints)
    whole = cut_members(members, layout, joints)
    perimeter = find_perimeter(zone, layout, parts, rules)
    return Restraint(
        members=shorten_members(whole, zone, layout, parts, perimeter),
        joints=joints,
        perimeter=perimeter,
        stabilisers=place_stabilisers(whole, zone, layout, parts, perimeter, rules),
        braces=place_braces(zone, system, layout, whole, rules, obstacles, parts),
    )
