"""The way of the weight: panels and fixtures to tees and mains, mains to hangers, hangers to the structure.

Measured from a ceiling's own arrays, however they came about. For the forces of hangers the
mains carry the whole weight, for line loads and deflections the wall angles take their share
of what lies beside them (see `ifcgrid.domain.tributary`). Mains are reckoned as beams on
their hangers: once cut at every hanger, as the classification test of a main is made on one
simple span (ASTM C635/C635M-17 4.1.2), and once running through, as built. Forces in N,
lengths in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.beam import Patches, solve_beams
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.loads import (
    ELASTICITY,
    GRAVITY,
    STEEL_KG_PER_MM3,
    midspan_deflection,
    section_area,
    section_inertia,
)
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.system import GridSystem
from ifcgrid.domain.tributary import Items, Runs, hand_over, join_items, rests_on_walls
from ifcgrid.domain.weights import Strength, Weights

__all__ = ["Loads", "measure_loads"]

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Loads:
    """What a ceiling weighs and where its weight goes.

    `parts_n` is the weight by what it is of (panels, insulation, mains, tees, devices);
    `weight_n` their sum. `hanger_n`, `built_n` (h,) what each hanger carries when the mains
    are cut at every hanger, and when they run through; `tension_n`, `side_n` (h,) the
    tension of its wire and its pull sideways for the greater of both; `hanger_area` (h,) mm²
    of ceiling to each. `member_area` (m,) mm² of ceiling to each main and to each cross tee
    where walls take nothing; `member_load` (m,) N/mm what each carries on average where walls
    take their share; NaN for others. A span is the part of
    a main between two hangers: `span_member`, `span_left` (k,) the main and the hanger at
    its left, `span_length`, `span_load` (k,) N/mm; `span_simple`, `span_built` (k,) its
    greatest deflection as a simple span and as built. `tee_deflection` (m,) of cross tees as
    simple spans, NaN for others. `unhung_n` is weight that no hanger carries. `assumed`
    says in sentences what was assumed, `assumed_devices` whose weight was.
    """

    area: float
    parts_n: dict[str, float]
    hanger_n: _Floats
    built_n: _Floats
    tension_n: _Floats
    side_n: _Floats
    hanger_area: _Floats
    member_area: _Floats
    member_load: _Floats
    span_member: NDArray[np.int64]
    span_left: NDArray[np.int64]
    span_length: _Floats
    span_load: _Floats
    span_simple: _Floats
    span_built: _Floats
    tee_deflection: _Floats
    unhung_n: float
    device_kg: dict[str, float]
    assumed_devices: frozenset[str]
    assumed: tuple[str, ...]

    @property
    def weight_n(self) -> float:
        """The whole weight that hangs."""
        return float(sum(self.parts_n.values()))

    @property
    def force_n(self) -> _Floats:
        """What each hanger carries (h,): the greater of both ways to reckon it."""
        return np.maximum(self.hanger_n, self.built_n)


def measure_loads(ceiling: Ceiling, obstacles: Sequence[Obstacle] = ()) -> Loads:
    """Weights, line loads, hanger forces and deflections of a ceiling.

    Args:
        ceiling: one zone's ceiling.
        obstacles: the devices in it say what they weigh (`Obstacle.weight_kg`); for others
            the system's weight by kind is assumed, and marked.
    """
    system = ceiling.system
    weights, strength = system.weights or Weights(), system.strength or Strength()
    devices, device_kg, assumed_devices = _devices(ceiling, weights, obstacles)
    main, tee = _line_weights(system, weights)
    per_mm2 = GRAVITY / 1000**2
    panels = _panels(ceiling, weights.panel_kg_per_m2 * per_mm2)
    quilt = _panels(ceiling, weights.insulation_kg_per_m2 * per_mm2, is_area=False)
    tees = _tees(ceiling, tee * GRAVITY / 1000)
    mains = np.flatnonzero(ceiling.members.role == Role.MAIN_RUNNER)
    own = _own_weight(ceiling, mains, main * GRAVITY / 1000)
    parts = {
        "panels": float(panels.force.sum()),
        "insulation": float(quilt.force.sum()),
        "devices": float(devices.force.sum()),
        "tees": float(tees.force.sum()),
        "mains": float(own.force.sum()),
    }
    laid = join_items([panels, quilt, devices])
    borne, runs = join_items([laid, tees]), _runs(ceiling, mains, 0)
    on_mains, area, lost = hand_over(borne, runs, 0, far=True)
    beside, _, _ = hand_over(_beside_walls(ceiling, borne, runs, 0), runs, 0, far=True)
    carried = _Carried(
        ceiling=ceiling,
        mains=mains,
        patches=_join(on_mains, own),
        beside=_join(beside, own),
        area=area,
        on=on_mains,
    )
    tee_area, tee_load, tee_drop = _tee_loads(ceiling, laid, tee * GRAVITY / 1000, strength)
    member_area, member_load = carried.members()
    return Loads(
        area=float(laid.area.sum()),
        parts_n=parts,
        member_area=np.where(np.isnan(tee_area), member_area, tee_area),
        member_load=np.where(np.isnan(tee_load), member_load, tee_load),
        tee_deflection=tee_drop,
        device_kg=device_kg,
        assumed_devices=frozenset(assumed_devices),
        assumed=_assumptions(system, assumed_devices, device_kg),
        **carried.hangers(strength, float(lost.sum())),
    )


def _line_weights(system: GridSystem, weights: Weights) -> tuple[float, float]:
    """Weights of mains and tees in kg/m."""
    main, tee = (
        section_area(section) * STEEL_KG_PER_MM3 * 1000 if given is None else given
        for section, given in ((system.main, weights.main_kg_per_m), (system.tee, weights.tee_kg_per_m))
    )
    return main, tee


def _panels(ceiling: Ceiling, per_mm2: float, *, is_area: bool = True) -> Items:
    panels = ceiling.panels
    low, high = panels.bounds[:, :2], panels.bounds[:, 2:]
    middle = (low + high) / 2
    for index, outline in panels.outlines.items():
        middle[index] = outline.centroid.coords[0]
    area = panels.area if is_area else np.zeros(len(panels))
    return Items(middle=middle, low=low, high=high, force=panels.area * per_mm2, area=area)


def _tees(ceiling: Ceiling, per_mm: float) -> Items:
    members = ceiling.members
    chosen = np.isin(members.role, (Role.CROSS_TEE, Role.SECOND_TEE))
    start, end = members.start[chosen], members.end[chosen]
    force = members.length[chosen] * per_mm
    return Items(
        middle=(start + end) / 2,
        low=np.minimum(start, end),
        high=np.maximum(start, end),
        force=force,
        area=np.zeros(len(force)),
    )


def _own_weight(ceiling: Ceiling, mains: NDArray[np.int64], per_mm: float) -> Patches:
    start, end = ceiling.members.start[mains, 0], ceiling.members.end[mains, 0]
    force = ceiling.members.length[mains] * per_mm
    return Patches(
        beam=np.arange(len(mains)), start=np.minimum(start, end), end=np.maximum(start, end), force=force
    )


def _devices(
    ceiling: Ceiling, weights: Weights, obstacles: Sequence[Obstacle]
) -> tuple[Items, dict[str, float], list[str]]:
    """Devices in openings; those on taut wires hang from the structure and weigh nothing here."""
    known = {o.key: o for o in obstacles}
    taut = set()
    if ceiling.wires is not None:
        taut = {d for d, slack in zip(ceiling.wires.device, ceiling.wires.is_slack, strict=True) if not slack}
    rows, kilograms, assumed = [], {}, []
    for opening in ceiling.openings:
        device = known.get(opening.key)
        kind = Kind.DEVICE if device is None else device.kind
        kg = None if device is None else device.weight_kg
        if kg is None:
            kg = opening.outline.area / 1000**2 * weights.device_kg_per_m2.get(str(kind), 0.0)
            assumed.append(opening.key)
        kilograms[opening.key] = kg
        bounds, area = opening.outline.bounds, 0.0  # a panel counts whole, with the hole in it
        if opening.cells is not None:
            column, row, columns, lines = opening.cells
            module = np.array([ceiling.layout.along, ceiling.layout.across])
            corners = np.array([[column, row], [column + columns, row + lines]]) * module
            bounds, area = tuple(corners.ravel().tolist()), float(np.prod(corners[1] - corners[0]))
        center = opening.outline.centroid
        rows.append((center.x, center.y, *bounds, 0.0 if opening.key in taut else kg * GRAVITY, area))
    table = np.array(rows, dtype=float).reshape(-1, 8)
    items = Items(
        middle=table[:, :2], low=table[:, 2:4], high=table[:, 4:6], force=table[:, 6], area=table[:, 7]
    )
    return items, kilograms, assumed


def _runs(ceiling: Ceiling, chosen: NDArray[np.int64], axis: int) -> Runs:
    members = ceiling.members
    start, end = members.start[chosen], members.end[chosen]
    return Runs(
        line=members.line[chosen].astype(np.int64),
        at=(start[:, 1 - axis] + end[:, 1 - axis]) / 2,
        start=np.minimum(start[:, axis], end[:, axis]),
        end=np.maximum(start[:, axis], end[:, axis]),
    )


def _beside_walls(ceiling: Ceiling, items: Items, runs: Runs, axis: int) -> Items:
    """The same items without what the walls beside them take."""
    walls = ceiling.layout.frame.shape_to_local(ceiling.zone.outline).boundary
    return replace(items, force=items.force * (1 - rests_on_walls(items, runs, axis, walls)))


def _by_row(ceiling: Ceiling, runs: Runs, items: Items) -> tuple[Runs, Items]:
    """Cross tees and loads with the shift of the row of cells that they lie in."""
    layout = ceiling.layout
    offsets = np.array(layout.row_offsets)

    def shift(across: _Floats) -> _Floats:
        row = np.floor(across / layout.across).astype(np.int64)
        return np.asarray(offsets[row % len(offsets)])

    middle = (runs.start + runs.end) / 2
    return replace(runs, shift=shift(middle)), replace(items, shift=shift(items.middle[:, 1]))


def _join(first: Patches, second: Patches) -> Patches:
    return Patches(
        **{
            name: np.concatenate([getattr(first, name), getattr(second, name)])
            for name in ("beam", "start", "end", "force")
        }
    )


def _tee_loads(
    ceiling: Ceiling, laid: Items, per_mm: float, strength: Strength
) -> tuple[_Floats, _Floats, _Floats]:
    """Area, line load and deflection of cross tees, which carry the panels between them; NaN for others."""
    members, inertia = ceiling.members, strength.tee_inertia_mm4 or section_inertia(ceiling.system.tee)
    area, load, drop = (np.full(len(members), np.nan) for _ in range(3))
    tees = np.flatnonzero(members.role == Role.CROSS_TEE)
    runs, laid = _by_row(ceiling, _runs(ceiling, tees, 1), laid)
    patches, areas, _ = hand_over(laid, runs, 1, far=False)
    area[tees] = np.bincount(patches.beam, weights=areas, minlength=len(tees))
    beside, _, _ = hand_over(_beside_walls(ceiling, laid, runs, 1), runs, 1, far=False)
    force = np.bincount(beside.beam, weights=beside.force, minlength=len(tees))
    length = np.maximum(members.length[tees], tolerance.SHORTEST_MEMBER)
    load[tees] = force / length + per_mm
    drop[tees] = midspan_deflection(load[tees], length, ELASTICITY, inertia)
    return area, load, drop


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Carried:
    """Loads on mains.

    `patches` are all of them, of which `on` stand for `area` (p,) of the ceiling; `beside`
    are those that are left when the walls take their share.
    """

    ceiling: Ceiling
    mains: NDArray[np.int64]
    patches: Patches
    beside: Patches
    on: Patches
    area: _Floats

    def members(self) -> tuple[_Floats, _Floats]:
        """Area and mean line load of mains (m,); NaN for others."""
        area, load = (np.full(len(self.ceiling.members), np.nan) for _ in range(2))
        count = len(self.mains)
        area[self.mains] = np.bincount(self.on.beam, weights=self.area, minlength=count)
        force = np.bincount(self.beside.beam, weights=self.beside.force, minlength=count)
        length = self.ceiling.members.length[self.mains]
        load[self.mains] = force / np.maximum(length, tolerance.SHORTEST_MEMBER)
        return area, load

    def hangers(self, strength: Strength, lost: float) -> dict[str, Any]:
        """Everything that has to do with hangers and the spans between them."""
        ceiling, hangers = self.ceiling, self.ceiling.hangers
        runs = _runs(ceiling, self.mains, 0)
        run = runs.covering(hangers.line.astype(np.int64), hangers.point[:, 0])
        held = np.flatnonzero(run >= 0)
        held = held[np.lexsort((hangers.point[held, 0], run[held]))]
        # Hangers at one place, such as a splayed one and its counter, are one support.
        beam, place = run[held], hangers.point[held, 0]
        is_new = (np.diff(beam, prepend=-1) != 0) | (np.diff(place, prepend=-np.inf) > tolerance.LENGTH)
        support = np.cumsum(is_new) - 1
        count = len(self.mains)
        solved = solve_beams(count, beam[is_new], place[is_new], self.patches, bends=False)
        bent = solve_beams(count, beam[is_new], place[is_new], self.beside)
        flat = Patches(beam=self.on.beam, start=self.on.start, end=self.on.end, force=self.area)
        areas = solve_beams(count, beam[is_new], place[is_new], flat, bends=False).simple
        simple, built, area = (np.zeros(len(hangers)) for _ in range(3))
        sharing = np.bincount(support) if len(support) else np.ones(1)
        for target, found in ((simple, solved.simple), (built, solved.continuous), (area, areas)):
            target[held] = (found / sharing[: len(found)])[support] if len(held) else 0.0
        tension, side = _wire_forces(ceiling, np.maximum(simple, built))
        stiffness = ELASTICITY * (strength.main_inertia_mm4 or section_inertia(ceiling.system.main))
        first = np.flatnonzero(is_new)
        length = place[is_new][solved.span] - place[is_new][solved.span - 1]
        return {
            "hanger_n": simple,
            "built_n": built,
            "tension_n": tension,
            "side_n": side,
            "hanger_area": area,
            "span_member": self.mains[beam[is_new][solved.span]],
            "span_left": held[first[solved.span - 1]] if len(first) else np.empty(0, dtype=np.int64),
            "span_length": length,
            "span_load": bent.load / np.maximum(length, tolerance.LENGTH),
            "span_simple": bent.simple_deflection / stiffness,
            "span_built": bent.continuous_deflection / stiffness,
            "unhung_n": float(solved.unheld.sum()) + lost,
        }


def _wire_forces(ceiling: Ceiling, force: _Floats) -> tuple[_Floats, _Floats]:
    """Tension and side pull of hangers; NaN where a leaning one has no known top."""
    hangers = ceiling.hangers
    run = np.hypot(*(hangers.top_points - hangers.point).T)
    rise = hangers.top - hangers.bottom
    # A plumb wire pulls straight up whether or not its top is known.
    slope = np.where(run <= tolerance.LENGTH, 0.0, run / np.where(rise > tolerance.LENGTH, rise, np.nan))
    return force * np.hypot(1.0, slope), force * slope


def _assumptions(system: GridSystem, devices: list[str], kilograms: dict[str, float]) -> tuple[str, ...]:
    weights, strength = system.weights, system.strength
    said = [f"weights of panels and members: {(weights or Weights()).basis}"]
    said.append(f"bending of members: {(strength or Strength()).basis}")
    if devices:
        total = sum(kilograms[key] for key in devices)
        said.append(
            f"{len(devices)} of {len(kilograms)} devices do not say what they weigh; "
            f"{total:.1f} kg assumed for them by kind and plan area"
        )
    said.append(
        "for hanger forces wall angles carry nothing, for line loads and deflections their share; "
        "panels are counted without play in their cells"
    )
    return tuple(said)
