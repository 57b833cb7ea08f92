"""The whole flow on one page: read, lay out, judge, write.

Nothing here prints; progress goes to the callback `on_room(name, done, total)`. Functions
without `_file` in their name work on open models and touch no disk.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from dataclasses import replace as with_changes
from typing import Any

from ifcgrid.checks.limits import limits_for
from ifcgrid.checks.rule_sets import choose_sets
from ifcgrid.design.devices import fit_devices
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.preferred_wall import start_at_wall
from ifcgrid.design.seating import Held, ask_devices, find_cost, find_held, seat_devices
from ifcgrid.design.setting_out import Start, find_start, solve_from
from ifcgrid.design.small_rooms import why_skipped, with_exemption
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.device_rule import DeviceRule
from ifcgrid.domain.errors import IfcGridError, NoLayoutError
from ifcgrid.domain.finding import Finding, Unchecked
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import DEVICES, Obstacle
from ifcgrid.domain.plan import Plan, Settings
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.restraint_plan import RestraintSettings
from ifcgrid.domain.room import SkippedRoom, Zone
from ifcgrid.domain.system import GridSystem
from ifcgrid.ifc.project import ModelFile
from ifcgrid.outputs.setout.control import find_set_out_lines
from ifcgrid.pipeline.ahead import Solved, refuse_giants, solve_ahead
from ifcgrid.pipeline.heights import with_plenums
from ifcgrid.pipeline.holding import hold_up
from ifcgrid.pipeline.intake import Intake, find_zones, read_intake, read_plan_file, skip
from ifcgrid.pipeline.judging import judge, judge_by_rules
from ifcgrid.pipeline.measuring import measure_zones, with_change
from ifcgrid.pipeline.nearby import Nearby
from ifcgrid.pipeline.setting_out import find_soffit_zones, settings_of, share_grids
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

__all__ = [
    "Build",
    "Intake",
    "Nearby",
    "OnRoom",
    "build",
    "find_zones",
    "hang_ceiling",
    "judge",
    "judge_by_rules",
    "lay_out",
    "read_intake",
    "read_plan_file",
]

OnRoom = Callable[[str, int, int], None]
"""Called after each zone with its name, how many are done and how many there are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """Ceilings with what the judges say of them, and the rooms that got none."""

    intake: Intake
    ceilings: tuple[Ceiling, ...]
    skipped: tuple[SkippedRoom, ...]
    findings: tuple[Finding, ...]
    unchecked: tuple[Unchecked, ...] = ()


def hang_ceiling(
    zone: Zone,
    system: GridSystem,
    policy: Policy,
    obstacles: Sequence[Obstacle] = (),
    *,
    start: Start | None = None,
    rules: Sequence[DeviceRule] = (),
    shared: Layout | None = None,
    solved: Solved | None = None,
    restraint: RestraintSettings | None = None,
) -> Ceiling:
    """One zone's whole ceiling: layout, panels, members, hangers and openings.

    `start` is what is fixed of the grid beforehand, `rules` say which devices hold it;
    `shared` is the layout when it is one with those of other ceilings, `solved` the best
    ones where they were found ahead; `restraint` asks for what holds it in earthquakes.

    Raises:
        NoLayoutError: no layout exists for the zone's outline.
    """
    zone, policy = with_exemption(zone, policy)
    refuse_giants(zone, system)
    devices = [o for o in obstacles if o.kind in DEVICES]
    # Devices are seated in the cells of a plain lattice; in shifted rows they are cut in as they stand.
    asked = () if system.row_shift else ask_devices(zone, system, policy, devices, rules)

    def solve(held: Held, known: Layout | None = None) -> Layout:
        if shared is not None:
            return shared
        return solve_from(
            zone.outline,
            system,
            policy,
            start or Start(),
            key=zone.key,
            fixtures=held.cells,
            points=held.points,
            solved=known,
        )

    held = find_held(asked)
    ahead = solved or Solved()
    layout = solve(held, ahead.heeded)
    cost = find_cost(zone.outline, system, policy, held, layout, lambda: solve(Held(), ahead.free))
    openings = fit_devices(zone, layout, devices, zone.level)
    held_by = hold_up(zone, system, layout, openings, obstacles, restraint)
    sideways, hung = held_by.restraint, held_by.hanging
    return Ceiling(
        zone=with_changes(zone, notes=(*zone.notes, *held_by.notes)),
        system=system,
        layout=layout,
        panels=cut_panels(zone, layout, openings),
        members=sideways.members,
        hangers=hung.hangers,
        openings=openings,
        pieces=held_by.pieces,
        trapezes=hung.trapezes,
        braces=sideways.braces,
        stabilisers=sideways.stabilisers,
        joints=sideways.joints,
        perimeter=sideways.perimeter,
        wires=held_by.wires,
        policy=policy,
        seating=with_changes(seat_devices(zone, layout, asked), cost=cost),
    )


