"""Hangers along the mains: the fewest that keep every demand, past whatever is in the way.

Every run of a main asks for a hanger near both ends, for none farther apart than the
spacing, and for hangers beside splices and at corners of devices where the system says so.
Where nothing else is asked they stand at equal distances and use up the same share of both
limits: with n hangers the spacing is t s and the end distance t e, where
t = L / (2 e + (n - 1) s), the least number being ceil((L - 2 e) / s) + 1. So a hanger that
is set a little off still keeps both. Else `ifcgrid.design.main_hangers` finds them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.field import rooms_at
from ifcgrid.design.main_hangers import MainHangers, Spot
from ifcgrid.design.overhead import Overhead
from ifcgrid.design.trapezes import build_trapezes
from ifcgrid.design.windows import Demands, find_demands
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Hangers, Members, Opening, Role
from ifcgrid.domain.hanging import HangerKind, Pieces, Trapezes
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Zone
from ifcgrid.domain.system import GridSystem

__all__ = ["Hanging", "hang", "place_hangers"]

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hanging:
    """What a ceiling hangs by; `trapezes` None where it needs none, `notes` what people should know."""

    hangers: Hangers
    trapezes: Trapezes | None
    notes: tuple[str, ...]


def place_hangers(
    zone: Zone,
    system: GridSystem,
    layout: Layout,
    members: Members,
    structure: Sequence[Obstacle] = (),
    *,
    pieces: Pieces | None = None,
    services: Sequence[Obstacle] = (),
    devices: Sequence[Opening] = (),
) -> Hangers:
    """The hangers alone; see `hang`."""
    return hang(
        zone, system, layout, members, structure, pieces=pieces, services=services, devices=devices
    ).hangers


def hang(
    zone: Zone,
    system: GridSystem,
    layout: Layout,
    members: Members,
    structure: Sequence[Obstacle] = (),
    *,
    pieces: Pieces | None = None,
    services: Sequence[Obstacle] = (),
    devices: Sequence[Opening] = (),
) -> Hanging:
    """Hangers of all mains, from the main's top to the soffit above, with the trapezes they need.

    `structure` is what may carry a hanger; where it leaves a point uncovered the hanger's
    top is NaN and its support "". Where structure stands so low that it leaves no room above
    the main, the top is NaN too and the support names it. `services` and beams are passed
    with clearance: a hanger is shifted along its main, else splayed with a counter, else
    carried by a trapeze, else set with less clearance and a note, else left out with a note.
    Splices are those of `pieces`, corners those of lay-in `devices`. The limits are the
    system's; its `basis` says whose they are.
    """
    mains = np.flatnonzero(members.role == Role.MAIN_RUNNER)
    demands = find_demands(system, layout, members, pieces, devices)
    overhead = Overhead(zone, system, layout, structure, services)
    solver = MainHangers(system, overhead)
    is_plain, spots = np.ones(len(mains), dtype=bool), []
    for k, main in enumerate(mains.tolist()):
        found = solver.solve(members.start[main], members.end[main], demands.get(main, Demands()))
        if found is not None:
            is_plain[k] = False
            spots += [(main, spot) for spot in found]
    even_main, even_place = _evenly(system, members, mains[is_plain])
    owner = np.concatenate([even_main, np.array([m for m, _ in spots], dtype=np.int64)])
    place = np.concatenate([even_place, np.array([s.place for _, s in spots])])
    all_spots = [Spot(place=p) for p in even_place.tolist()] + [s for _, s in spots]
    kind = np.array([s.kind for s in all_spots], dtype=np.int32)
    order = np.lexsort((kind, place, owner))
    return _build(
        zone, layout, members, overhead, owner[order], [all_spots[k] for k in order], solver.notes()
    )


def _evenly(
    system: GridSystem, members: Members, mains: NDArray[np.intp]
) -> tuple[NDArray[np.int64], _Floats]:
    """The fewest hangers at equal distances: (index of the main, local u) of each."""
    length, start = members.length[mains], members.start[mains, 0]
    spacing, end = system.hanger_spacing, system.hanger_end
    gaps = np.maximum(np.ceil((length - 2 * end - tolerance.LENGTH) / spacing), 0).astype(np.int64)
    share = length / (2 * end + gaps * spacing)
    count = gaps + 1
    number = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
    place = np.repeat(start, count) + np.repeat(share, count) * (end + number * spacing)
    return np.repeat(mains, count).astype(np.int64), place


def _build(
    zone: Zone,
    layout: Layout,
    members: Members,
    overhead: Overhead,
    main: NDArray[np.int64],
    spots: list[Spot],
    notes: tuple[str, ...],
) -> Hanging:
    point = np.column_stack([np.array([s.place for s in spots], dtype=np.float64), members.start[main, 1]])
    lean = np.array([s.lean for s in spots], dtype=np.float64).reshape(-1, 2)
    kind = np.array([s.kind for s in spots], dtype=np.int32)
    bottom = np.full(len(point), overhead.floor)
    top, owner = overhead.soffits(point)
    top_point, leaning = point, lean.any(axis=1)
    if leaning.any():
        top_point = point + lean * np.where(leaning, top - bottom, 0.0)[:, None]
        known = leaning & np.isfinite(top)
        top[known], owner[known] = overhead.soffits(top_point[known])
        if (lost := leaning & np.isnan(top)).any():
            kept = _left_upright(spots, lost)
            return _build(zone, layout, members, overhead, main[list(kept)], list(kept.values()), notes)
        top_point = point + lean * np.where(leaning, top - bottom, 0.0)[:, None]
    support = [overhead.structure[k].key if k >= 0 else "" for k in owner.tolist()]
    fixing = [str(overhead.structure[k].kind) if k >= 0 else "" for k in owner.tolist()]
    trapezes = build_trapezes(overhead, spots)
    if trapezes is not None:
        for bar, carried in enumerate(trapezes.carries):
            for k in carried:
                top[k], support[k], fixing[k] = trapezes.z[bar], trapezes.support[bar][0], "trapeze"
    line = members.line[main]
    is_straight = not kind.any()
    hangers = Hangers(
        line=line,
        index=_count_on_line(line),
        room=rooms_at(zone, layout, point),
        point=point,
        bottom=bottom,
        top=top,
        support=tuple(support),
        kind=None if is_straight else kind,
        top_point=None if is_straight else top_point,
        fixing=tuple(fixing),
    )
    return Hanging(hangers=hangers, trapezes=trapezes, notes=notes)


def _left_upright(spots: Sequence[Spot], lost: NDArray[np.bool_]) -> dict[int, Spot]:
    """Spots by number: those that lean to where nothing is known to stand are upright, without counters."""
    return {
        k: replace(spot, kind=HangerKind.STRAIGHT, lean=(0.0, 0.0)) if lost[k] else spot
        for k, spot in enumerate(spots)
        if not (lost[k] and spot.kind == HangerKind.COUNTER)
    }


def _count_on_line(line: NDArray[np.int32]) -> NDArray[np.int32]:
    """Each hanger's number along its line over all runs; members come sorted by line and place."""
    _, first, count = np.unique(line, return_index=True, return_counts=True)
    numbers: NDArray[np.int32] = (np.arange(len(line)) - np.repeat(first, count)).astype(np.int32)
    return numbers
