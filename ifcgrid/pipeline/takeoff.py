"""The take-off of ceilings: measured, cut, ordered and priced; and the files that tell of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, set_precision
from shapely.geometry.polygon import orient

from ifcgrid.checks.cutting import find_bar_faults, find_panel_faults
from ifcgrid.design.cutting.plans import plan_bars, plan_panels
from ifcgrid.design.devices import fit_devices
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.setting_out import Start
from ifcgrid.design.stock import cut_pieces
from ifcgrid.design.trim_outline import outline_of_angles
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Panels
from ifcgrid.domain.cutting import Direction, Scope
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.obstacle import DEVICES, Obstacle
from ifcgrid.domain.policy import DEFAULT_POLICY
from ifcgrid.domain.quantity import Price, RoomCost, TakeOff, line_key
from ifcgrid.domain.version import __version__
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.project import ModelFile, as_model, open_model
from ifcgrid.ifc.reading.ceiling_parts import read_openings, read_panel_keys
from ifcgrid.ifc.writing.room_parts import room_parts
from ifcgrid.outputs.files import write_bytes, write_text
from ifcgrid.outputs.takeoff.costs import cost_rooms, read_prices
from ifcgrid.outputs.takeoff.cut_list import find_cut_list
from ifcgrid.outputs.takeoff.measure import measure_ceiling, room_lines
from ifcgrid.outputs.takeoff.order import find_orders
from ifcgrid.outputs.takeoff.record import record_take_off
from ifcgrid.outputs.takeoff.rules import OrderRules, read_order_rules
from ifcgrid.outputs.takeoff.tables import csv_text
from ifcgrid.outputs.takeoff.workbook import workbook_bytes
from ifcgrid.pipeline.flow import Build, hang_ceiling
from ifcgrid.pipeline.holding import cut_as_it_stands
from ifcgrid.pipeline.targets import check_targets
from ifcgrid.pipeline.written import read_back
from ifcgrid.policies import read_policy
from ifcgrid.systems import list_systems, read_system

__all__ = [
    "ceilings_in",
    "pick_units",
    "source_of",
    "take_off",
    "takeoff_file",
    "with_alternatives",
    "with_pieces",
    "write_take_off",
]

PathLike = str | Path


def take_off(
    ceilings: Sequence[Ceiling],
    *,
    rules: OrderRules | None = None,
    scope: Scope = Scope.STOREY,
    direction: Direction = Direction.FREE,
    prices: Sequence[Price] = (),
    source: Mapping[str, str] | None = None,
) -> TakeOff:
    """Net quantities, cutting plans, order list, cut list and costs of ceilings.

    Every cutting plan is measured again by a check that knows nothing of how it was found.

    Args:
        ceilings: what is taken off.
        rules: kerfs, allowances and packs; by default those that ship.
        scope: whose parts are cut from the same bars and panels.
        direction: how the panels' pattern lets pieces be turned.
        prices: a price table; costs are worked out when there is one.
        source: what the take-off is of, for its outputs.

    Raises:
        SystemDataError: a part cannot be cut from its stock, or a price has the wrong unit.
        RuntimeError: a plan does not hold; that is a fault of this program.
    """
    rules = rules or read_order_rules()
    ceilings = [with_pieces(ceiling) for ceiling in ceilings]
    rooms = room_lines(ceilings)
    quantities = tuple(q for c in ceilings for q in measure_ceiling(c, room_parts(c.zone)))
    bars = plan_bars(ceilings, rules.cutting, scope)
    panels = plan_panels(ceilings, rules.cutting, scope, direction)
    faults = [f for bar in bars for f in find_bar_faults(bar)]
    faults += [f for panel in panels for f in find_panel_faults(panel)]
    if faults:
        raise RuntimeError(f"a cutting plan does not hold: {faults[0]}")
    done = TakeOff(
        rooms=rooms,
        quantities=quantities,
        bar_plans=bars,
        panel_plans=panels,
        orders=find_orders(quantities, bars, panels, rules.order, rules.cutting.fixing_spacing),
        cut_list=find_cut_list([room.key for room in rooms], bars, panels),
        assumptions=tuple(_assume(ceilings, rules, scope, direction)),
        source=dict(source or {}),
    )
    return replace(done, costs=_as_laid_out(done, ceilings, prices)) if prices else done


def with_pieces(ceiling: Ceiling) -> Ceiling:
    """The ceiling with the stock pieces that its members as they stand are cut from."""
    if ceiling.pieces is not None:
        return ceiling
    system = cut_as_it_stands(ceiling.system) if ceiling.perimeter else ceiling.system
    cut = cut_pieces(system, ceiling.layout, ceiling.members)
    return ceiling if cut is None else replace(ceiling, pieces=cut.pieces)


def _assume(
    ceilings: Sequence[Ceiling], rules: OrderRules, scope: Scope, direction: Direction
) -> Iterable[tuple[str, str, str]]:
    cutting = rules.cutting
    yield ("parts cut from the same stock", scope.value, "chosen for this take-off")
    yield ("pattern of panels", direction.value, "how a piece may be turned; only square ones by a quarter")
    yield ("kerf of bars", f"{cutting.bar_kerf:g} mm", cutting.basis)
    yield ("kerf of panels", f"{cutting.panel_kerf:g} mm", cutting.basis)
    yield ("border tees from one stock tee", f"at most {cutting.tees_from_one}", "NAVEDTRA 14044 p. 5-17")
    yield ("pieces from one cut panel", "at most 2", "default of this project")
    yield ("wall angle", "wall by wall, corners not deducted", "lapped or mitred corners: common practice")
    yield (
        "sizes",
        "to centre lines of members and faces of walls",
        "deduct seats, reveals and clearances of your product when cutting",
    )
    for system in {c.system.id: c.system for c in ceilings}.values():
        yield (f"system {system.id}", system.title, system.basis)
        if system.cutting is not None:
            yield (f"cutting of {system.id}", "stock lengths and holes", system.cutting.basis)
    for rule in rules.order.values():
        yield (f"order of {rule.item.value}", f"{rule.allowance:.0%} more, packs of {rule.pack}", rule.basis)


def _as_laid_out(done: TakeOff, ceilings: Sequence[Ceiling], prices: Sequence[Price]) -> tuple[RoomCost, ...]:
    costs = cost_rooms(done, prices)
    return tuple(
        RoomCost(
            room=key,
            system=ceiling.system.id,
            angle_deg=ceiling.layout.frame.angle_deg,
            cost=costs[key][0],
            missing=costs[key][1],
            is_chosen=True,
        )
        for ceiling in ceilings
        for key in (line_key(ceiling.zone, k) for k in range(len(ceiling.zone.rooms)))
    )


def with_alternatives(
    done: TakeOff,
    ceilings: Sequence[Ceiling],
    prices: Sequence[Price],
    obstacles: Mapping[str, Sequence[Obstacle]],
    rules: OrderRules | None = None,
) -> TakeOff:
    """The take-off with what each zone costs in every system and in both directions, cut for itself.

    The way it is laid out is priced alone too, so that the rows of a zone can be compared;
    a zone's cost stands in the row of its first room.
    """
    costs: list[RoomCost] = []
    for ceiling in ceilings:
        turned = ceiling.layout.frame.angle_deg
        tried = [
            (ceiling, True),
            *(
                (other, False)
                for system in sorted({ceiling.system.id, *list_systems()})
                for angle in (turned, turned + 90.0)
                if (system, angle) != (ceiling.system.id, turned)
                and (other := _try(ceiling, system, angle, obstacles.get(ceiling.key, ()))) is not None
            ),
        ]
        for one, is_chosen in tried:
            alone = take_off([one], rules=rules, scope=Scope.ROOM, prices=prices)
            missing = dict.fromkeys(m for cost in alone.costs for m in cost.missing)
            costs.append(
                RoomCost(
                    room=line_key(ceiling.zone, 0),
                    system=one.system.id,
                    angle_deg=one.layout.frame.angle_deg % 180.0,
                    cost=sum(cost.cost for cost in alone.costs),
                    missing=tuple(missing),
                    is_chosen=is_chosen,
                )
            )
    return replace(done, costs=tuple(costs))


def _try(ceiling: Ceiling, system: str, angle: float, obstacles: Sequence[Obstacle]) -> Ceiling | None:
    """The zone's ceiling in another system or direction; None where none can be laid out."""
    own = ceiling.system if system == ceiling.system.id else read_system(system)
    try:
        policy = ceiling.policy or read_policy(DEFAULT_POLICY)
        return hang_ceiling(ceiling.zone, own, policy, obstacles, start=Start(angles=(angle % 180.0,)))
    except NoLayoutError:
        return None


