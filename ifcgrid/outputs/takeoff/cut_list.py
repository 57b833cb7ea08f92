"""The cut list: equal parts of a room taken together, in the order of work (NAVEDTRA 14044 p. 5-17)."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ifcgrid.domain.cutting import BarPlan, PanelDemand, PanelPlan, Part
from ifcgrid.domain.quantity import CutRow, Item

__all__ = ["WHOLE", "bar_name", "find_cut_list", "sheet_name"]

_PANELS = 5
"""Panels come after wall angle, mains and both ranks of tees."""

WHOLE = "whole bar"
"""The note of parts that are not cut."""

_ITEMS = {1: Item.WALL_ANGLE, 2: Item.MAIN_RUNNER, 3: Item.CROSS_TEE, 4: Item.SECOND_TEE}


def bar_name(plan: int, bar: int) -> str:
    """The name of a bar in a plan, both counted from 0: B1-1 is the first bar of the first plan."""
    return f"B{plan + 1}-{bar + 1}"


def sheet_name(plan: int, sheet: int) -> str:
    """The name of a cut panel in a plan, both counted from 0."""
    return f"C{plan + 1}-{sheet + 1}"


def find_cut_list(
    rooms: Sequence[str], bar_plans: Sequence[BarPlan], panel_plans: Sequence[PanelPlan]
) -> tuple[CutRow, ...]:
    """Rows by room in the given order, then by step of work; full-length parts of a step stand first."""
    bars: dict[tuple[str, int, str], list[tuple[Part, bool, str]]] = {}
    for p, plan in enumerate(bar_plans):
        for b, bar in enumerate(plan.bars):
            for placed in bar:
                part = plan.parts[placed.part]
                is_whole = part.length == plan.stock.length
                entry = (part, is_whole, bar_name(p, b))
                bars.setdefault((part.room, part.order, part.mark), []).append(entry)
    pieces: dict[tuple[str, str], list[tuple[PanelDemand, str]]] = {}
    for p, panel_plan in enumerate(panel_plans):
        for s, sheet in enumerate(panel_plan.sheets):
            for k in sheet:
                demand = panel_plan.demands[k]
                pieces.setdefault((demand.room, demand.mark), []).append((demand, sheet_name(p, s)))
    rows = [_bar_row(group) for group in bars.values()] + [_panel_row(group) for group in pieces.values()]
    place = {room: number for number, room in enumerate(rooms)}
    return tuple(sorted(rows, key=lambda r: (place[r.room], r.step, r.note != WHOLE, _natural(r.mark))))


def _natural(mark: str) -> tuple[str, float]:
    digits = mark.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    try:
        return mark[: len(mark) - len(digits)], float(digits)
    except ValueError:
        return mark, 0.0


def _bar_row(group: Sequence[tuple[Part, bool, str]]) -> CutRow:
    part, is_whole, _ = group[0]
    ends = {0: "both ends cut", 1: "one factory end", 2: "both factory ends"}[part.ends]
    if part.order == 1:
        ends = "to the wall"
    note = WHOLE if is_whole else ends
    return CutRow(
        room=part.room,
        step=part.order,
        item=_ITEMS[part.order],
        mark=part.mark,
        size=(part.length,),
        count=len(group),
        note=note,
        sources=tuple(dict.fromkeys(name for *_, name in group)),
        first_hole=math.nan if is_whole else part.first_hole,
    )


def _panel_row(group: Sequence[tuple[PanelDemand, str]]) -> CutRow:
    demand, _ = group[0]
    us, vs = zip(*demand.rings[0], strict=True)
    is_shaped = len(demand.rings[0]) != 5 or len(demand.rings) > 1
    return CutRow(
        room=demand.room,
        step=_PANELS,
        item=Item.CUT_PANEL,
        mark=demand.mark,
        size=(max(us) - min(us), max(vs) - min(vs)),
        count=len(group),
        note="to the outline in the model; bounds given" if is_shaped else "",
        sources=tuple(dict.fromkeys(name for _, name in group)),
    )
