"""The search for the best offsets of one lattice in one direction of a room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.design.layout.offsets import SEPARABLE, Axis, make_axis
from ifcgrid.design.layout.scoring import best_rows, measure_joint, place_mains, rank_rows
from ifcgrid.design.layout.seats import HeldPoint, Seats, see_seats
from ifcgrid.design.layout.walls import Chords, Edges, read_edges
from ifcgrid.domain import tolerance
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.domain.system import GridSystem

__all__ = [
    "Lattice",
    "Outcome",
    "Plan",
    "Trials",
    "make_lattices",
    "search",
    "see_edges",
    "see_plan",
    "try_offsets",
]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_SCAN = 128
"""Offsets a module that are tried where critical offsets alone prove nothing."""

_ZOOM = 8
"""How much finer each following scan is, and how many places it looks at."""


_MOST_TIES = 24
"""Equally good offsets a direction that are carried into the joint terms."""

_BASINS = 8
"""Places that are looked at more closely in each of these scans."""

_APART = 25
"""A runner-up worth telling about lies at least this part of a module beside the winner."""

_JOINT_ROUNDS = 3
"""Scans of both offsets at once, each four times finer."""


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trials:
    """Scored layouts of one lattice: `way`, `phase` (n,), `offset` (n, 2), `scores` (n, terms)."""

    way: _Ints
    phase: _Ints
    offset: _Floats
    scores: _Floats

    def pick(self, rows: _Ints | NDArray[np.bool_]) -> Trials:
        """The chosen rows."""
        return Trials(
            way=self.way[rows], phase=self.phase[rows], offset=self.offset[rows], scores=self.scores[rows]
        )

    def join(self, other: Trials) -> Trials:
        """These rows, then the other's."""
        return Trials(
            way=np.concatenate([self.way, other.way]),
            phase=np.concatenate([self.phase, other.phase]),
            offset=np.concatenate([self.offset, other.offset]),
            scores=np.concatenate([self.scores, other.scores]),
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """The best layouts of one lattice, the winner first, and rejected ones worth telling about.

    `tried` counts layouts, `resolution` is the finest step in mm (0 where `is_exact`).
    """

    lattice: Lattice
    best: Trials
    others: Trials
    tried: int
    resolution: float
    is_exact: bool


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


def search(lattice: Lattice, kept: tuple[float | None, float | None] = (None, None)) -> Outcome:
    """The best offsets, ways and phases of a lattice under its policy.

    The policy's leading separable terms are solved in each direction on its own; what is
    equally good there meets in the joint terms. The result is exact when the walls run
    along the lattice and every offset that is equally good was carried on, or one for all
    those between which no line passes a wall, as these cut the same panels. `kept` are
    offsets along x and y that are given and not searched.
    """
    terms = lattice.policy.terms
    prefix = _leading_terms(terms, has_oblique=bool(lattice.oblique.any()))
    later = [term for term in terms if term in SEPARABLE and term not in prefix]
    found = [
        _search_axis(axis, prefix, is_exact=lattice.is_rectilinear)
        if place is None
        else (np.array([place % axis.module]), np.ones(1, dtype=bool))
        for axis, place in zip(lattice.axes, kept, strict=True)
    ]
    whole = [offsets[stays] for offsets, stays in found]
    if lattice.is_rectilinear and not later:
        whole = [_one_between_walls(axis, offsets) for axis, offsets in zip(lattice.axes, whole, strict=True)]
    ties = [_thin(axis, offsets, later) for axis, offsets in zip(lattice.axes, whole, strict=True)]
    tried = len(found[0][0]) * len(found[1][0]) * len(lattice.ways)
    trials = try_offsets(lattice, _product(*ties))
    finest = 0.0 if lattice.is_rectilinear else tolerance.SEARCH_STEP
    if lattice.oblique.any() and max(len(t) for t in ties) > 1:
        trials, finest = _zoom_joint(lattice, trials, ties)
        tried += len(trials.way)
    best = trials.pick(best_rows(trials.scores, terms))
    best = best.pick(_tie_order(lattice, best))
    return Outcome(
        lattice=lattice,
        best=best,
        others=_rejected(lattice, best, [offsets for offsets, _ in found], prefix, kept),
        tried=tried,
        resolution=finest,
        is_exact=lattice.is_rectilinear and all(len(w) == len(t) for w, t in zip(whole, ties, strict=True)),
    )


def _leading_terms(terms: Sequence[Term], *, has_oblique: bool) -> list[Term]:
    """The terms before the first one that the two directions cannot settle apart."""
    constant = frozenset() if has_oblique else frozenset({Term.OBLIQUE_PIECES})
    leading = []
    for term in terms:
        if term in SEPARABLE:
            leading.append(term)
        elif term not in constant:
            break
    return leading


def _matrix(scores: dict[Term, _Floats], terms: Sequence[Term]) -> _Floats:
    return np.stack([scores[term] for term in terms], axis=1)


def _search_axis(axis: Axis, prefix: Sequence[Term], *, is_exact: bool) -> tuple[_Floats, NDArray[np.bool_]]:
    """Offsets tried in one direction, and which of them are best on the leading terms."""
    offsets = axis.critical()
    if not prefix:
        return offsets, np.ones(len(offsets), dtype=bool)
    if is_exact:
        return offsets, best_rows(_matrix(axis.score(offsets), prefix), prefix)
    step = axis.module / _SCAN
    scan: _Floats = np.arange(_SCAN, dtype=float) * step
    offsets = np.concatenate([offsets, scan[axis.is_clear(scan)]])
    scores = _matrix(axis.score(offsets), prefix)
    while step > tolerance.SEARCH_STEP:
        top = offsets[rank_rows(scores, prefix)[:_ZOOM]]
        step /= _ZOOM
        finer = np.unique(np.mod(top[:, None] + np.arange(-_ZOOM, _ZOOM + 1) * step, axis.module))
        finer = finer[axis.is_clear(finer)]
        offsets = np.concatenate([offsets, finer])
        scores = np.concatenate([scores, _matrix(axis.score(finer), prefix)])
    return offsets, best_rows(scores, prefix)


def _one_between_walls(axis: Axis, offsets: _Floats) -> _Floats:
    """The offsets on walls, and the first of those that lie between the same two walls."""
    walls = np.unique(np.mod(axis.places, axis.module))
    after = np.searchsorted(walls, offsets, side="left")
    nearest = np.abs((offsets[:, None] - walls + axis.module / 2) % axis.module - axis.module / 2)
    is_on = nearest.min(axis=1) <= tolerance.SCORE
    _, first = np.unique(np.where(is_on, -1 - np.arange(len(offsets)), after % len(walls)), return_index=True)
    chosen: _Floats = offsets[np.sort(first)]
    return chosen


def _thin(axis: Axis, offsets: _Floats, later: Sequence[Term]) -> _Floats:
    """At most `_MOST_TIES` of the offsets: those best on the later terms, the others evenly spread."""
    offsets = np.unique(offsets)
    if len(offsets) <= _MOST_TIES:
        return offsets
    apart = np.concatenate([[True], np.diff(offsets) > tolerance.LENGTH])
    if np.count_nonzero(apart) <= _MOST_TIES and not later:
        distinct: _Floats = offsets[apart]
        return distinct
    first = rank_rows(_matrix(axis.score(offsets), later), later)[:4] if later else np.arange(1)
    wanted = np.linspace(offsets[0], offsets[-1], _MOST_TIES - len(first))
    spread = np.abs(offsets[:, None] - wanted).argmin(axis=0)
    chosen: _Floats = offsets[np.unique(np.concatenate([first, spread]))]
    return chosen


def _product(x: _Floats, y: _Floats) -> _Floats:
    return np.stack([np.repeat(x, len(y)), np.tile(y, len(x))], axis=1)


def try_offsets(lattice: Lattice, offsets: _Floats) -> Trials:
    """Score whole layouts at offsets (n, 2) for every way of the mains."""
    values = measure_joint(lattice.plan.edges, lattice.oblique, lattice.axes, offsets, lattice.plan.area)
    for number, axis in enumerate(lattice.axes):
        places, index = np.unique(offsets[:, number], return_inverse=True)
        for term, score in axis.score(places).items():
            values[term] = values.get(term, 0.0) + score[index]
    count, parts = len(offsets), []
    for way in lattice.ways:
        places, index = np.unique(offsets[:, 1 - way], return_inverse=True)
        mains = np.array([lattice.mains_at(way, (p, p)) for p in places.tolist()])[index]
        own = {
            **values,
            Term.MAINS: mains[:, 1],
            Term.FIXTURES: values[Term.FIXTURES] + mains[:, 2],
        }
        parts.append(
            Trials(
                way=np.full(count, way),
                phase=mains[:, 0].astype(np.int64),
                offset=offsets,
                scores=_matrix(own, lattice.policy.terms),
            )
        )
    return parts[0] if len(parts) == 1 else parts[0].join(parts[1])


def _zoom_joint(lattice: Lattice, trials: Trials, ties: Sequence[_Floats]) -> tuple[Trials, float]:
    """Look closer around the best layouts in the directions that the leading terms leave open."""
    module = np.array([axis.module for axis in lattice.axes])
    spread = np.where([len(t) > 1 for t in ties], module / _MOST_TIES, 0.0)
    for _ in range(_JOINT_ROUNDS):
        top = _basins(lattice, trials, spread, module)
        spread = spread / 4
        steps = [np.arange(-3, 4) * s if s else np.zeros(1) for s in spread.tolist()]
        finer = np.mod(top[:, None] + _product(steps[0], steps[1]), module).reshape(-1, 2)
        clear = [axis.is_clear(finer[:, axis.number]) | (spread[axis.number] == 0) for axis in lattice.axes]
        trials = trials.join(try_offsets(lattice, np.unique(finer[clear[0] & clear[1]], axis=0)))
    return trials, float(spread.max())


def _basins(lattice: Lattice, trials: Trials, spread: _Floats, module: _Floats) -> _Floats:
    """The best few offsets (n, 2) that are not neighbours of each other."""
    ranked = trials.offset[rank_rows(trials.scores, lattice.policy.terms)]
    chosen: list[_Floats] = []
    while len(ranked) and len(chosen) < _BASINS:
        best = ranked[0]
        chosen.append(best)
        away = np.abs((ranked - best + module / 2) % module - module / 2)
        ranked = ranked[(away > spread * 1.01 + tolerance.LENGTH).any(axis=1)]
    return np.array(chosen)


def _tie_order(lattice: Lattice, trials: Trials) -> _Ints:
    """Order of equally good layouts: mains along the longer walls, then the lowest offsets."""
    run = np.abs(lattice.plan.edges.end - lattice.plan.edges.start).sum(axis=0)
    longer = 0 if run[0] >= run[1] - tolerance.SHORTEST_EDGE else 1
    own = trials.offset.copy()
    turned = trials.way == 1
    own[turned] = np.stack(
        [own[turned, 1], np.mod(lattice.axes[0].span - own[turned, 0], lattice.axes[0].module)], axis=1
    )
    steps = np.round(own / tolerance.LENGTH)
    order: _Ints = np.lexsort([steps[:, 1], steps[:, 0], trials.way != longer])
    return order


def _rejected(
    lattice: Lattice,
    best: Trials,
    tried: Sequence[_Floats],
    prefix: Sequence[Term],
    kept: tuple[float | None, float | None],
) -> Trials:
    """Layouts that a person would ask about: the other symmetric ones and the next best offsets."""
    winner = best.offset[0]
    choices = []
    for number, axis in enumerate(lattice.axes):
        offsets = tried[number]
        if kept[number] is not None:
            choices.append(offsets)
            continue
        scores = _matrix(axis.score(offsets), prefix) if prefix else np.zeros((len(offsets), 0))
        ranked = offsets[rank_rows(scores, prefix)] if prefix else offsets
        apart = np.abs((ranked - winner[number] + axis.module / 2) % axis.module - axis.module / 2)
        near = ranked[apart > axis.module / _APART][:1]
        choices.append(
            np.concatenate([[winner[number], (winner[number] + axis.module / 2) % axis.module], near])
        )
    pairs = _product(choices[0], choices[1])
    return try_offsets(lattice, pairs).join(best.pick(np.arange(1, len(best.way))))
