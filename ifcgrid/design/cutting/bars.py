"""The plan of one stock: the quick one where it is proved, else the one of column generation."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from ifcgrid.design.cutting.bounds import quick_bound
from ifcgrid.design.cutting.columns import find_solver, improve_bars
from ifcgrid.design.cutting.exhaust import MOST_PARTS, MOST_TRIED, fill_by_holes, lay_in_bar, share_out
from ifcgrid.design.cutting.fill import Pattern, fill_bars, pair_ends
from ifcgrid.design.cutting.patterns import choose_patterns
from ifcgrid.design.cutting.sorts import Instance, full_bars, hole_slots, make_instance
from ifcgrid.domain import tolerance
from ifcgrid.domain.cutting import Bar, BarPlan, Part, Placed, Stock
from ifcgrid.domain.errors import SystemDataError

__all__ = ["cut_bars"]

_Plan = tuple[list[Bar], int, str, str]


def cut_bars(stock: Stock, parts: Sequence[Part], scope: str = "", *, use_solver: bool = True) -> BarPlan:
    """Cuts parts from as few bars as can be found, with a bound that no plan undercuts.

    A part with a factory end lies at an end of a bar; parts without one keep the phase of
    their holes. Whole bars stand first, then bars by their first part.

    Args:
        stock: what is cut.
        parts: what is wanted, none longer than the stock.
        scope: whose parts these are, in words.
        use_solver: try column generation where the quick plan is not proved and HiGHS is there.

    Raises:
        SystemDataError: a part cannot be cut from this stock.
    """
    whole = full_bars(stock, parts)
    rest = sorted(set(range(len(parts))) - set(whole))
    _refuse_misfits(stock, parts, rest)
    bars: list[Bar] = [(Placed(part=k, at=0.0),) for k in whole]
    if stock.is_reversible:
        cut, bound, basis, method = _cut_rest(stock, parts, rest, use_solver)
    else:
        cut, bound, basis, method = _cut_one_way(stock, parts, rest, use_solver)
    notes: tuple[str, ...] = ()
    if len(cut) > bound and find_solver() is None:
        notes = ("the extra `cutting` (HiGHS) is not installed, so this plan was not improved",)
    return BarPlan(
        stock=stock,
        scope=scope,
        parts=tuple(parts),
        bars=(*bars, *sorted(cut, key=lambda bar: tuple(p.part for p in bar))),
        bound=len(whole) + bound,
        bound_basis=basis,
        method=method,
        notes=notes,
    )


def _refuse_misfits(stock: Stock, parts: Sequence[Part], rest: Sequence[int]) -> None:
    """Says which part has its holes where no place in a bar has them."""
    if not stock.has_holes:
        return
    seen: set[tuple[float, float]] = set()
    for k in rest:
        sort = (parts[k].length, parts[k].first_hole)
        if parts[k].ends or not math.isfinite(sort[1]) or sort in seen:
            continue
        seen.add(sort)
        if lay_in_bar(stock, parts, [k]) is None:
            raise SystemDataError(
                f"{parts[k].key}: {sort[0]:.1f} mm with a hole {sort[1]:.1f} mm from its start lies "
                f"nowhere in a {stock.item} of {stock.length:.1f} mm; splice it or move the hole"
            )


def _cut_one_way(stock: Stock, parts: Sequence[Part], rest: Sequence[int], use_solver: bool) -> _Plan:
    """Bars whose holes do not lie alike from both ends: no part is turned.

    What needs the far end takes a bar of its own, and no bar gives two ends; the bound
    knows neither of these rules.
    """
    far = [k for k in rest if parts[k].is_factory == (False, True)]
    near = [k for k in rest if parts[k].is_factory != (False, True)]
    alone: list[Bar] = [(Placed(part=k, at=stock.length - parts[k].length),) for k in far]
    cut, _, _, method = _cut_rest(replace(stock, end_parts=1), parts, near, use_solver)
    bound, basis = quick_bound(make_instance(stock, parts, rest, slots=False))
    return [*alone, *cut], bound, basis, f"no part turned; {method}"


def _cut_rest(stock: Stock, parts: Sequence[Part], rest: Sequence[int], use_solver: bool) -> _Plan:
    if not rest:
        return [], 0, "whole bars", "whole bars"
    if all(parts[k].ends for k in rest):
        return _pair(stock, parts, rest)
    free = make_instance(stock, parts, rest, slots=False)
    bound, basis = quick_bound(free)
    is_slotted = stock.has_holes and any(
        not parts[k].ends and math.isfinite(parts[k].first_hole) for k in rest
    )
    instance = make_instance(stock, parts, rest, slots=True) if is_slotted else free
    plan, method = _best_quick(stock, instance)
    if len(plan) > bound and use_solver and find_solver() is not None:
        better, proved = improve_bars(instance, instance.counts, plan, 0 if is_slotted else bound)
        if is_slotted:  # the slots are a restriction, so the bound is that of the lengths alone
            _, proved = improve_bars(free, free.counts, fill_bars(free, free.counts), bound)
        if proved > bound:
            bound, basis = proved, "linear program over patterns"
        if len(better) < len(plan):
            plan, method = better, "column generation"
    found = _place_all(stock, parts, instance, plan), bound, basis, method
    return _look_closer(stock, parts, rest, found, use_solver, is_slotted) if len(plan) > bound else found


def _look_closer(
    stock: Stock, parts: Sequence[Part], rest: Sequence[int], found: _Plan, use_solver: bool, has_phase: bool
) -> _Plan:
    """A plan that is not proved, tried by how parts really lie: small jobs in full, holes not as slots."""
    bars, bound, basis, method = found
    if len(rest) <= MOST_PARTS:
        bars = min(share_out(stock, parts, rest), bars, key=len)
        return bars, len(bars), "every way was tried", "every way tried, exact"
    if not has_phase or len(rest) > MOST_TRIED:
        return found
    closer = fill_by_holes(stock, parts, rest)
    if len(closer) < len(bars):
        bars, method = closer, "best fit decreasing, hole by hole"
    solver = find_solver() if use_solver and len(bars) > bound else None
    best = choose_patterns(solver, stock, parts, rest) if solver else None
    if best is not None:
        if len(best[0]) < len(bars):
            bars, method = best[0], "integer program over all patterns"
        if best[1] > bound:
            bound, basis = best[1], "integer program over all patterns"
    return bars, bound, basis, method


def _best_quick(stock: Stock, instance: Instance) -> tuple[list[Pattern], str]:
    """Best fit decreasing, and with hole slots also after pairing by true lengths what pairs so."""
    plan = fill_bars(instance, instance.counts)
    if not instance.is_slotted:
        return plan, "best fit decreasing"
    ended = [k for k, s in enumerate(instance.sorts) if s.ends for _ in s.parts]
    pairs = pair_ends([instance.sorts[k].length for k in ended], _room(stock)) if stock.end_parts > 1 else []
    chosen = [tuple(ended[k] for k in pair) for pair in pairs if len(pair) == 2]
    left = instance.counts
    for pattern in chosen:
        for sort in pattern:
            left[sort] -= 1
    other = chosen + fill_bars(instance, left)
    return (
        (other, "ends paired, then best fit decreasing")
        if len(other) < len(plan)
        else (
            plan,
            "best fit decreasing",
        )
    )


def _room(stock: Stock) -> float:
    """What the lengths of two parts in a bar may sum to."""
    return stock.length - stock.kerf + tolerance.LENGTH


def _pair(stock: Stock, parts: Sequence[Part], rest: Sequence[int]) -> _Plan:
    """Every part needs an end of its own: pairing is exact."""
    if stock.end_parts < 2:
        return (
            [_place(stock, parts, (k,)) for k in rest],
            len(rest),
            "one part a bar was asked for",
            "one a bar",
        )
    pairs = pair_ends([parts[k].length for k in rest], _room(stock))
    bars = [_place(stock, parts, tuple(rest[k] for k in pair)) for pair in pairs]
    return bars, len(bars), "no more pairs exist", "pairs, exact"


def _place_all(stock: Stock, parts: Sequence[Part], instance: Instance, plan: Sequence[Pattern]) -> list[Bar]:
    waiting = [list(reversed(sort.parts)) for sort in instance.sorts]
    return [_place(stock, parts, tuple(waiting[sort].pop() for sort in bar)) for bar in plan]


def _place(stock: Stock, parts: Sequence[Part], chosen: Sequence[int]) -> Bar:
    """Where each part lies in its bar: parts with an end outside, the others between them."""
    if len(chosen) == 1 and (alone := lay_in_bar(stock, parts, chosen)) is not None:
        return alone
    ended = [k for k in chosen if parts[k].ends]
    inner = [k for k in chosen if not parts[k].ends]
    placed: list[Placed] = []
    at = 0.0
    if ended:
        first = ended[0]
        placed.append(Placed(part=first, at=0.0, is_turned=parts[first].is_factory[1]))
        at = parts[first].length + stock.kerf
    for k in inner:
        spot, is_turned, after = _inner_place(stock, parts[k], at)
        placed.append(Placed(part=k, at=spot, is_turned=is_turned))
        at = after
    for k in ended[1:]:
        placed.append(Placed(part=k, at=stock.length - parts[k].length, is_turned=parts[k].is_factory[0]))
    return tuple(placed)


def _inner_place(stock: Stock, part: Part, at: float) -> tuple[float, bool, float]:
    """Where a part begins when all before `at` is taken, whether it is turned, what is taken after."""
    if not (stock.has_holes and math.isfinite(part.first_hole)):
        return at, False, at + part.length + stock.kerf
    slots, is_turned = hole_slots(part, stock)
    slot = math.ceil((at - tolerance.LENGTH) / stock.pitch)
    ahead = part.first_hole
    if is_turned:
        holes = math.floor((part.length - ahead + tolerance.LENGTH) / stock.pitch)
        ahead = part.length - ahead - holes * stock.pitch
    lead = math.ceil((ahead - stock.first_hole - tolerance.LENGTH) / stock.pitch)
    spot = (slot + max(lead, 0)) * stock.pitch + stock.first_hole - ahead
    return spot, is_turned, (slot + slots) * stock.pitch
