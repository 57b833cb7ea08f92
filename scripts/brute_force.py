"""A slow judge of layouts that knows nothing of critical offsets.

It lays the grid at every millimetre of a module and at spots between, measures strips with
plain loops over the walls of a room, and counts panels and mains by clipping with shapely.
A solver that claims an exact optimum must never be beaten by it. Rooms are made here, too.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon, box

from ifcgrid.domain.layout import Layout
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.domain.system import GridSystem

__all__ = ["BruteForce", "beats", "random_room"]

_Floats = NDArray[np.float64]

_STRIP = 0.25
"""No strip is narrower than this, in mm: no tape tells such a line from one on the wall."""

_HAIR = 0.02
"""A line that misses a wall outside the room does so by this at least."""

_PAIRS = 4
"""Equally good offsets a direction whose panels are counted."""

_SPLIT = (Term.BORDER_MINIMUM, Term.EQUAL_BORDERS, Term.COLUMN_STRIPS, Term.SMALLEST_BORDER)


def random_room(seed: int) -> Polygon:
    """A rectilinear room: boxes joined to L, T, U and other shapes, or a comb, with columns and holes.

    Coordinates are whole millimetres, hundredths of them, or sixteenths of an inch.
    """
    rng = np.random.default_rng(seed)
    step = (1.0, 0.01, 25.4 / 16)[int(rng.integers(0, 3))]

    def pick(low: float, high: float) -> float:
        return round(float(rng.uniform(low, high)) / step) * step

    def piece(x: float, y: float, w: float, h: float) -> Polygon:
        return box(x, y, x + w, y + h)

    if rng.random() < 0.15:
        room = _comb(rng, pick)
    else:
        room = piece(0, 0, pick(900, 8000), pick(900, 8000))
        for _ in range(int(rng.integers(0, 5))):
            part = piece(pick(-2000, 6000), pick(-2000, 6000), pick(700, 5000), pick(700, 5000))
            grown = room.union(part) if rng.random() < 0.7 else room.difference(part)
            if isinstance(grown, Polygon) and grown.area > 8e5:
                room = Polygon(grown.exterior)
    for _ in range(int(rng.integers(0, 4))):
        column = piece(pick(0, 6000), pick(0, 6000), pick(150, 900), pick(150, 900))
        if room.buffer(-50).contains(column):
            left = room.difference(column)
            room = left if isinstance(left, Polygon) else room
    simple = room.simplify(0)
    assert isinstance(simple, Polygon)
    return shapely.geometry.polygon.orient(simple)


def _comb(rng: np.random.Generator, pick: object) -> Polygon:
    assert callable(pick)
    teeth, x = [], 0.0
    for _ in range(int(rng.integers(2, 6))):
        width = pick(700, 1800)
        teeth.append(box(x, 0.0, x + width, pick(1200, 4500)))
        x += width + pick(300, 1500)
    spine = box(0.0, -pick(700, 2500), teeth[-1].bounds[2], 0.0)
    joined = shapely.union_all([spine, *teeth])
    assert isinstance(joined, Polygon)
    return joined


@dataclass(frozen=True, slots=True)
class _Wall:
    place: float
    sign: int
    low: float
    high: float
    run: float = 0.0


class _Direction:
    """One direction of a rectilinear room, measured by loops."""

    def __init__(self, room: Polygon, axis: int, modules: tuple[float, float], policy: Policy) -> None:
        self.axis, self.module = axis, modules[axis]
        self.minimum = policy.minimum(self.module)
        self.equal_within = policy.equal_within if policy.equal_within > 0.01 else 0.0
        hull = Polygon(room.exterior)
        around, inside = self._clear_runs(hull), self._clear_runs(room)
        outer = self._walls(hull, 1)
        longest = max(wall.high - wall.low for wall in outer)
        limit = min(modules[1 - axis], longest / 2) - 1e-6
        long = [wall for wall in outer if wall.high - wall.low >= limit]
        notch = policy.minimum(modules[1 - axis]) + 1e-6
        short = [w for w in outer if w not in long and w.high - w.low > notch]
        holes = [wall for ring in room.interiors for wall in self._walls(Polygon(ring), -1)]
        self.borders = [self._with_run(wall, around) for wall in long]
        self.returns = [self._with_run(wall, inside) for wall in short + holes]
        self.facing = [r for r in around if self._ends_on(r, long, 1) and self._ends_on(r, long, -1)]
        self.walls = outer + holes

    def _walls(self, hull: Polygon, side: int) -> list[_Wall]:
        """All walls across the direction; `sign` +1 where the room is at greater coordinates."""
        found = []
        for a, b in pairwise(hull.exterior.coords):
            if abs(a[self.axis] - b[self.axis]) > 1e-6:
                continue
            low, high = sorted((a[1 - self.axis], b[1 - self.axis]))
            middle = [0.0, 0.0]
            middle[1 - self.axis] = (low + high) / 2
            middle[self.axis] = a[self.axis] + 1e-3
            sign = side if hull.contains(shapely.Point(middle)) else -side
            found.append(_Wall(a[self.axis], sign, low, high))
        return found

    def _clear_runs(self, room: Polygon) -> list[_Wall]:
        """Clear runs along the direction: `place` is the start, `run` the length, low to high the height."""
        at = 1 - self.axis
        heights = sorted({round(p[at], 6) for ring in [room.exterior, *room.interiors] for p in ring.coords})
        found = []
        for low, high in pairwise(heights):
            middle, far = (low + high) / 2, 1e6
            ends = [(-far, middle), (far, middle)] if self.axis == 0 else [(middle, -far), (middle, far)]
            cut = room.intersection(LineString(ends))
            for part in getattr(cut, "geoms", [cut]):
                start, end = sorted(p[self.axis] for p in part.coords)
                found.append(_Wall(start, 0, low, high, end - start))
        return found

    @staticmethod
    def _ends_on(run: _Wall, walls: Sequence[_Wall], sign: int) -> bool:
        place = run.place if sign > 0 else run.place + run.run
        return any(
            abs(w.place - place) < 1e-6
            and w.sign == sign
            and w.low < run.low + 1e-5
            and w.high > run.high - 1e-5
            for w in walls
        )

    @classmethod
    def _with_run(cls, wall: _Wall, runs: Sequence[_Wall]) -> _Wall:
        own = [r.run for r in runs if cls._faces(r, wall)]
        return _Wall(wall.place, wall.sign, wall.low, wall.high, max(own))

    @staticmethod
    def _faces(run: _Wall, wall: _Wall) -> bool:
        place = run.place if wall.sign > 0 else run.place + run.run
        return abs(place - wall.place) < 1e-6 and run.low > wall.low - 1e-5 and run.high < wall.high + 1e-5

    def offsets(self, rng: np.random.Generator, near: float) -> _Floats:
        """Where to try: every millimetre, spots between, the walls, and close around a given offset."""
        module = self.module
        base = np.arange(0.0, module, 1.0)
        places = np.array([wall.place for wall in self.walls])
        close = near + np.array([0.0, 0.05, 0.3, 1.0, 2.5, 7.0, -0.05, -0.3, -1.0, -2.5, -7.0])
        tried = [base, base + 0.37, base + 0.5, rng.uniform(0, module, 200), close, places]
        offsets = np.mod(np.concatenate(tried), module)
        is_on, is_clear = np.zeros(len(offsets), dtype=bool), np.ones(len(offsets), dtype=bool)
        for wall in self.walls:
            inside = np.mod(wall.sign * (offsets - wall.place), self.module)
            is_on |= np.minimum(inside, self.module - inside) < 1e-6
            is_clear &= (inside >= _STRIP) & (self.module - inside >= _HAIR)
        found: _Floats = offsets[is_on | is_clear]
        return found

    def _strip(self, offsets: _Floats, place: float, sign: int) -> _Floats:
        width = np.mod(sign * (offsets - place), self.module)
        return np.where(width < 0.01, self.module, width)

    def _shortfall(self, offsets: _Floats, walls: Sequence[_Wall]) -> _Floats:
        worst = np.zeros(len(offsets))
        for wall in walls:
            width = self._strip(offsets, wall.place, wall.sign)
            short = np.where(width < wall.run - 0.01, min(self.minimum, wall.run) - width, 0.0)
            worst = np.maximum(worst, short)
        return worst

    def measure(self, offsets: _Floats) -> dict[Term, _Floats]:
        """This direction's part of the terms at offsets (n,)."""
        least = np.full(len(offsets), np.inf)
        for wall in self.borders:
            width = self._strip(offsets, wall.place, wall.sign)
            least = np.where(width < wall.run - 0.01, np.minimum(least, width), least)
        least = np.where(np.isinf(least), min(self.module, max(w.run for w in self.borders)), least)
        if not self.facing and self.minimum:
            least = np.minimum(least, self.minimum)
        total, unequal = 0.0, np.zeros(len(offsets))
        for run in self.facing:
            first = np.minimum(self._strip(offsets, run.place, 1), run.run)
            last = np.minimum(self._strip(offsets, run.place + run.run, -1), run.run)
            apart = np.abs(first - last)
            unequal += np.where(apart <= self.equal_within + 1e-7, 0.0, apart) * (run.high - run.low)
            total += run.high - run.low
        return {
            Term.BORDER_MINIMUM: self._shortfall(offsets, self.borders),
            Term.EQUAL_BORDERS: unequal / max(total, 1e-9),
            Term.COLUMN_STRIPS: self._shortfall(offsets, self.returns),
            Term.SMALLEST_BORDER: -least,
        }


