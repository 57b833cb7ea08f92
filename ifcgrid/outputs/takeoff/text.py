"""The take-off's record in words for the terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

__all__ = ["format_take_off"]

_CAUTION = (
    "Quantities follow the model: measure on site before ordering. Local codes, the authority having "
    "jurisdiction and licensed practice decide."
)
_SCALE = {"mm": (1000.0, "m"), "m2": (1.0, "m2")}


def _clean(text: object) -> str:
    """A text of the model without characters that would move the cursor."""
    return "".join(c if c.isprintable() else "?" for c in str(text))


def _value(total: Mapping[str, Any]) -> str:
    if total["unit"] not in _SCALE:
        return f"{total['value']:>10} {total['unit']}"
    scale, unit = _SCALE[total["unit"]]
    return f"{total['value'] / scale:>10.2f} {unit}"


def _size(mm: list[float]) -> str:
    return " x ".join(f"{x:g}" for x in mm)


_CHEAPEST = 3


def _cheapest(costs: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Of every zone the way it is laid out and the cheapest others; all of them are in the outputs."""
    kept: list[Mapping[str, Any]] = []
    for room in dict.fromkeys(cost["room"] for cost in costs):
        own = [cost for cost in costs if cost["room"] == room]
        others = sorted(
            (c for c in own if not c["chosen"]), key=lambda c: (c["cost"], c["system"], c["angle_deg"])
        )
        kept += [*(c for c in own if c["chosen"]), *others[:_CHEAPEST]]
    return kept


def _section(spec: str) -> str:
    return f"({spec})" if spec else ""


def format_take_off(record: Mapping[str, Any]) -> str:
    """Net totals, the order list with cutting gaps, and costs; lengths in mm unless marked."""
    rooms = record["rooms"]
    lines = [f"Take-off of {len(rooms)} room{'' if len(rooms) == 1 else 's'}", "", "Net, as measured"]
    lines += [f"  {total['item']:<24} {_value(total)}" for total in record["totals"]]
    lines += ["", "To order (net pieces; after cutting; with allowance, in whole packs)"]
    for line in record["order"]:
        name = " ".join(filter(None, (line["item"], _size(line["size_mm"]), _section(line["spec"]))))
        lines.append(
            f"  {_clean(name):<40} {line['net']:>7} {line['after_cutting']:>7} {line['ordered']:>7}   "
            f"{line['rule']}"
        )
    plans = [*record["bar_plans"], *record["panel_plans"]]
    worst = max((plan["gap"] for plan in plans), default=0.0)
    lines += ["", f"Cutting: {len(plans)} plans; the furthest is within {worst:.2%} of its proved bound"]
    notes = dict.fromkeys(note for plan in record["bar_plans"] for note in plan["notes"])
    lines += [f"Note: {_clean(note)}" for note in notes]
    if record["costs"]:
        names = {room["key"]: room["number"] or room["name"] for room in rooms}
        lines += ["", "Costs by your price table, without allowances"]
        for cost in _cheapest(record["costs"]):
            chosen = "  as laid out" if cost["chosen"] else ""
            missing = (
                f"  without a price: {', '.join(cost['without_price'])}" if cost["without_price"] else ""
            )
            where = f"{_clean(names[cost['room']]):<10} {_clean(cost['system']):<22}"
            lines.append(f"  {where} {cost['angle_deg']:>7g} deg {cost['cost']:>12.2f}{chosen}{missing}")
    if record.get("outputs"):
        lines += ["", "Written", *(f"  {_clean(path)}" for path in record["outputs"])]
    return "\n".join([*lines, "", _CAUTION])
