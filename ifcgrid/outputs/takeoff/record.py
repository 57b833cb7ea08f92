"""The take-off as one dictionary of plain types, as `--json` writes it."""

from __future__ import annotations

import math
from typing import Any

from ifcgrid.domain.cutting import BarPlan, PanelPlan
from ifcgrid.domain.quantity import Item, Quantity, TakeOff, Unit
from ifcgrid.outputs.takeoff.cut_list import bar_name, sheet_name

__all__ = ["record_take_off"]


def _number(value: float, digits: int = 3) -> float | int:
    rounded = round(float(value), digits) + 0.0
    return int(rounded) if rounded.is_integer() else rounded


def _quantity(q: Quantity) -> dict[str, Any]:
    value = int(q.value) if q.unit is Unit.PIECES else _number(q.value, 6 if q.unit is Unit.AREA else 3)
    return {
        "item": q.item.value,
        "size_mm": [_number(x) for x in q.size],
        "value": value,
        "unit": q.unit.value,
        "rule": q.rule,
    }


def _bar_plan(number: int, plan: BarPlan) -> dict[str, Any]:
    return {
        "item": plan.stock.item,
        "section": plan.stock.section,
        "stock_mm": _number(plan.stock.length),
        "kerf_mm": _number(plan.stock.kerf),
        "scope": plan.scope,
        "parts": len(plan.parts),
        "bars": len(plan.bars),
        "bound": plan.bound,
        "bound_by": plan.bound_basis,
        "gap": _number(plan.gap, 6),
        "method": plan.method,
        "waste_mm": _number(plan.waste),
        "notes": list(plan.notes),
        "cuts": [
            {
                "bar": bar_name(number, b),
                "parts": [
                    {
                        "key": plan.parts[p.part].key,
                        "mark": plan.parts[p.part].mark,
                        "at_mm": _number(p.at),
                        "length_mm": _number(plan.parts[p.part].length),
                        "turned": p.is_turned,
                    }
                    for p in bar
                ],
            }
            for b, bar in enumerate(plan.bars)
        ],
    }


def _panel_plan(number: int, plan: PanelPlan) -> dict[str, Any]:
    return {
        "system": plan.system,
        "module_mm": [_number(plan.along), _number(plan.across)],
        "direction": plan.direction.value,
        "scope": plan.scope,
        "full": plan.full,
        "pieces": len(plan.demands),
        "cut_panels": len(plan.sheets),
        "bound": plan.bound,
        "gap": _number(plan.gap, 6),
        "method": plan.method,
        "waste_m2": _number(plan.waste_area / 1e6, 6),
        "cuts": [
            {
                "panel": sheet_name(number, s),
                "pieces": [{"key": plan.demands[k].key, "mark": plan.demands[k].mark} for k in sheet],
                "quarter_turns": plan.turns[s],
            }
            for s, sheet in enumerate(plan.sheets)
        ],
    }


def record_take_off(take_off: TakeOff) -> dict[str, Any]:
    """Rooms with net quantities, totals, order list, cut list, plans, costs and assumptions."""
    by_room: dict[str, list[Quantity]] = {}
    totals: dict[Item, tuple[float, Unit]] = {}
    for q in take_off.quantities:
        by_room.setdefault(q.room, []).append(q)
        totals[q.item] = (totals.get(q.item, (0.0, q.unit))[0] + q.value, q.unit)
    return {
        "source": dict(take_off.source),
        "rooms": [
            {
                "key": room.key,
                "number": room.number,
                "name": room.name,
                "storey": room.storey,
                "zone": room.zone,
                "system": room.system,
                "quantities": [_quantity(q) for q in by_room.get(room.key, ())],
            }
            for room in take_off.rooms
        ],
        "totals": [
            {
                "item": item.value,
                "value": _number(totals[item][0], 6),
                "unit": totals[item][1].value,
            }
            for item in Item
            if item in totals
        ],
        "order": [
            {
                "item": line.item.value,
                "spec": line.spec,
                "size_mm": [_number(x) for x in line.size],
                "net": line.net,
                "after_cutting": line.stock,
                "allowance": line.allowance,
                "pieces": line.pieces,
                "pack": line.pack,
                "packs": line.packs,
                "ordered": line.ordered,
                "rule": line.rule,
                "basis": line.basis,
            }
            for line in take_off.orders
        ],
        "cut_list": [
            {
                "room": row.room,
                "step": row.step,
                "item": row.item.value,
                "mark": row.mark,
                "size_mm": [_number(x) for x in row.size],
                "count": row.count,
                "note": row.note,
                "first_hole_mm": _number(row.first_hole) if math.isfinite(row.first_hole) else None,
                "from": list(row.sources),
            }
            for row in take_off.cut_list
        ],
        "bar_plans": [_bar_plan(k, plan) for k, plan in enumerate(take_off.bar_plans)],
        "panel_plans": [_panel_plan(k, plan) for k, plan in enumerate(take_off.panel_plans)],
        "costs": [
            {
                "room": cost.room,
                "system": cost.system,
                "angle_deg": _number(cost.angle_deg, 6),
                "cost": _number(cost.cost, 2),
                "without_price": list(cost.missing),
                "chosen": cost.is_chosen,
            }
            for cost in take_off.costs
        ],
        "assumptions": [
            {"what": what, "value": value, "basis": basis} for what, value, basis in take_off.assumptions
        ],
    }