def ceilings_in(
    model: ModelFile | Any, others: Sequence[ModelFile | Any] = ()
) -> tuple[Build, tuple[Ceiling, ...]]:
    """The ceilings that a model holds, with its own openings and, where it has them, its own panels.

    Models may be open `ifcopenshell.file`s.

    Raises:
        ModelError: the model holds no ceilings of ours.
    """
    model = as_model(model)
    done = read_back(model, others)
    openings = read_openings(model.file, Kernel(model.file))
    panels = read_panel_keys(model.file)
    obstacles = done.intake.obstacles
    return done, tuple(_as_modelled(ceiling, openings, obstacles, panels) for ceiling in done.ceilings)


def _as_modelled(
    ceiling: Ceiling,
    devices: Sequence[Obstacle],
    obstacles: Sequence[Obstacle],
    kept: Mapping[str, frozenset[str]],
) -> Ceiling:
    zone = ceiling.zone
    local = outline_of_angles(ceiling.members)
    if local is not None:
        # What columns of other models took out of the room stands in this model as its wall angles.
        outline = set_precision(ceiling.layout.frame.shape_to_world(local), tolerance.PRECISION)
        zone = replace(zone, outline=orient(outline)) if isinstance(outline, Polygon) else zone
    if any(room.covering is not None for room in zone.rooms):
        # No opening is cut into a ceiling of the architect's; what sits in it is still not panel.
        told = {device.key for device in devices}
        devices = [*devices, *(o for o in obstacles if o.kind in DEVICES and o.key not in told)]
    openings = fit_devices(zone, ceiling.layout, devices, zone.level)
    panels = cut_panels(zone, ceiling.layout, openings)
    rooms = [room.key for room in ceiling.zone.rooms]
    if any(room in kept for room in rooms):
        known = frozenset[str]().union(*(kept.get(room, frozenset()) for room in rooms))
        keys = panels.keys()
        panels = _take(panels, np.array([key in known for key in keys], dtype=bool))
    return replace(ceiling, zone=zone, openings=openings, panels=panels)


