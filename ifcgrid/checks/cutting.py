"""Is a cutting plan what it says: every part once, kerfs kept, factory ends and holes where they belong.

Independent of the solver: bars are measured again, part by part.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator

from shapely import Polygon, affinity, box

from ifcgrid.domain import tolerance
from ifcgrid.domain.cutting import Bar, BarPlan, Direction, PanelDemand, PanelPlan, Part, Placed, Side, Stock

__all__ = ["find_bar_faults", "find_panel_faults"]


def find_bar_faults(plan: BarPlan) -> tuple[str, ...]:
    """What is wrong with a plan of bars, in sentences; none when it holds."""
    return tuple(_bar_faults(plan))


def _bar_faults(plan: BarPlan) -> Iterator[str]:
    times = Counter(placed.part for bar in plan.bars for placed in bar)
    for index, part in enumerate(plan.parts):
        if times.get(index, 0) != 1:
            yield f"{part.key} is cut {times.get(index, 0)} times"
    if unknown := sorted(set(times) - set(range(len(plan.parts)))):
        yield f"the plan cuts parts that nobody asked for: {unknown}"
        return
    if len(plan.bars) < plan.bound:
        yield f"{len(plan.bars)} bars undercut the bound of {plan.bound}"
    for number, bar in enumerate(plan.bars):
        yield from _faults_in_bar(plan, number, bar)


def _faults_in_bar(plan: BarPlan, number: int, bar: Bar) -> Iterator[str]:
    stock, end = plan.stock, -plan.stock.kerf
    for placed in sorted(bar, key=lambda p: p.at):
        part = plan.parts[placed.part]
        if tolerance.is_less(placed.at, end + stock.kerf):
            yield f"bar {number}: {part.key} begins at {placed.at:.2f}, the cut before it ends later"
        end = placed.at + part.length
        yield from _end_faults(stock, part, placed, number)
        yield from _hole_faults(stock, part, placed, number)
    if tolerance.is_greater(end, stock.length):
        yield f"bar {number}: its parts end at {end:.2f}, the bar at {stock.length:.2f}"
    if sum(plan.parts[p.part].ends > 0 for p in bar) > stock.end_parts:
        yield f"bar {number} gives more than {stock.end_parts} parts with a factory end"


def _end_faults(stock: Stock, part: Part, placed: Placed, number: int) -> Iterator[str]:
    starts, ends = part.is_factory[::-1] if placed.is_turned else part.is_factory
    if starts and not tolerance.is_equal(placed.at, 0.0):
        yield f"bar {number}: {part.key} needs the bar's start"
    if ends and not tolerance.is_equal(placed.at + part.length, stock.length):
        yield f"bar {number}: {part.key} needs the bar's end"


def _hole_faults(stock: Stock, part: Part, placed: Placed, number: int) -> Iterator[str]:
    if not stock.has_holes or not math.isfinite(part.first_hole):
        return
    hole = placed.at + (part.length - part.first_hole if placed.is_turned else part.first_hole)
    off = (hole - stock.first_hole) / stock.pitch
    if not tolerance.is_equal(off, round(off), tolerance.LENGTH / stock.pitch * 2):
        yield f"bar {number}: the holes of {part.key} are out of step with the bar's"


_TURNED = {Side.LOW_U: Side.LOW_V, Side.LOW_V: Side.HIGH_U, Side.HIGH_U: Side.HIGH_V, Side.HIGH_V: Side.LOW_U}
"""Where a side comes to lie after a quarter turn to the left."""


def find_panel_faults(plan: PanelPlan) -> tuple[str, ...]:
    """What is wrong with a plan of panels, in sentences; none when it holds.

    Each piece is laid into the panel where its factory sides are the panel's own; pieces
    without one on an axis are pushed away from the other piece.
    """
    return tuple(_panel_faults(plan))


def _panel_faults(plan: PanelPlan) -> Iterator[str]:
    times = Counter(k for sheet in plan.sheets for k in sheet)
    for index, demand in enumerate(plan.demands):
        if times.get(index, 0) != 1:
            yield f"{demand.key} is cut {times.get(index, 0)} times"
    if len(plan.sheets) < plan.bound:
        yield f"{len(plan.sheets)} panels undercut the bound of {plan.bound}"
    allowed = {Direction.FREE: {0, 1, 2, 3}, Direction.HALF_TURN: {0, 2}, Direction.FIXED: {0}}
    for number, (sheet, turn) in enumerate(zip(plan.sheets, plan.turns, strict=True)):
        if turn not in allowed[plan.direction]:
            yield f"panel {number}: a pattern that is {plan.direction.value} lets no piece be turned so"
        if not 1 <= len(sheet) <= 2:
            yield f"panel {number} gives {len(sheet)} pieces"
        elif len(sheet) == 2 and not _can_share(plan, plan.demands[sheet[0]], plan.demands[sheet[1]], turn):
            yield f"panel {number}: its two pieces do not fit in it"


def _can_share(plan: PanelPlan, first: PanelDemand, second: PanelDemand, turn: int) -> bool:
    panel = (plan.along, plan.across)
    one = _spots(Polygon(first.rings[0], first.rings[1:]), first.factory, panel)
    shape, factory = Polygon(second.rings[0], second.rings[1:]), second.factory
    for _ in range(turn):
        shape = affinity.rotate(shape, 90, origin=(0, 0))
        factory = frozenset(_TURNED[side] for side in factory)
    other = _spots(shape, factory, panel)
    return any(
        tolerance.is_less(a.buffer(plan.kerf, join_style="mitre").intersection(b).area, 0.0, -tolerance.AREA)
        for a in one
        for b in other
    )


def _spots(shape: Polygon, factory: frozenset[Side], panel: tuple[float, float]) -> list[Polygon]:
    """The outermost places in a panel at which a piece keeps its factory sides; none when it does not fit."""
    low_u, low_v, high_u, high_v = shape.bounds
    if tolerance.is_greater(high_u - low_u, panel[0]) or tolerance.is_greater(high_v - low_v, panel[1]):
        return []
    spots = []
    moves_u = _moves(factory, (Side.LOW_U, Side.HIGH_U), (low_u, high_u), panel[0])
    moves_v = _moves(factory, (Side.LOW_V, Side.HIGH_V), (low_v, high_v), panel[1])
    for move_u in moves_u:
        for move_v in moves_v:
            moved = affinity.translate(shape, move_u, move_v)
            if box(0, 0, *panel).buffer(tolerance.LENGTH).covers(moved):
                spots.append(moved)
    return spots


def _moves(
    factory: frozenset[Side], sides: tuple[Side, Side], reach: tuple[float, float], size: float
) -> set[float]:
    low, high = -reach[0], size - reach[1]
    if sides[0] in factory and sides[1] in factory:
        return {low} if tolerance.is_equal(low, high) else set()
    if sides[0] in factory:
        return {low}
    return {high} if sides[1] in factory else {low, high}