def lay_out(
    intake: Intake,
    plan: Plan | None = None,
    on_room: OnRoom | None = None,
    *,
    only: Collection[str] | None = None,
) -> tuple[tuple[Ceiling, ...], tuple[SkippedRoom, ...]]:
    """Ceilings of all zones, and the rooms that got none, each with its reason.

    With `only` of the zones that hold one of these rooms, by key.
    """
    plan = plan or Plan()
    design = find_zones(intake)
    zones, unfit = measure_zones(design, plan.measured, intake.skipped)
    modelled = {zone.key: zone for zone in design}
    nearby = Nearby(intake.obstacles)
    ceilings: list[Ceiling] = []
    failed: list[SkippedRoom] = []

    def chosen(settings: Settings) -> tuple[GridSystem, Policy]:
        system = plan.systems.get(settings.system) or read_system(settings.system)
        if settings.hanging:
            system = with_changes(system, hanging=settings.hanging.applied_to(system.hanging))
        return system, plan.policies.get(settings.policy) or read_policy(settings.policy)

    def hang(zone: Zone, together: Layout | None = None, known: Solved | None = None) -> Ceiling:
        settings = settings_of(zone, intake.settings)
        system, policy = chosen(settings)
        start = find_start(zone, settings, intake.site)
        return hang_ceiling(
            zone,
            system,
            policy,
            nearby.find(zone),
            start=start_at_wall(start, zone, policy, intake.site),
            rules=plan.devices,
            shared=together,
            solved=known,
            restraint=settings.restraint,
        )

    shared = share_grids(zones, intake.settings, intake.site, chosen, nearby.find, plan)
    zones += find_soffit_zones(intake.rooms, intake.settings, chosen, intake.obstacles)
    if only is not None:
        zones = [zone for zone in zones if any(room.key in only for room in zone.rooms)]
    alone = [(zone, settings_of(zone, intake.settings)) for zone in zones if zone.key not in shared]
    solved = solve_ahead(alone, intake.site, chosen, nearby.find, plan.devices)
    for done, zone in enumerate(zones, start=1):
        if reason := why_skipped(zone, chosen(settings_of(zone, intake.settings))[1]):
            failed += [skip(room, "skipped", reason) for room in zone.rooms]
            continue
        try:
            together = unfit.get(zone.key) or shared.get(zone.key)
            if isinstance(together, str):
                raise NoLayoutError(together, zone.key)
            ceiling = hang(zone, together, solved.get(zone.key))
            # Where the grid is shared there is no layout of the model's outline alone to compare with.
            compared = None if together else modelled.get(zone.key)
            ceilings.append(with_change(ceiling, compared, hang))
        except Exception as error:  # one bad room never stops a floor: its reason is reported instead
            failed += [skip(room, "failed", _reason(error)) for room in zone.rooms]
        if on_room:
            on_room(zone.rooms[0].number or zone.rooms[0].name, done, len(zones))
    return tuple(ceilings), tuple(failed)


def _reason(error: Exception) -> str:
    if isinstance(error, IfcGridError):
        return str(error)
    return f"no ceiling could be worked out ({type(error).__name__}: {error})"


def build(
    model: ModelFile | Any,
    plan: Plan | None = None,
    others: Sequence[ModelFile | Any] = (),
    on_room: OnRoom | None = None,
    on_model: OnRoom | None = None,
) -> Build:
    """Ceilings for every room of an open model; the model itself is not changed.

    Args:
        model: a `ModelFile` or an open `ifcopenshell.file`.
        plan: what rooms get; by default the defaults.
        others: further models of the building, likewise.
        on_room: called after each room that is laid out, with its name, how many are done and
            how many there are. What it raises stops the work and comes through unchanged.
        on_model: the same for each model whose elements are read.

    Raises:
        ModelError: the model holds no space, or a file is given twice.
        PlanError: the plan names a rule or a number that does not exist.
    """
    judging = (plan or Plan()).judging
    choose_sets(judging.sets, judging.switches)  # a wrong name is told before the long work
    limits_for(judging.clash)
    intake = read_intake(model, others, plan, on_model=on_model)
    ceilings, failed = lay_out(intake, plan, on_room)
    ceilings = _with_words(ceilings, intake.settings)
    ceilings = with_plenums(ceilings, intake.obstacles, judging.clash)
    found, unchecked = judge_by_rules(ceilings, intake.obstacles, judging) if judging.sets else ((), ())
    return Build(
        intake=intake,
        ceilings=ceilings,
        skipped=intake.skipped + failed,
        findings=judge(ceilings, intake.obstacles, judging.clash) + found,
        unchecked=unchecked,
    )


def _with_words(ceilings: Iterable[Ceiling], settings: Mapping[str, Settings]) -> tuple[Ceiling, ...]:
    """Ceilings with the class that the plan gives to each room's, and the strings of their sheets."""
    found = []
    for ceiling in ceilings:
        classes = tuple(settings[room.key].classification for room in ceiling.zone.rooms)
        lines = find_set_out_lines(ceiling)
        given = classes if any(classes) else ()
        found.append(with_changes(ceiling, classification=given, control_lines=lines))
    return tuple(found)
