"""The take-off as plain rows under headings, for tables of any kind, and as one CSV file.

A row holds texts and numbers, never formatted numbers. In CSV a text that a spreadsheet
would run as a formula gets an apostrophe before it, as the OWASP page on CSV injection asks.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from ifcgrid.domain import tolerance
from ifcgrid.domain.cutting import Bar, BarPlan
from ifcgrid.domain.quantity import Item, Quantity, RoomLine, TakeOff, Unit
from ifcgrid.domain.units import format_feet_inches
from ifcgrid.outputs.takeoff.cut_list import WHOLE, bar_name, sheet_name

__all__ = [
    "Row",
    "bar_rows",
    "cost_rows",
    "csv_text",
    "cut_rows",
    "format_size",
    "panel_rows",
    "quantity_rows",
    "shown",
    "size_cell",
]

Row = tuple[str | float | int, ...]

_STEPS = {1: "1 wall angle", 2: "2 mains", 3: "3 tees between mains", 4: "4 tees between tees", 5: "5 panels"}
_RISKY = ("=", "+", "-", "@", "\t", "\r", "\n")


def format_size(size: Sequence[float], units: str) -> str:
    """Lengths in mm as `600 x 1200`, or in feet and inches."""
    if units == "mm":
        return " x ".join(f"{round(x, 1):g}" for x in size)
    return " x ".join(format_feet_inches(x) for x in size)


def size_cell(size: Sequence[float], units: str) -> str | float:
    """A lone length in mm as the number that it is, everything else as text."""
    return round(size[0], 1) if units == "mm" and len(size) == 1 else format_size(size, units)


def shown(q: Quantity, units: str) -> tuple[float, str]:
    """A quantity's value and unit as people read it: m or ft, m2 or ft2, pieces."""
    if q.unit is Unit.LENGTH:
        return (q.value / 1000, "m") if units == "mm" else (q.value / 304.8, "ft")
    if q.unit is Unit.AREA:
        return (q.value, "m2") if units == "mm" else (q.value / 0.3048**2, "ft2")
    return q.value, q.unit.value


def _rooms(take_off: TakeOff) -> Mapping[str, RoomLine]:
    return {room.key: room for room in take_off.rooms}


def quantity_rows(take_off: TakeOff, units: str) -> Iterator[Row]:
    """Storey, number, name, zone, system, item, size, net quantity, unit, rule."""
    rooms = _rooms(take_off)
    for q in take_off.quantities:
        room = rooms[q.room]
        is_class = q.item is Item.HANGER
        size = format_size(q.size, units).replace(" x ", " to ") if is_class else size_cell(q.size, units)
        value, unit = shown(q, units)
        number = int(value) if q.unit is Unit.PIECES else round(value, 3)
        yield (
            *(room.storey, room.number, room.name, room.zone, room.system),
            *(q.item.value, size, number, unit, q.rule),
        )


def _ranges(names: Sequence[str]) -> str:
    """B1-2 to 4, B1-7: consecutive names of one plan taken together."""
    runs: list[list[tuple[str, int]]] = []
    for name in names:
        plan, _, number = name.rpartition("-")
        at = (plan, int(number))
        if runs and runs[-1][-1] == (plan, at[1] - 1):
            runs[-1].append(at)
        else:
            runs.append([at])
    return ", ".join(
        f"{run[0][0]}-{run[0][1]}" + (f" to {run[-1][1]}" if len(run) > 1 else "") for run in runs
    )


def cut_rows(take_off: TakeOff, units: str) -> Iterator[Row]:
    """Storey, number, name, step, mark, item, size, count, note, cut from."""
    rooms = _rooms(take_off)
    for row in take_off.cut_list:
        room = rooms[row.room]
        note = row.note
        if math.isfinite(row.first_hole):
            note += f", first hole at {format_size((row.first_hole,), units)}"
        sources = "" if row.note == WHOLE else _ranges(row.sources)
        yield (
            *(room.storey, room.number, room.name, _STEPS[row.step], row.mark, row.item.value),
            *(size_cell(row.size, units), row.count, note, sources),
        )


def _more(same: Sequence[int]) -> str:
    return f" and {len(same) - 1} more alike" if len(same) > 1 else ""


