"""Lays the grids of all ceilings at once, before each is built: many rooms cost little more than one."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import shapely

from ifcgrid.design.layout import Request, solve_requests
from ifcgrid.design.preferred_wall import start_at_wall
from ifcgrid.design.seating import ask_devices, find_held
from ifcgrid.design.setting_out import find_start
from ifcgrid.design.small_rooms import why_skipped, with_exemption
from ifcgrid.domain.building import Site
from ifcgrid.domain.device_rule import DeviceRule
from ifcgrid.domain.errors import IfcGridError, NoLayoutError
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import DEVICES, Obstacle
from ifcgrid.domain.plan import Settings
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.room import Zone
from ifcgrid.domain.system import GridSystem

__all__ = ["MOST_PANELS", "Solved", "refuse_giants", "solve_ahead"]

MOST_PANELS = 1_000_000
"""Panels of one ceiling: more, 360,000 m² of 600 x 600 mm, are taken for a slip of units."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """A zone's best layouts: `heeded` goes by the devices that hold the grid, `free` by none of them.

    None where that was not solved ahead.
    """

    heeded: Layout | None = None
    free: Layout | None = None


def solve_ahead(
    zones: Sequence[tuple[Zone, Settings]],
    site: Site,
    chosen: Callable[[Settings], tuple[GridSystem, Policy]],
    find_nearby: Callable[[Zone], Sequence[Obstacle]],
    rules: Sequence[DeviceRule] = (),
) -> Mapping[str, Solved]:
    """The best layouts of zones by key, those of one system and policy solved together.

    Zones that cannot be laid out are missing: the reason comes up again when each is built.
    """
    groups: list[tuple[GridSystem, Policy, list[Request]]] = []
    for zone, settings in zones:
        system, policy = chosen(settings)
        if system.row_shift or why_skipped(zone, policy):
            continue
        try:
            own = with_exemption(zone, policy)[1]
            refuse_giants(zone, system)
            start = start_at_wall(find_start(zone, settings, site), zone, policy, site)
            devices = [o for o in find_nearby(zone) if o.kind in DEVICES]
            held = find_held(ask_devices(zone, system, own, devices, rules))
        except (IfcGridError, shapely.GEOSException, ValueError):
            continue
        request = Request(
            outline=zone.outline,
            key=zone.key,
            fixtures=held.cells,
            points=held.points,
            angles=start.angles,
            lines=start.lines,
        )
        group = next((g for g in groups if g[0] == system and g[1] == own), None)
        if group is None:
            group = (system, own, [])
            groups.append(group)
        group[2].append(request)
        if held:
            group[2].append(replace(request, fixtures=(), points=()))
    solved: dict[str, Solved] = {}
    for system, policy, requests in groups:
        try:
            layouts = solve_requests(requests, system, policy)
        except Exception:  # each is then solved when it is built, where what is wrong stays with its room
            continue
        for request, layout in zip(requests, layouts, strict=True):
            if not isinstance(layout, Layout):
                continue
            # The one with the devices comes first; where nothing holds the grid it is the only one.
            known = solved.get(request.key)
            solved[request.key] = replace(known, free=layout) if known else Solved(heeded=layout)
    return solved


def refuse_giants(zone: Zone, system: GridSystem) -> None:
    """Refuse a zone of more panels than one ceiling has.

    Raises:
        NoLayoutError: the model's length units are probably wrong.
    """
    panels = zone.outline.area / (system.along * system.across)
    if panels > MOST_PANELS:
        raise NoLayoutError(
            f"its {zone.outline.area / 1e6:,.0f} m² would take {panels:,.0f} panels, more than the "
            f"{MOST_PANELS:,} of one ceiling; are the model's length units right?",
            zone.key,
        )
