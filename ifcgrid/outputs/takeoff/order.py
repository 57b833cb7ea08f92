"""What to buy: bars and panels of the cutting plans, counted parts, each with allowance and packs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from ifcgrid.domain import tolerance
from ifcgrid.domain.cutting import BarPlan, PanelPlan
from ifcgrid.domain.quantity import Item, OrderLine, OrderRule, Quantity
from ifcgrid.outputs.takeoff.measure import fixings_along

__all__ = ["find_orders", "order_line"]

_COUNTED = (Item.HANGER, Item.ANCHOR, Item.TRAPEZE, Item.BRACE, Item.DEVICE_WIRE)


def order_line(
    item: Item, spec: str, size: Sequence[float], net: int, stock: int, rule: OrderRule | None, reason: str
) -> OrderLine:
    """One line: the pieces needed, the allowance on them rounded up, and whole packs of that."""
    allowance = rule.allowance if rule else 0.0
    pack = rule.pack if rule else 1
    # 100 pieces with 5 % are 105, not 106: a share is not exact in binary.
    pieces = math.ceil(stock * (1.0 + allowance) - tolerance.SCORE)
    return OrderLine(
        item=item,
        spec=spec,
        size=tuple(size),
        net=net,
        stock=stock,
        allowance=allowance,
        pieces=pieces,
        pack=pack,
        packs=-(-pieces // pack),
        rule=reason,
        basis=rule.basis if rule else "no rule for this item",
    )


def find_orders(
    quantities: Sequence[Quantity],
    bar_plans: Sequence[BarPlan],
    panel_plans: Sequence[PanelPlan],
    rules: Mapping[Item, OrderRule],
    fixing_spacing: float,
) -> tuple[OrderLine, ...]:
    """The order list: bars, panels, then what is counted.

    `fixing_spacing` is the greatest distance between the fixings of a wall angle in mm.
    """
    lines = [*_bars(quantities, bar_plans, rules), *_panels(panel_plans, rules)]
    angles = [(q.size[0], int(q.value)) for q in quantities if q.item is Item.WALL_ANGLE]
    fixings = sum(fixings_along(length, fixing_spacing) * number for length, number in angles)
    if fixings:
        reason = f"at both ends of every wall and at most {fixing_spacing:g} mm apart"
        lines.append(
            order_line(Item.TRIM_FIXING, "", (), fixings, fixings, rules.get(Item.TRIM_FIXING), reason)
        )
    for item in _COUNTED:
        net = int(sum(q.value for q in quantities if q.item is item))
        if net:
            lines.append(order_line(item, "", (), net, net, rules.get(item), "counted in the ceilings"))
    return tuple(lines)


def _bars(
    quantities: Iterable[Quantity], plans: Sequence[BarPlan], rules: Mapping[Item, OrderRule]
) -> list[OrderLine]:
    perimeter = sum(q.value for q in quantities if q.item is Item.ANGLE_LENGTH)
    alike: dict[tuple[str, str, float], list[BarPlan]] = {}
    for plan in plans:
        alike.setdefault((plan.stock.item, plan.stock.section, plan.stock.length), []).append(plan)
    angle_stocks = sum(name == Item.WALL_ANGLE for name, _, _ in alike)
    lines = []
    for (name, section, length), group in alike.items():
        item = Item(name)
        bars, bound = sum(len(p.bars) for p in group), sum(p.bound for p in group)
        gap = (bars - bound) / bound if bound else 0.0
        reason = f"cutting plans: {bars} bars, at least {bound} needed (gap {gap:.2%})"
        if item is Item.WALL_ANGLE and angle_stocks == 1:
            rough = tolerance.ceil_div(perimeter, length)
            reason += f"; perimeter / stock length, rounded up (NAVEDTRA 14044 p. 5-16): {rough}"
        parts = sum(len(p.parts) for p in group)
        lines.append(order_line(item, section, (length,), parts, bars, rules.get(item), reason))
    return lines


def _panels(plans: Sequence[PanelPlan], rules: Mapping[Item, OrderRule]) -> list[OrderLine]:
    alike: dict[tuple[str, float, float], list[PanelPlan]] = {}
    for plan in plans:
        alike.setdefault((plan.system, plan.along, plan.across), []).append(plan)
    lines = []
    for (system, along, across), group in alike.items():
        full, cut = sum(p.full for p in group), sum(len(p.sheets) for p in group)
        pieces = sum(len(p.demands) for p in group)
        reason = f"{full} whole, {pieces} cut pieces from {cut} panels"
        size, net = (along, across), full + pieces
        lines.append(order_line(Item.PANEL, system, size, net, full + cut, rules.get(Item.PANEL), reason))
    return lines