class BruteForce:
    """A room under one system and policy with the mains along x (way 0) or along y (way 1)."""

    def __init__(self, room: Polygon, system: GridSystem, policy: Policy, way: int) -> None:
        self.room, self.system, self.policy, self.way = room, system, policy, way
        self.modules = (system.across, system.along) if way else (system.along, system.across)
        self.directions = [_Direction(room, axis, self.modules, policy) for axis in (0, 1)]

    def measure(self, x: float, y: float) -> dict[Term, float]:
        """All terms of the layout with a node at (x, y)."""
        values = {Term.FIXTURES: 0.0, Term.OBLIQUE_PIECES: 0.0}
        for direction, place in zip(self.directions, (x, y), strict=True):
            for term, value in direction.measure(np.array([place])).items():
                values[term] = values.get(term, 0.0) + float(value[0])
        cut, bought = self._count(x, y)
        values[Term.CUT_PANELS] = float(cut)
        values[Term.WASTE] = (bought * self.modules[0] * self.modules[1] - self.room.area) / 1e6
        values[Term.MAINS] = self._mains(y if self.way == 0 else x)
        return values

    def _count(self, x: float, y: float) -> tuple[int, int]:
        """Cut panels and panels in all, every cell clipped."""
        (a, c), (x0, y0, x1, y1) = self.modules, self.room.bounds
        low_x, low_y = np.meshgrid(
            x + np.arange(np.floor((x0 - x) / a), np.ceil((x1 - x) / a)) * a,
            y + np.arange(np.floor((y0 - y) / c), np.ceil((y1 - y) / c)) * c,
        )
        cells = shapely.box(low_x.ravel(), low_y.ravel(), low_x.ravel() + a, low_y.ravel() + c)
        area = shapely.area(shapely.intersection(self.room, cells))
        is_piece = area >= 100.0 - 1e-6
        return int((is_piece & (area < a * c - 1.0)).sum()), int(is_piece.sum())

    def _mains(self, offset: float) -> float:
        """Least length of mains over the choices of lines, at least one main where there is a line."""
        axis, module = 1 - self.way, self.modules[1 - self.way]
        low, high = self.room.bounds[axis], self.room.bounds[axis + 2]
        first = int(np.floor((low - offset + 0.01) / module)) + 1
        totals = [0.0] * self.system.main_every
        for line in range(first, first + int((high - low) / module) + 2):
            at = offset + line * module
            if at < high - 0.01:
                totals[line % self.system.main_every] += self._length(at)
        return min((t for t in totals if t > 1e-6), default=0.0)

    def _length(self, at: float) -> float:
        """Length of a line across the mains' axis inside the room; what runs along a wall does not count."""
        far = 1e6
        ends = [(-far, at), (far, at)] if self.way == 0 else [(at, -far), (at, far)]
        sides = []
        for aside in (-0.015, 0.015):
            moved = [(x, y + aside) if self.way == 0 else (x + aside, y) for x, y in ends]
            cut = self.room.intersection(LineString(moved))
            sides.append(shapely.transform(cut, lambda p: p[:, [self.way]] * [[1.0, 0.0]]))
        return float(sides[0].intersection(sides[1]).length)

    def candidates(self, rng: np.random.Generator, near: tuple[float, float]) -> Iterator[dict[Term, float]]:
        """The layouts that are best on the leading terms that split by direction, each wholly measured."""
        leading = []
        for term in self.policy.terms:
            if term in _SPLIT:
                leading.append(term)
            elif term not in (Term.FIXTURES, Term.OBLIQUE_PIECES):
                break
        ties = []
        for direction, place in zip(self.directions, near, strict=True):
            offsets = direction.offsets(rng, place)
            measured = direction.measure(offsets)
            stays = np.ones(len(offsets), dtype=bool)
            for term in leading:
                stays &= measured[term] <= measured[term][stays].min() + 1e-6
            own = np.unique(offsets[stays].round(9))
            ties.append(own if len(own) <= _PAIRS else rng.choice(own, _PAIRS, replace=False))
        for x in ties[0].tolist():
            for y in ties[1].tolist():
                yield self.measure(x, y)


def beats(rival: dict[Term, float], layout: Layout, policy: Policy) -> Term | None:
    """The term on which a rival is better than a layout, all terms before being equal; else None."""
    scores = dict(layout.scores)
    for term in policy.terms:
        slack = {Term.MAINS: 1.0, Term.CUT_PANELS: 0.5}.get(term, 1e-5)
        if rival[term] < scores[term] - slack:
            return term
        if rival[term] > scores[term] + slack:
            return None
    return None
