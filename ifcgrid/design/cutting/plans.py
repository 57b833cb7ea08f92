"""The cutting plans of ceilings: across a room, a storey or the whole job."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ifcgrid.design.cutting.bars import cut_bars
from ifcgrid.design.cutting.demand import bar_demands, panel_demands
from ifcgrid.design.cutting.panels import cut_panel_pairs
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.cutting import BarPlan, CutRules, Direction, PanelDemand, PanelPlan, Part, Scope, Stock

__all__ = ["plan_bars", "plan_panels"]


def _groups(ceilings: Sequence[Ceiling], scope: Scope) -> dict[str, list[Ceiling]]:
    groups: dict[str, list[Ceiling]] = {}
    for ceiling in ceilings:
        room = ceiling.zone.rooms[0]
        numbers = "+".join(r.number or r.name for r in ceiling.zone.rooms)
        name = {Scope.ROOM: f"{room.storey}, {numbers}", Scope.STOREY: room.storey, Scope.JOB: "job"}[scope]
        groups.setdefault(name, []).append(ceiling)
    return groups


def plan_bars(
    ceilings: Sequence[Ceiling],
    rules: CutRules | None = None,
    scope: Scope = Scope.STOREY,
    *,
    use_solver: bool = True,
) -> tuple[BarPlan, ...]:
    """One plan a stock and group of ceilings.

    Raises:
        SystemDataError: a part cannot be cut from its stock.
    """
    rules = rules or CutRules()
    plans = []
    for name, group in _groups(ceilings, scope).items():
        demands: dict[Stock, list[Part]] = {}
        names: dict[str, Stock] = {}
        for ceiling in group:
            for stock, part in bar_demands(ceiling, rules):
                # NaN is unlike itself, so stocks are told apart by how they read.
                own = names.setdefault(repr(stock), stock)
                demands.setdefault(own, []).append(part)
        for stock, parts in demands.items():
            plans.append(cut_bars(stock, parts, name, use_solver=use_solver))
    return tuple(plans)


def plan_panels(
    ceilings: Sequence[Ceiling],
    rules: CutRules | None = None,
    scope: Scope = Scope.STOREY,
    direction: Direction = Direction.FREE,
    *,
    use_solver: bool = True,
) -> tuple[PanelPlan, ...]:
    """One plan a system and group of ceilings."""
    rules = rules or CutRules()
    plans = []
    for name, group in _groups(ceilings, scope).items():
        by_system: dict[str, list[Ceiling]] = {}
        for ceiling in group:
            by_system.setdefault(ceiling.system.id, []).append(ceiling)
        for system, alike in by_system.items():
            demands: list[PanelDemand] = [d for ceiling in alike for d in panel_demands(ceiling)]
            plans.append(
                cut_panel_pairs(
                    demands,
                    system=system,
                    along=alike[0].layout.along,
                    across=alike[0].layout.across,
                    full=sum(int(np.count_nonzero(c.panels.is_full)) for c in alike),
                    kerf=rules.panel_kerf,
                    direction=direction,
                    scope=name,
                    use_solver=use_solver,
                )
            )
    return tuple(plans)
