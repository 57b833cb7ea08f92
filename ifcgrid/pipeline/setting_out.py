"""Reads what grids are set out from, and lays the grids that several ceilings share."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import replace

import shapely

from ifcgrid.design.layout.joint import JointRoom, solve_jointly
from ifcgrid.design.seating import ask_devices, find_held
from ifcgrid.design.setting_out import Start, find_lines, find_start
from ifcgrid.design.soffits import lay_soffits
from ifcgrid.domain.building import Site
from ifcgrid.domain.errors import IfcGridError, NoLayoutError, PlanError
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import DEVICES, Obstacle
from ifcgrid.domain.plan import Plan, Settings
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.room import Room, Zone
from ifcgrid.domain.setting_out import ControlKind, Soffits
from ifcgrid.domain.system import GridSystem
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.project import ModelFile
from ifcgrid.ifc.reading.doors import read_doors
from ifcgrid.ifc.reading.grids import read_axes

__all__ = ["Shared", "ceiling_group", "find_soffit_zones", "read_site", "settings_of", "share_grids"]

Shared = Mapping[str, Layout | str]
"""By zone key the layout of a ceiling whose grid is shared with others, or the reason why it has none."""

Chosen = Callable[[Settings], tuple[GridSystem, Policy]]
"""The system and the policy that settings name."""


def read_site(
    model: ModelFile, kernel: Kernel, settings: Iterable[Settings], plan: Plan | None = None
) -> Site:
    """The doors and building axes of a model, each only when a setting asks for them.

    Raises:
        PlanError: a building line names no axis of the model; it carries the rule's line.
    """
    wanted = list(settings)
    is_entrance = any(s.control is not None and s.control.kind is ControlKind.ENTRANCE for s in wanted)
    is_tag = any(isinstance(line.through, str) for s in wanted for line in s.line)
    site = Site(
        doors=read_doors(model.file, kernel) if is_entrance else (),
        axes=read_axes(model.file, kernel) if is_tag else (),
    )
    for given in dict.fromkeys(s.line for s in wanted):
        try:
            find_lines(given, site.axes)
        except PlanError as error:
            lines = [rule.line for rule in plan.rules if rule.changes.get("line") == given] if plan else []
            where = f"plan file, line {lines[-1]}: " if lines else ""
            raise PlanError(f"{where}{error}", lines[-1] if lines else 0) from error
    return site


def ceiling_group(settings: Settings) -> Hashable:
    """Rooms of one group may share a ceiling: all that decides their grid is the same."""
    return (
        settings.system,
        settings.policy,
        settings.angle,
        settings.control,
        settings.turn,
        settings.zone,
        settings.line,
        settings.soffits,
        settings.restraint,
        settings.hanging,
    )


def find_soffit_zones(
    rooms: Iterable[Room],
    settings: Mapping[str, Settings],
    chosen: Chosen,
    obstacles: Sequence[Obstacle],
) -> list[Zone]:
    """Zones of the soffits that get a grid of their own, in the rooms' order.

    A soffit that reaches over several rooms gets one in the first of them only.
    """
    found: dict[str, Zone] = {}
    for room in rooms:
        given = settings[room.key]
        if given.soffits is Soffits.OWN_ZONE and room.soffits:
            for zone in lay_soffits(room, chosen(given)[0], obstacles):
                found.setdefault(zone.key, zone)
    return list(found.values())


def settings_of(zone: Zone, settings: Mapping[str, Settings]) -> Settings:
    """What a zone gets. A soffit has walls of its own: its room's control wall and zone are not its."""
    given = settings[zone.rooms[0].key]
    if any(room.key == zone.key for room in zone.rooms):
        return given
    return replace(given, control=None, zone="")


def share_grids(
    zones: Sequence[Zone],
    settings: Mapping[str, Settings],
    site: Site,
    chosen: Chosen,
    near: Callable[[Zone], Sequence[Obstacle]],
    plan: Plan,
) -> Shared:
    """The layouts of all ceilings in declared zones, one lattice a zone and storey.

    `settings` by room key, `near` gives the obstacles around a ceiling. A zone that cannot
    be laid out gives its reason for each of its ceilings.
    """
    groups: dict[tuple[str, str], list[Zone]] = {}
    for zone in zones:
        name = settings[zone.rooms[0].key].zone
        if name:
            groups.setdefault((name, zone.rooms[0].storey_key), []).append(zone)
    found: dict[str, Layout | str] = {}
    for (name, _), together in sorted(groups.items()):
        if len(together) == 1:
            continue
        try:
            found |= _share(name, together, settings, site, chosen, near, plan)
        except (IfcGridError, shapely.GEOSException, ValueError) as error:
            found |= {zone.key: f"zone {name}: {error}" for zone in together}
    return found


def _share(
    name: str,
    zones: Sequence[Zone],
    settings: Mapping[str, Settings],
    site: Site,
    chosen: Chosen,
    near: Callable[[Zone], Sequence[Obstacle]],
    plan: Plan,
) -> dict[str, Layout]:
    leading = max(zones, key=lambda zone: (zone.outline.area, zone.key))
    given = settings[leading.rooms[0].key]
    system, policy = chosen(given)
    for zone in zones:
        own = settings[zone.rooms[0].key]
        if (own.system, own.policy) != (given.system, given.policy):
            raise NoLayoutError(
                f"its rooms have systems {given.system} and {own.system}, policies {given.policy} and "
                f"{own.policy}; rooms that share a grid need the same",
                zone.key,
            )
    rooms = []
    for zone in zones:
        devices = [o for o in near(zone) if o.kind in DEVICES]
        held = find_held(ask_devices(zone, system, policy, devices, plan.devices))
        rooms.append(JointRoom(key=zone.key, outline=zone.outline, fixtures=held.cells, points=held.points))
    start: Start = find_start(leading, given, site)
    words = f"one grid through zone {name}" + (f", {start.words}" if start.words else "")
    layouts = solve_jointly(
        rooms, system, policy, name=name, angles=start.angles, lines=start.lines, words=words
    )
    return {zone.key: layout for zone, layout in zip(zones, layouts, strict=True)}
