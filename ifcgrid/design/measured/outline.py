"""An outline as walls between corners, so that few points decide where all of it goes.

Every wall, straight or curved, follows its two ends by the similarity that takes them
along: points on a straight wall stay on it, and a rounded end keeps its shape. A round
room or column, which has no corners, follows two points of its ring.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.wall_runs import wall_letter, wall_runs

__all__ = ["Outline", "Span", "spans_between", "split_outline"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """One wall: its letter and ring, the corners (indices) at its ends, its points in the ring's order.

    `factor` is its length, developed where it is curved, over the distance of its corners;
    `is_round` tells that it is the whole of a ring.
    """

    letter: str
    ring: int
    start: int
    end: int
    points: tuple[int, ...]
    factor: float
    is_curve: bool
    is_round: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """A polygon's corners (m, 2) and walls. `rings` holds all points (n, 2) of each ring, not closed."""

    polygon: Polygon
    rings: tuple[Array, ...]
    corners: Array
    spans: tuple[Span, ...]

    def on_ring(self, ring: int) -> list[Span]:
        """The walls of one ring in order."""
        return [span for span in self.spans if span.ring == ring]

    def corner_names(self) -> dict[str, int]:
        """Corners by the letters of the walls that meet there: AB, or AA/AB with double letters."""
        names: dict[str, int] = {}
        for ring in range(len(self.rings)):
            walls = self.on_ring(ring)
            if len(walls) == 1:
                continue
            for one, following in zip(walls, [*walls[1:], walls[0]], strict=True):
                names[_corner(one.letter, following.letter)] = following.start
        # Turned round as well, unless that is another corner's name, as in a room of two walls.
        turned = {_corner(*reversed(_letters(name))): at for name, at in names.items()}
        return turned | names

    def moved(self, corners: Array) -> Polygon:
        """The polygon with its corners (m, 2) elsewhere."""
        rings = []
        for index, points in enumerate(self.rings):
            new = np.empty_like(points)
            for span in self.on_ring(index):
                own = list(span.points)
                new[own] = self._carried(span, corners)(points[own])
                new[own[0]] = corners[span.start]
            rings.append(new)
        return Polygon(rings[0], rings[1:])

    def mover(self, corners: Array) -> Callable[[Array], Array]:
        """Takes points (k, 2) on or in the outline along: with the wall on which they lie, else with all."""
        lines = [shapely.LineString(self._line(span)) for span in self.spans]
        whole = _best_affine(self.corners, corners) if len(self.corners) > 2 else None

        def move(points: Array) -> Array:
            new = np.array(points, dtype=float)
            for k, point in enumerate(new.copy()):
                gaps = shapely.distance(lines, shapely.Point(point))
                nearest = int(np.argmin(gaps))
                if gaps[nearest] <= tolerance.GAP or whole is None:
                    new[k] = self._carried(self.spans[nearest], corners)(point[None])[0]
                else:
                    new[k] = whole(point[None])[0]
            return new

        return move

    def _line(self, span: Span) -> Array:
        points = self.rings[span.ring][list(span.points)]
        last = points[0] if span.is_round else self.corners[span.end]
        return np.concatenate([points, last[None]])

    def _carried(self, span: Span, corners: Array) -> Callable[[Array], Array]:
        """The similarity that takes a wall's ends from where they were to where they are."""
        first, second = _complex(self.corners[[span.start, span.end]])
        start, end = _complex(corners[[span.start, span.end]])
        turn = (end - start) / (second - first)

        def carry(points: Array) -> Array:
            new = start + (_complex(points) - first) * turn
            return np.stack([new.real, new.imag], axis=1)

        return carry


def _complex(points: Array) -> NDArray[np.complex128]:
    return points[:, 0] + 1j * points[:, 1]


def _letters(corner: str) -> tuple[str, str]:
    first, _, second = corner.partition("/")
    return (first, second) if second else (corner[0], corner[1])


def _corner(first: str, second: str) -> str:
    return f"{first}{second}" if len(first) == len(second) == 1 else f"{first}/{second}"


def _best_affine(before: Array, after: Array) -> Callable[[Array], Array] | None:
    """The affine map that takes points (m, 2) best to others; None for points on one line."""
    middle = before.mean(axis=0)
    ones = np.ones((len(before), 1))
    system = np.concatenate([before - middle, ones], axis=1)
    if np.linalg.matrix_rank(system, tol=tolerance.RELATIVE * np.abs(system).max()) < 3:
        return None
    matrix = np.linalg.lstsq(system, after, rcond=None)[0]

    def apply(points: Array) -> Array:
        moved: Array = np.concatenate([points - middle, np.ones((len(points), 1))], axis=1) @ matrix
        return moved

    return apply


def split_outline(polygon: Polygon) -> Outline:
    """The walls of an outline under the letters of the set-out sheet, and the corners between them."""
    rings = tuple(
        np.asarray(ring.coords)[:-1, :2].astype(float) for ring in (polygon.exterior, *polygon.interiors)
    )
    corners: list[Array] = []
    spans: list[Span] = []
    for index, points in enumerate(rings):
        runs = list(wall_runs(points))
        first = len(corners)
        if len(runs) == 1:
            order = runs[0][0]
            corners += [points[order[0]], points[order[len(order) // 2]]]
            spans.append(_span(points, corners, runs[0], index, (first, first + 1), len(spans)))
            continue
        corners += [points[edges[0]] for edges, _ in runs]
        for k, run in enumerate(runs):
            ends = (first + k, first + (k + 1) % len(runs))
            spans.append(_span(points, corners, run, index, ends, len(spans)))
    return Outline(polygon=polygon, rings=rings, corners=np.array(corners), spans=tuple(spans))


def _span(
    points: Array,
    corners: list[Array],
    run: tuple[tuple[int, ...], bool],
    ring: int,
    ends: tuple[int, int],
    number: int,
) -> Span:
    edges, is_curve = run
    steps = points[[(e + 1) % len(points) for e in edges]] - points[list(edges)]
    chord = max(float(np.hypot(*(corners[ends[1]] - corners[ends[0]]))), tolerance.LENGTH)
    is_round = len(edges) == len(points)
    factor = float(np.hypot(*steps.T).sum()) / chord if is_curve or is_round else 1.0
    return Span(
        letter=wall_letter(number),
        ring=ring,
        start=ends[0],
        end=ends[1],
        points=edges,
        factor=factor,
        is_curve=is_curve,
        is_round=is_round,
    )


def spans_between(walls: list[Span], start: int, end: int) -> Iterator[list[Span]]:
    """Both ways round a ring from one corner to another, as the walls that lie on them."""
    order = [wall.start for wall in walls]
    a, b = order.index(start), order.index(end)
    turned = walls[a:] + walls[:a]
    cut = (b - a) % len(walls)
    yield turned[:cut]
    yield turned[cut:]
