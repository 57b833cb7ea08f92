"""The exact search for one lattice that was seen on its own, such as one through several rooms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.batch.cases import Cases, set_in_line, share_ways
from ifcgrid.design.layout.batch.exact import solve_cases
from ifcgrid.design.layout.batch.holds import Holds
from ifcgrid.design.layout.batch.measure import measure_pairs
from ifcgrid.design.layout.seats import Seats
from ifcgrid.design.layout.walls import Edges
from ifcgrid.domain.policy import Policy, Term

__all__ = ["Straight", "search_straight"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]


class _Axis(Protocol):
    @property
    def module(self) -> float: ...
    @property
    def minimum(self) -> float: ...
    @property
    def span(self) -> float: ...


class _Plan(Protocol):
    @property
    def edges(self) -> Edges: ...
    @property
    def fixtures(self) -> _Floats: ...
    @property
    def seats(self) -> tuple[Seats, Seats]: ...
    @property
    def area(self) -> float: ...


class _Lattice(Protocol):
    @property
    def plan(self) -> _Plan: ...
    @property
    def axes(self) -> Sequence[_Axis]: ...
    @property
    def ways(self) -> tuple[int, ...]: ...
    @property
    def every(self) -> int: ...
    @property
    def policy(self) -> Policy: ...


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Straight:
    """The best layouts of a lattice, the chosen one first, with what was compared.

    `way`, `phase` (n,), `offset` (n, 2), `scores` (n, terms); `compared` are the offsets of
    both directions, `prefix` the terms that these were solved for apart; `gap` is None
    where it is not known what is left to gain.
    """

    way: _Ints
    phase: _Ints
    offset: _Floats
    scores: _Floats
    compared: tuple[_Floats, _Floats]
    prefix: tuple[Term, ...]
    tried: int
    gap: float | None
    gap_term: str


def search_straight(lattice: _Lattice, kept: tuple[float | None, float | None]) -> Straight:
    """The best places of a lattice along which all walls of its plan run."""
    plan = lattice.plan
    has_devices = len(plan.fixtures) > 0 or any(len(seats.place) > 0 for seats in plan.seats)
    groups = share_ways(lattice.ways, lattice.policy, has_devices=has_devices)
    count, size = len(groups), len(plan.edges)
    case = np.repeat(np.arange(count), size)
    edges = _repeat(plan.edges, count)
    edges, _ = set_in_line(edges, case, np.ones(count, dtype=bool), count)
    holds = (
        Holds(boxes=plan.fixtures[:, [0, 2]], seats=plan.seats[0]),
        Holds(boxes=plan.fixtures[:, [1, 3]], seats=plan.seats[1]),
    )
    cases = Cases(
        policy=lattice.policy,
        every=lattice.every,
        room=np.zeros(count, dtype=np.int64),
        ways=tuple(groups),
        module=np.array([[axis.module for axis in lattice.axes]] * count),
        minimum=np.array([[axis.minimum for axis in lattice.axes]] * count),
        origin=np.zeros((count, 2)),
        angle=np.zeros(count),
        span=np.array([[axis.span for axis in lattice.axes]] * count),
        area=np.full(count, plan.area),
        edges=edges,
        edge_case=case,
        edge_count=np.full(count, size),
        holds=dict.fromkeys(range(count), holds) if has_devices else {},
        is_rectilinear=np.ones(count, dtype=bool),
        kept={(k, axis): p for k in range(count) for axis, p in enumerate(kept) if p is not None},
    )
    answer = solve_cases(cases, 1)
    scores, phase = measure_pairs(cases, answer.axes, answer.ties)
    gap = float(answer.gap[0])
    compared = [np.unique(offsets.value) for offsets in answer.offsets]
    return Straight(
        way=answer.ties.way,
        phase=phase,
        offset=answer.ties.offset,
        scores=scores,
        compared=(compared[0], compared[1]),
        prefix=tuple(t for t in answer.prefix if t is not Term.OBLIQUE_PIECES and t is not Term.MAINS),
        tried=int(answer.tried[0]),
        gap=None if np.isnan(gap) else gap,
        gap_term=answer.gap_term[0],
    )


def _repeat(edges: Edges, count: int) -> Edges:
    return Edges(
        start=np.tile(edges.start, (count, 1)),
        end=np.tile(edges.end, (count, 1)),
        ring=np.tile(edges.ring, count),
        index=np.tile(edges.index, count),
        is_reversed=np.tile(edges.is_reversed, count),
        is_curve=np.tile(edges.is_curve, count),
    )
