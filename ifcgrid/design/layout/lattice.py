"""A room seen along a possible grid: the plan in its direction, and the lattices of a system in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.design.layout.offsets import Axis, make_axis
from ifcgrid.design.layout.scoring import place_mains
from ifcgrid.design.layout.seats import HeldPoint, Seats, see_seats
from ifcgrid.design.layout.walls import Chords, Edges, read_edges
from ifcgrid.domain import tolerance
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.system import GridSystem

__all__ = ["Lattice", "Plan", "make_lattices", "see_edges", "see_plan"]

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """A room seen in one direction: `frame` has its least x and y at 0; `fixtures` (n, 4) boxes.

    `seats` are the points of small fixed devices along x and along y.
    """

    frame: Frame
    edges: Edges
    fixtures: _Floats
    seats: tuple[Seats, Seats]
    area: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lattice:
    """A lattice in a plan. Way 0 runs the mains along x, way 1 along y (then v is minus x)."""

    plan: Plan
    axes: tuple[Axis, Axis]
    ways: tuple[int, ...]
    every: int
    policy: Policy
    oblique: NDArray[np.bool_]

    @property
    def is_rectilinear(self) -> bool:
        """Whether all walls run along the lattice."""
        run = np.abs(self.plan.edges.end - self.plan.edges.start).min(axis=1)
        return bool((run <= tolerance.LENGTH).all())

    @property
    def modules(self) -> tuple[float, float]:
        """The cell's sizes along x and y."""
        return self.axes[0].module, self.axes[1].module

    def first_line(self, axis: int, offset: float, *, mirrored: bool = False) -> float:
        """Place of line 0, the last one at or before the least coordinate (of the mirrored axis)."""
        module = self.axes[axis].module
        offset = self.axes[axis].span - offset if mirrored else offset
        rest = offset % module
        return rest if rest <= tolerance.LENGTH else rest - module

    def mains_at(
        self, way: int, offset: tuple[float, float], phases: Sequence[int] | None = None
    ) -> tuple[int, float, int]:
        """Phase, length and crossed devices of the best set of mains, or of the best of `phases`."""
        axis = 1 - way
        span, module = self.axes[axis].span, self.axes[axis].module
        chords, fixtures = self.axes[way].chords, self.axes[axis].fixtures
        if way:
            chords, fixtures = _mirrored(chords, span), span - fixtures[:, ::-1]
        first = self.first_line(axis, offset[axis], mirrored=way == 1)
        mains = place_mains(chords, fixtures, first, module, self.every, span, phases)
        return mains.phase, mains.length, mains.crossed


def _mirrored(chords: Chords, span: float) -> Chords:
    """The same room with t counted from the other end."""
    return Chords(
        low=span - chords.high,
        high=span - chords.low,
        left=chords.left,
        right=chords.right,
        left_s=chords.left_s[:, ::-1],
        right_s=chords.right_s[:, ::-1],
    )


def see_plan(
    outline: Polygon,
    angle_deg: float,
    fixtures: Sequence[Polygon],
    points: Sequence[HeldPoint] = (),
) -> Plan:
    """A room turned so that the direction at `angle_deg` is x, its least x and y at 0."""
    return see_edges(read_edges(outline), float(outline.area), angle_deg, fixtures, points)


def see_edges(
    edges: Edges,
    area: float,
    angle_deg: float,
    fixtures: Sequence[Polygon] = (),
    points: Sequence[HeldPoint] = (),
) -> Plan:
    """As `see_plan`, of edges in model coordinates and the area in mm² that they enclose."""
    corner = edges.start.min(axis=0).tolist()
    turned = Frame(x=corner[0], y=corner[1], angle_deg=angle_deg)
    start, end = turned.to_local(edges.start), turned.to_local(edges.end)
    least = start.min(axis=0)
    x, y = turned.to_world(least[None])[0].tolist()
    boxes = np.array([_box(turned, f) for f in fixtures]).reshape(-1, 4) - np.tile(least, 2)
    local = Edges(
        start=start - least,
        end=end - least,
        ring=edges.ring,
        index=edges.index,
        is_reversed=edges.is_reversed,
        is_curve=edges.is_curve,
    )
    frame = Frame(x=x, y=y, angle_deg=angle_deg)
    return Plan(
        frame=frame,
        edges=local,
        fixtures=boxes,
        seats=see_seats(points, frame),
        area=area,
    )


def _box(frame: Frame, shape: Polygon) -> _Floats:
    points = frame.to_local(np.asarray(shape.exterior.coords)[:, :2])
    return np.concatenate([points.min(axis=0), points.max(axis=0)])


def make_lattices(plan: Plan, system: GridSystem, policy: Policy, ways: Sequence[int]) -> tuple[Lattice, ...]:
    """The lattices of a system in a plan: one for both ways of the mains when the module is square."""
    is_square = system.along == system.across
    groups = [tuple(ways)] if is_square else [(way,) for way in ways]
    lattices = []
    for group in groups:
        modules = (system.across, system.along) if group[0] else (system.along, system.across)
        axes = (
            make_axis(plan.edges, 0, modules, policy, plan.fixtures, plan.seats[0]),
            make_axis(plan.edges, 1, modules, policy, plan.fixtures, plan.seats[1]),
        )
        oblique = ~(axes[0].is_wall | axes[1].is_wall) & (plan.edges.length > tolerance.SHORTEST_EDGE)
        lattices.append(
            Lattice(plan=plan, axes=axes, ways=group, every=system.main_every, policy=policy, oblique=oblique)
        )
    return tuple(lattices)