def bar_rows(take_off: TakeOff, units: str) -> Iterator[Row]:
    """Scope, bar, item, stock, number of equal bars, room, mark, part's length, where it begins, left over.

    Bars that are cut alike for one room stand in one row, with their number; whole bars, of
    which nothing is cut, are left out.
    """
    rooms = _rooms(take_off)
    for p, plan in enumerate(take_off.bar_plans):
        alike: dict[tuple[object, ...], list[int]] = {}
        for b, bar in enumerate(_shown_bar(plan, bar) for bar in plan.bars):
            cut = tuple(
                (plan.parts[x.part].room, plan.parts[x.part].mark, round(x.at, 1), x.is_turned) for x in bar
            )
            alike.setdefault(cut, []).append(b)
        for same in alike.values():
            bar = _shown_bar(plan, plan.bars[same[0]])
            left = plan.stock.length - sum(plan.parts[x.part].length for x in bar)
            if len(bar) == 1 and left <= tolerance.LENGTH:
                continue  # nothing is cut
            name = bar_name(p, same[0]) + _more(same)
            for place, x in enumerate(bar):
                part = plan.parts[x.part]
                turned = " (turned end for end)" if x.is_turned else ""
                yield (
                    *(plan.scope, name, plan.stock.item, size_cell((plan.stock.length,), units)),
                    *(len(same) if place == 0 else "", rooms[part.room].number, part.mark + turned),
                    *(size_cell((part.length,), units), size_cell((x.at,), units)),
                    size_cell((left,), units) if place == 0 else "",
                )


def _shown_bar(plan: BarPlan, bar: Bar) -> Bar:
    """A part that has a bar for itself is shown at its start: which end is cut makes no other part."""
    if len(bar) == 1 and plan.stock.is_reversible and plan.parts[bar[0].part].ends:
        return (replace(bar[0], at=0.0, is_turned=False),)
    return bar


def panel_rows(take_off: TakeOff, units: str) -> Iterator[Row]:
    """Scope, system, panel, number of equal panels, room, mark, bounds of the piece, turn."""
    rooms = _rooms(take_off)
    for p, plan in enumerate(take_off.panel_plans):
        alike: dict[tuple[object, ...], list[int]] = {}
        for s, sheet in enumerate(plan.sheets):
            cut = tuple((plan.demands[k].room, plan.demands[k].mark) for k in sheet)
            alike.setdefault((*cut, plan.turns[s]), []).append(s)
        for same in alike.values():
            sheet = plan.sheets[same[0]]
            name = sheet_name(p, same[0]) + _more(same)
            for place, k in enumerate(sheet):
                demand = plan.demands[k]
                us, vs = zip(*demand.rings[0], strict=True)
                turn = f"{90 * plan.turns[same[0]]} degrees" if place and plan.turns[same[0]] else ""
                yield (
                    *(plan.scope, plan.system, name, len(same) if place == 0 else ""),
                    *(rooms[demand.room].number, demand.mark),
                    *(format_size((max(us) - min(us), max(vs) - min(vs)), units), turn),
                )


def cost_rows(take_off: TakeOff) -> Iterator[Row]:
    """Storey, number, name, system, angle, cost, chosen, items without a price."""
    rooms = _rooms(take_off)
    for cost in take_off.costs:
        room = rooms[cost.room]
        yield (
            *(room.storey, room.number, room.name, cost.system, round(cost.angle_deg, 3)),
            *(round(cost.cost, 2), "as laid out" if cost.is_chosen else "", "; ".join(cost.missing)),
        )


def _plain(value: str | float | int) -> str | float | int:
    """A text that no spreadsheet takes for a formula."""
    if isinstance(value, str) and value.lstrip(" ").startswith(_RISKY):
        return "'" + value
    return value


def csv_text(take_off: TakeOff, units: str = "mm") -> str:
    """All of the take-off in one table: a kind of row, then its columns; UTF-8, commas."""
    target = io.StringIO()
    writer = csv.writer(target, lineterminator="\n")

    def put(kind: str, *cells: str | float | int) -> None:
        writer.writerow([kind, *map(_plain, cells)])

    put("kind", "storey", "room", "name", "zone", "system", "item", "size", "value", "unit", "note")
    for row in quantity_rows(take_off, units):
        put("net", *row)
    for line in take_off.orders:
        size = format_size(line.size, units)
        note = (
            f"{line.stock} after cutting, {line.allowance:.0%} allowance, packs of {line.pack}; {line.rule}"
        )
        name = line.item.value
        put("order", "", "", "", "", line.spec, name, size, line.ordered, "pcs", note)
    for row in cut_rows(take_off, units):
        *cells, said, sources = row
        put("cut", *cells, "pcs", f"{said}; from {sources}")
    for row in cost_rows(take_off):
        storey, number, room, system, angle, cost, chosen, missing = row
        said = f"mains at {angle} degrees; {chosen}; without price: {missing}"
        put("cost", storey, number, room, "", system, "cost", "", cost, "", said)
    for what, value, basis in take_off.assumptions:
        put("assumption", "", "", "", "", "", what, "", value, "", basis)
    return target.getvalue()
