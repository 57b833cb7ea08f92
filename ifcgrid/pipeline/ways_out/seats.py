"""Ways out in plan: the device to the next free seat, or the grid to the device."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ifcgrid.checks.coordination import Coordination
from ifcgrid.design.layout import measure_layout
from ifcgrid.design.seating import Asked, ask_devices, find_held, next_seats, seat_these
from ifcgrid.domain import tolerance
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import DEVICES, SERVICES, Obstacle
from ifcgrid.domain.policy import Term
from ifcgrid.domain.seat import Move
from ifcgrid.domain.way_out import Change, Step, WayKind, WayOut
from ifcgrid.pipeline.ways_out.moving import move_obstacle
from ifcgrid.pipeline.ways_out.trial import Outcome, Trial

__all__ = ["find_device_ways", "find_grid_ways"]

_SEATS = 8
"""So many seats are tried for one device, the nearest first."""

_SHIFTS = 4
"""So many places of the grid are tried for one cause, the nearest first."""


def _asked(trial: Trial) -> tuple[Asked, ...]:
    devices = [o for o in trial.near if o.kind in DEVICES]
    return ask_devices(trial.ceiling.zone, trial.ceiling.system, trial.policy, devices, ())


def find_device_ways(trial: Trial, finding: Finding, told: Coordination) -> Iterator[WayOut]:
    """Devices moved to free seats: together where one cause moves them, else the one that yields first."""
    devices = [o for o in trial.named(finding) if o.kind in DEVICES]
    if not devices or trial.ceiling.system.row_shift:
        return
    asked = _asked(trial)
    if finding.rule == "device-off-module":
        moves = seat_these(trial.ceiling.zone, trial.ceiling.layout, asked, {o.key for o in devices})
        yield from _first_clear(trial, finding, [[m for m in moves if m.end is not None]], devices)
        return

    def rank(device: Obstacle) -> tuple[bool, int, str]:
        place = told.order.index(device.kind) if device.kind in told.order else -1
        return told.trades.get(device.kind, "") != finding.trade, place, device.key

    for device in sorted(devices, key=rank)[:2]:
        seats = next_seats(trial.ceiling.zone, trial.ceiling.layout, asked, device.key, _SEATS)
        ways = list(_first_clear(trial, finding, [[move] for move in seats], [device]))
        yield from ways
        if any(way.is_clear for way in ways):
            return


def _first_clear(
    trial: Trial, finding: Finding, choices: Sequence[Sequence[Move]], devices: Sequence[Obstacle]
) -> Iterator[WayOut]:
    """The first of several sets of moves that is clear, else the first that ends the cause."""
    best: WayOut | None = None
    for moves in choices:
        if not moves:
            continue
        steps = {
            m.key: Step(key=m.key, vector=(m.vector[0], m.vector[1], 0.0), turn_deg=m.turn_deg)
            for m in moves
            if m.vector is not None
        }
        near = [
            move_obstacle(o, steps[o.key].vector, steps[o.key].turn_deg) if o.key in steps else o
            for o in trial.near
        ]
        outcome = trial.try_out(finding, near=near)
        if outcome is None or not outcome.is_gone:
            continue
        way = _device_way(list(steps.values()), devices, outcome)
        if way.is_clear:
            yield way
            return
        best = best or way
    if best is not None:
        yield best


def _device_way(steps: list[Step], devices: Sequence[Obstacle], outcome: Outcome) -> WayOut:
    names = {o.key: f"{o.kind} '{o.name or o.key}'" for o in devices}
    farthest = max(steps, key=lambda s: (float(np.hypot(*s.vector[:2])), s.key))
    same = {tuple(round(x) for x in step.vector) for step in steps}
    what = names.get(steps[0].key, steps[0].key) if len(steps) == 1 else f"{len(steps)} devices"
    x, y, _ = farthest.vector
    text = f"move {what} by ({x:+.0f}, {y:+.0f}) mm in the model's X and Y"
    if len(same) > 1:
        text = f"move {what} to free seats, by up to {float(np.hypot(x, y)):.0f} mm"
    if any(step.turn_deg for step in steps):
        text += f" and turn by {farthest.turn_deg:+.1f} degrees"
    return WayOut(
        kind=WayKind.MOVE_DEVICE,
        text=text,
        who=devices[0].kind.value,
        amount=float(np.hypot(x, y)),
        steps=tuple(steps),
        is_clear=not outcome.brings,
        brings=outcome.brings,
        limits=("coverage, spacing and what feeds it were not looked at",),
    )


def find_grid_ways(trial: Trial, finding: Finding) -> Iterator[WayOut]:
    """The grid shifted, or its mains on other lines, until the cause is gone; with what that costs."""
    best: WayOut | None = None
    for shift in _shifts(trial, finding):
        for phase in _phases(trial, shift):
            layout = _shifted(trial, shift, phase)
            outcome = trial.try_out(finding, layout=layout)
            if outcome is None or not outcome.is_gone:
                continue
            way = _grid_way(trial, shift, layout, outcome)
            if way.is_clear:
                yield way
                return
            best = best or way
    if best is not None:
        yield best


def _phases(trial: Trial, shift: tuple[float, float]) -> list[int]:
    """Which lines may be mains: where the grid stays where it is, others than now."""
    layout = trial.ceiling.layout
    phases = [(layout.main_phase + k) % layout.main_every for k in range(layout.main_every)]
    return phases if shift != (0.0, 0.0) else phases[1:]


def _shifts(trial: Trial, finding: Finding) -> list[tuple[float, float]]:
    """Local shifts of the grid that may end a cause, the least first."""
    layout, devices = trial.ceiling.layout, [o for o in trial.named(finding) if o.kind in DEVICES]
    if trial.ceiling.system.row_shift:
        return []
    shifts: list[tuple[float, float]] = []
    if devices:
        asked = _asked(trial)
        moves = [
            *seat_these(trial.ceiling.zone, layout, asked, {o.key for o in devices}),
            *(move for o in devices[:2] for move in next_seats(trial.ceiling.zone, layout, asked, o.key, 2)),
        ]
        for move in moves:
            if move.vector is not None:
                ends = layout.frame.to_local([move.start, move.end])
                shifts.append(_within_module(layout, ends[0] - ends[1]))
    else:
        shifts.append((0.0, 0.0))
        shifts += [(0.0, aside) for aside in _asides(trial, finding)]
    ranked = sorted(dict.fromkeys(shifts), key=lambda s: (round(float(np.hypot(*s)), 3), s))
    return ranked[:_SHIFTS]


def _within_module(layout: Layout, shift: np.ndarray) -> tuple[float, float]:
    """A shift by whole modules is none: the rest of it, within half a module."""
    module = np.array([layout.along, layout.across])
    rest = shift - np.rint(shift / module) * module
    return round(float(rest[0]), 3) + 0.0, round(float(rest[1]), 3) + 0.0


def _asides(trial: Trial, finding: Finding) -> Iterator[float]:
    """Shifts across the mains that bring the mains out from under what is named."""
    layout, system = trial.ceiling.layout, trial.ceiling.system
    margin = system.hanging.clearance + system.hanger_diameter / 2 + tolerance.SHORTEST_EDGE
    spacing = layout.across * layout.main_every
    for body in [o for o in trial.named(finding) if o.kind in SERVICES]:
        _, low, _, high = layout.frame.shape_to_local(body.outline).bounds
        low, high = low - margin, high + margin
        if high - low >= spacing:
            continue
        first = layout.main_phase * layout.across
        main = first + np.ceil((low - first) / spacing) * spacing
        if main < high:
            yield from (round(high - main, 3), round(low - main, 3))


def _shifted(trial: Trial, shift: tuple[float, float], phase: int) -> Layout:
    ceiling, layout = trial.ceiling, trial.ceiling.layout
    x, y = layout.frame.to_world([shift])[0].tolist()
    held = find_held(_asked(trial))
    return measure_layout(
        ceiling.zone.outline,
        ceiling.system,
        trial.policy,
        Frame(x=x, y=y, angle_deg=layout.frame.angle_deg),
        phase,
        fixtures=held.cells,
        points=held.points,
    )


def _grid_way(trial: Trial, shift: tuple[float, float], layout: Layout, outcome: Outcome) -> WayOut:
    old = trial.ceiling.layout
    ends = old.frame.to_world([(0.0, 0.0), shift])
    x, y = (ends[1] - ends[0]).tolist()
    amount = float(np.hypot(*shift))
    text = f"shift the grid by ({x:+.0f}, {y:+.0f}) mm in the model's X and Y"
    if amount == 0.0:
        text = "put the mains on the other lines of the grid"
    limits = ["borders were measured at the shifted place, not searched again"]
    brings = outcome.brings
    if old.meets_minimum and not layout.meets_minimum:
        brings += (f"the policy's least border ({trial.policy.minimum_words}) is no longer met",)
    if old.set_out_from:
        limits.append(f"the grid was set out from: {old.set_out_from}")
    return WayOut(
        kind=WayKind.SHIFT_GRID,
        text=text,
        who="Ceilings",
        amount=amount,
        steps=(Step(key=trial.ceiling.key, vector=(float(x), float(y), 0.0)),),
        is_clear=not brings,
        brings=brings,
        changes=tuple(_costs(old, layout)),
        limits=tuple(limits),
    )


def _costs(old: Layout, new: Layout) -> Iterator[Change]:
    """Borders and cut panels, before and after."""
    for axis, words in (
        ("u", "narrowest border along the mains"),
        ("v", "narrowest border across the mains"),
    ):
        pair = [
            min((b.least for b in layout.borders if b.axis == axis), default=None) for layout in (old, new)
        ]
        if pair[0] is not None and pair[1] is not None:
            yield Change(what=words, before=pair[0], after=pair[1])
    before, after = dict(old.scores), dict(new.scores)
    for term, unit in ((Term.CUT_PANELS, "panels"), (Term.EQUAL_BORDERS, "mm")):
        if term.value in before and term.value in after:
            yield Change(what=term.value, before=before[term.value], after=after[term.value], unit=unit)