def _take(panels: Panels, chosen: NDArray[np.bool_]) -> Panels:
    place = np.cumsum(chosen) - 1
    return Panels(
        column=panels.column[chosen],
        row=panels.row[chosen],
        piece=panels.piece[chosen],
        room=panels.room[chosen],
        area=panels.area[chosen],
        is_full=panels.is_full[chosen],
        bounds=panels.bounds[chosen],
        outlines={int(place[k]): shape for k, shape in panels.outlines.items() if chosen[k]},
    )


def source_of(model: ModelFile) -> dict[str, str]:
    """The model that an output is of, for its stamp."""
    return {
        "model": Path(model.path).name,
        "sha256": model.sha256[:16],
        "library": f"ifcgrid {__version__}",
    }


def pick_units(units: str, model: ModelFile) -> str:
    """The units asked for; `auto` means those of the model."""
    if units != "auto":
        return units
    return "ft-in" if "foot" in model.unit.lower() or "inch" in model.unit.lower() else "mm"


def write_take_off(
    done: TakeOff, units: str, xlsx: PathLike | None = None, csv: PathLike | None = None
) -> list[str]:
    """Writes the workbook and the table that are wanted; gives their paths.

    Raises:
        OutputError: one cannot be written, or the extra for workbooks is missing.
    """
    written = []
    if xlsx is not None:
        write_bytes(Path(xlsx), workbook_bytes(done, units))
        written.append(str(xlsx))
    if csv is not None:
        write_text(Path(csv), csv_text(done, units))
        written.append(str(csv))
    return written


def takeoff_file(
    path: PathLike,
    *,
    others: Sequence[PathLike] = (),
    xlsx: PathLike | None = None,
    csv: PathLike | None = None,
    prices: PathLike | None = None,
    order: PathLike | None = None,
    scope: str = Scope.STOREY.value,
    pattern: str = Direction.FREE.value,
    has_alternatives: bool = False,
    units: str = "auto",
) -> dict[str, Any]:
    """The take-off of the ceilings in a model that ifcgrid wrote; returns the record.

    Raises:
        ModelError: a file is no usable model, or holds no ceilings of ours.
        SystemDataError: the price table or the order file is wrong, or a part cannot be cut.
        OutputError: a target cannot be written.
    """
    table = read_prices(prices) if prices is not None else ()
    rules = read_order_rules(order)
    check_targets([xlsx, csv], inputs=[path, *others, prices, order])
    model = open_model(path)
    built, ceilings = ceilings_in(model, [open_model(other) for other in others])
    done = take_off(
        ceilings,
        rules=rules,
        scope=Scope(scope),
        direction=Direction(pattern),
        prices=table,
        source=source_of(model),
    )
    if has_alternatives and table:
        devices = read_openings(model.file)
        near = {c.key: [*built.intake.obstacles, *devices] for c in ceilings}
        done = with_alternatives(done, ceilings, table, near, rules)
    record = record_take_off(done)
    record["outputs"] = write_take_off(done, pick_units(units, model), xlsx, csv)
    return record
