"""What heeding the fixed devices costs: the layout with them against the layout without."""

from __future__ import annotations

from collections.abc import Callable

from shapely import Polygon

from ifcgrid.design.layout import measure_layout
from ifcgrid.design.seating.wishes import Held
from ifcgrid.domain import tolerance
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.seat import Shift
from ifcgrid.domain.system import GridSystem

__all__ = ["find_cost"]


def find_cost(
    outline: Polygon,
    system: GridSystem,
    policy: Policy,
    held: Held,
    layout: Layout,
    solve_free: Callable[[], Layout],
) -> tuple[Shift, ...]:
    """The terms whose values differ between a layout that heeds what is held and one that does not.

    `solve_free` finds the latter; it is called only when something is held.
    Both are measured with the devices, so the first to differ is the one that they decide.
    Empty when nothing holds the grid or it lies where it would lie anyway.
    """
    if not held:
        return ()
    free = solve_free()
    same_place = free.frame == layout.frame and free.main_phase == layout.main_phase
    if same_place:
        return ()
    measured = measure_layout(
        outline, system, policy, free.frame, free.main_phase, fixtures=held.cells, points=held.points
    )
    return tuple(
        Shift(term=term, heeded=own, unheeded=other)
        for (term, own), (_, other) in zip(layout.scores, measured.scores, strict=True)
        if not tolerance.is_equal(own, other, tolerance.SCORE)
    )
