"""One grid through several rooms: the same frame in all, the borders judged over all of them.

The rooms are moved apart along the grid by whole modules. No lattice notices that, and
then what is known for one room with several parts holds for all of them together: no cell
is shared between two rooms, and no wall faces one of another room.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, affinity

from ifcgrid.design.layout.directions import find_directions, split_ways
from ifcgrid.design.layout.given import measure_layout
from ifcgrid.design.layout.kept import keep_lines
from ifcgrid.design.layout.lattice import Plan, make_lattices, see_edges
from ifcgrid.design.layout.places import check_outline, find_frame
from ifcgrid.design.layout.search import search
from ifcgrid.design.layout.seats import HeldPoint
from ifcgrid.design.layout.solver import certify, choose
from ifcgrid.design.layout.walls import Edges, read_edges
from ifcgrid.domain.building import HeldLine
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.system import GridSystem

__all__ = ["JointRoom", "solve_jointly"]


@dataclass(frozen=True, slots=True, kw_only=True)
class JointRoom:
    """One of the rooms that share a grid, as `solve_layout` takes it."""

    key: str
    outline: Polygon
    fixtures: tuple[Polygon, ...] = ()
    points: tuple[HeldPoint, ...] = ()


def solve_jointly(
    rooms: Sequence[JointRoom],
    system: GridSystem,
    policy: Policy,
    *,
    name: str = "",
    words: str = "",
    angles: Sequence[float] | None = None,
    lines: Sequence[HeldLine] = (),
) -> tuple[Layout, ...]:
    """Lay one grid through rooms so that no other place suits all of them better.

    Strips, opposite borders, pieces and mains of all rooms are judged together, as if they
    were parts of one; mains lie on the same lines everywhere.

    Args:
        rooms: the rooms, in any place to each other.
        system: panel module and spacing of the mains.
        policy: terms in order, and the least border.
        name: the zone's name, for the certificate.
        words: what fixed the grid, for people.
        angles: directions of u in degrees that are allowed; by default that of the walls that
            are longest in all rooms together.
        lines: lines of the building that the grid keeps to, as in `solve_layout`.

    Returns:
        One layout a room, in their order. All frames are nodes of one lattice.

    Raises:
        NoLayoutError: an outline is no usable polygon, or the system has shifted rows.
    """
    if system.row_shift:
        raise NoLayoutError(f"system {system.id} has shifted rows; these share no grid between rooms yet")
    for room in rooms:
        check_outline(room.outline, room.key)
    if angles is None:
        angle = find_directions(_join([read_edges(room.outline) for room in rooms]))
        angles = [a + quarter for a in angle for quarter in (0.0, 90.0)]
    outcomes = [
        search(lattice, keep_lines(lattice.plan.frame, lattice.modules, lines, name))
        for angle_deg, ways in split_ways(angles)
        for part in ([ways] if system.along == system.across else [(way,) for way in ways])
        for lattice in make_lattices(_see_apart(rooms, angle_deg, system, part[0]), system, policy, part)
    ]
    winner, others = choose(outcomes, policy)
    frame, _, _ = find_frame(winner.lattice, winner.way, winner.offset)
    certificate = certify(winner, others, outcomes, policy)
    statement = f"One grid through {len(rooms)} rooms{f' of zone {name}' if name else ''}, judged together. "
    certificate = replace(certificate, statement=statement + certificate.statement)
    return tuple(
        replace(
            measure_layout(
                room.outline, system, policy, frame, winner.phase, fixtures=room.fixtures, points=room.points
            ),
            certificate=certificate,
            set_out_from=words,
        )
        for room in rooms
    )


def _see_apart(rooms: Sequence[JointRoom], angle_deg: float, system: GridSystem, way: int) -> Plan:
    """The plan of all rooms side by side along x, whole modules from where they are."""
    module = (system.across if way else system.along) * system.main_every
    turned = Frame(x=0.0, y=0.0, angle_deg=angle_deg)
    edges: list[Edges] = []
    fixtures: list[Polygon] = []
    points: list[HeldPoint] = []
    for room, shift in zip(rooms, _shifts(rooms, turned, module), strict=True):
        away = turned.to_world([[shift, 0.0]])[0]
        own = read_edges(room.outline)
        edges.append(replace(own, start=own.start + away, end=own.end + away))
        fixtures += [affinity.translate(f, *away.tolist()) for f in room.fixtures]
        points += [replace(p, x=p.x + float(away[0]), y=p.y + float(away[1])) for p in room.points]
    area = float(sum(room.outline.area for room in rooms))
    return see_edges(_join(edges), area, angle_deg, fixtures, points)


def _join(parts: Sequence[Edges]) -> Edges:
    """All edges together. Outer rings count down from 0, holes up from 1."""
    rings: list[NDArray[np.int64]] = []
    holes = 0
    for number, part in enumerate(parts):
        rings.append(np.where(part.ring == 0, -number, part.ring + holes))
        holes += int(part.ring.max())
    return Edges(
        start=np.concatenate([p.start for p in parts]),
        end=np.concatenate([p.end for p in parts]),
        ring=np.concatenate(rings),
        index=np.concatenate([p.index for p in parts]),
        is_reversed=np.concatenate([p.is_reversed for p in parts]),
        is_curve=np.concatenate([p.is_curve for p in parts]),
    )


def _shifts(rooms: Sequence[JointRoom], turned: Frame, module: float) -> Iterator[float]:
    """How far each room moves along x, a multiple of the module; the first stays."""
    end = -np.inf
    for number, room in enumerate(rooms):
        low, _, high, _ = turned.shape_to_local(room.outline).bounds
        steps = 0.0 if number == 0 else np.ceil((end + 2 * module - low) / module)
        yield float(steps * module)
        end = high + steps * module
