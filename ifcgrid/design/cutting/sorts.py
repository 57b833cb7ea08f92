"""Equal parts taken together, with what each costs of a bar in whole numbers.

Lengths are whole steps of `CUT_STEP`, or of a sixteenth of an inch where all are. Without
holes a part costs its length and a cut. With holes it costs whole slots: slot k of a bar
runs from k * pitch to (k + 1) * pitch and holds one hole, so parts that fill slots keep
their phase wherever they are put; that is a restriction, and the bound is taken without it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ifcgrid.domain import tolerance
from ifcgrid.domain.cutting import Part, Stock
from ifcgrid.domain.errors import SystemDataError

__all__ = ["CUT_STEP", "Instance", "Sort", "full_bars", "hole_slots", "make_instance"]

CUT_STEP = 0.1
"""Lengths are planned to this step in mm; nobody cuts finer."""

SIXTEENTH = 25.4 / 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Sort:
    """Parts of one length: indices of the parts, factory ends needed (0 or 1), length in mm, cost."""

    parts: tuple[int, ...]
    ends: int
    length: float
    cost: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Instance:
    """A cutting problem in whole numbers: no bar's costs may exceed `capacity`.

    A bar gives at most `end_parts` parts that need a factory end. `is_slotted` tells that
    costs are slots; `unit` is a cost's worth in mm.
    """

    sorts: tuple[Sort, ...]
    capacity: int
    end_parts: int
    unit: float
    is_slotted: bool

    @property
    def counts(self) -> list[int]:
        """How many parts of each sort are wanted."""
        return [len(sort.parts) for sort in self.sorts]

    @property
    def lone_bound(self) -> int:
        """Bars that the ends alone ask for."""
        ends = sum(len(s.parts) for s in self.sorts if s.ends)
        return -(-ends // self.end_parts) if ends else 0


def full_bars(stock: Stock, parts: Sequence[Part]) -> list[int]:
    """Indices of the parts that are whole bars.

    Raises:
        SystemDataError: a part is longer than its stock, or wants both factory ends and is shorter.
    """
    whole = []
    for index, part in enumerate(parts):
        if tolerance.is_greater(part.length, stock.length):
            raise SystemDataError(
                f"{part.key}: {part.length:.1f} mm cannot be cut from a {stock.item} of "
                f"{stock.length:.1f} mm; give a longer stock or a splice"
            )
        if tolerance.is_equal(part.length, stock.length):
            whole.append(index)
        elif part.ends == 2:
            raise SystemDataError(
                f"{part.key}: {part.length:.1f} mm with both factory ends is no cut of a {stock.item} "
                f"of {stock.length:.1f} mm"
            )
    return whole


def _unit(lengths: Sequence[float], stock: Stock) -> float:
    """A sixteenth of an inch or a millimetre where all lengths are whole steps of it, else a tenth."""
    for unit in (SIXTEENTH, 1.0):
        if all(abs(x / unit - round(x / unit)) * unit <= tolerance.LENGTH for x in (*lengths, stock.kerf)):
            return unit
    return CUT_STEP


def hole_slots(part: Part, stock: Stock) -> tuple[int, bool]:
    """The slots of a part without factory ends, and whether it takes fewer when turned."""
    ahead = part.first_hole
    holes = max(math.floor((part.length - ahead + tolerance.LENGTH) / stock.pitch) + 1, 0)
    behind = part.length - ahead - (holes - 1) * stock.pitch
    ways = [
        holes + _lost(first, stock.first_hole) + _lost(last + stock.kerf, stock.pitch - stock.first_hole)
        for first, last in ((ahead, behind), (behind, ahead))
    ]
    if not stock.is_reversible:
        return ways[0], False
    return min(ways), ways[1] < ways[0]


def _lost(stub: float, share: float) -> int:
    return int(tolerance.is_greater(stub, share))


def _slot_cost(part: Part, stock: Stock) -> int:
    whole = math.floor((stock.length + tolerance.LENGTH) / stock.pitch)
    if part.ends == 0 and math.isfinite(part.first_hole):
        return min(hole_slots(part, stock)[0], whole)
    reach = part.length + stock.kerf
    ahead = math.ceil((reach - tolerance.LENGTH) / stock.pitch)
    if part.ends:
        # At the bar's far end the slots stop where the part begins.
        ahead = max(ahead, whole - math.floor((stock.length - reach + tolerance.LENGTH) / stock.pitch))
    # What would take more slots than a bar has takes one for itself.
    return min(ahead, whole)


def make_instance(stock: Stock, parts: Sequence[Part], chosen: Sequence[int], *, slots: bool) -> Instance:
    """The problem of cutting the chosen parts from a stock, by length or by hole slots."""
    unit = stock.pitch if slots else _unit([parts[k].length for k in chosen], stock)
    groups: dict[tuple[int, int, float], list[int]] = {}
    for k in chosen:
        part = parts[k]
        cost = _slot_cost(part, stock) if slots else round((part.length + stock.kerf) / unit)
        groups.setdefault((cost, min(part.ends, 1), round(part.length, 1)), []).append(k)
    room = stock.length if slots else stock.length + stock.kerf
    return Instance(
        sorts=tuple(
            Sort(parts=tuple(members), ends=ends, length=parts[members[0]].length, cost=cost)
            for (cost, ends, _), members in sorted(groups.items(), reverse=True)
        ),
        capacity=math.floor((room + tolerance.LENGTH) / unit),
        end_parts=stock.end_parts,
        unit=unit,
        is_slotted=slots,
    )
