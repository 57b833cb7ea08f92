"""A layout whose place is given, not searched: its borders and scores measured in a room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely import Polygon

from ifcgrid.design.layout.borders import explain_borders, list_borders, list_narrow
from ifcgrid.design.layout.lattice import Lattice, make_lattices, see_plan
from ifcgrid.design.layout.search import try_offsets
from ifcgrid.design.layout.seats import HeldPoint
from ifcgrid.design.layout.stagger import measure_staggered
from ifcgrid.domain import tolerance
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Candidate, Certificate, Layout
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.domain.system import GridSystem

__all__ = ["measure_layout"]


def measure_layout(
    outline: Polygon,
    system: GridSystem,
    policy: Policy,
    frame: Frame,
    main_phase: int,
    *,
    fixtures: Sequence[Polygon] = (),
    points: Sequence[HeldPoint] = (),
) -> Layout:
    """What a lattice leaves in a room when any of its nodes and one main are given.

    Args:
        outline: the room in model coordinates in mm.
        system: panel module and spacing of the mains.
        policy: terms and the least border to measure by.
        frame: the lattice: a node and the direction of the mains.
        main_phase: mains lie on lines j of `frame` with j % main_every == main_phase.
        fixtures: outlines of fixed devices that want whole cells.
        points: middles of smaller fixed devices.

    Returns:
        The layout with its frame moved to the node before the room's least u and v, so
        that lines inside count from 1. Its certificate says `given`.
    """
    if system.row_shift:
        return measure_staggered(outline, system, policy, frame)
    module = np.array([system.along, system.across])
    low_u, low_v, high_u, high_v = frame.shape_to_local(outline).bounds
    shift = np.array([_last_line(low_u, module[0]), _last_line(low_v, module[1])])
    x, y = frame.to_world([shift * module])[0].tolist()
    moved = Frame(x=x, y=y, angle_deg=frame.angle_deg % 180.0)
    if moved.angle_deg != frame.angle_deg % 360.0:
        # A lattice looks the same after half a turn, but its lines then count from the other end.
        turned = Frame(x=frame.x, y=frame.y, angle_deg=moved.angle_deg)
        return measure_layout(outline, system, policy, turned, -main_phase, fixtures=fixtures, points=points)
    way = int(moved.angle_deg >= 90.0)
    plan = see_plan(outline, moved.angle_deg % 90.0, fixtures, points)
    (lattice,) = make_lattices(plan, system, policy, (way,))
    local = lattice.plan.frame.to_local([[x, y]])[0]
    offset = np.array([p % axis.module for p, axis in zip(local.tolist(), lattice.axes, strict=True)])
    place = (float(offset[0]), float(offset[1]))
    phase = int((main_phase - shift[1]) % system.main_every)
    named = _score(lattice, way, place, phase)
    borders = list_borders(lattice, way, place)
    narrow = list_narrow(lattice, way, borders)
    return Layout(
        frame=moved,
        along=system.along,
        across=system.across,
        main_every=system.main_every,
        main_phase=phase,
        columns=tolerance.ceil_div(high_u - shift[0] * module[0], module[0]),
        rows=tolerance.ceil_div(high_v - shift[1] * module[1], module[1]),
        borders=borders,
        scores=named,
        meets_minimum=not narrow,
        narrow=tuple((border.ring, border.edge) for border in narrow),
        reason=explain_borders(lattice, way, borders, policy, is_exact=False),
        policy=policy.id,
        certificate=Certificate(
            method="given",
            tried=1,
            resolution=0.0,
            statement="The place of the grid was given; no other was tried.",
            best=(Candidate(angle_deg=moved.angle_deg, origin=(x, y), scores=named, lost_on=""),),
        ),
    )


def _score(
    lattice: Lattice, way: int, place: tuple[float, float], phase: int
) -> tuple[tuple[str, float], ...]:
    """The terms of a layout whose mains are given too; a trial has those of the best phase."""
    terms = lattice.policy.terms
    scores = try_offsets(lattice, np.array([place]), is_final=True).scores[0].tolist()
    values = dict(zip(terms, scores, strict=True))
    _, best_length, best_crossed = lattice.mains_at(way, place)
    _, length, crossed = lattice.mains_at(way, place, (phase,))
    values[Term.MAINS] += length - best_length
    values[Term.FIXTURES] += crossed - best_crossed
    return tuple((term.value, float(values[term]) + 0.0) for term in terms)


def _last_line(low: float, module: float) -> int:
    """Number of the last line at or before a coordinate; a hair after it still counts."""
    return tolerance.floor_div(low, module)
