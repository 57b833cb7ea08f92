"""Where mains are cut and spliced, so that a rout hole falls on every cross-tee line.

The first main of a run is cut at its start: of the holes at o + k p from its factory end the
first one that is not nearer to the wall than the first tee line comes to stand on it. Full
lengths follow, and the last one is cut at the wall. Holes stay on tee lines as long as the
pitch divides the module and the stock length. What is cut off at a run's end still has its
far factory end and can start another run, cut on by less than a pitch to the same phase.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from ifcgrid.domain import tolerance
from ifcgrid.domain.scheme import Cutting

__all__ = ["MainCut", "MainCutter", "MainRun", "first_cut"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MainRun:
    """One run of a main: its line, its start along it and its length between the walls, in mm.

    `first_line` is how far from its start the first tee line is, None when none crosses it.
    """

    line: int
    start: float
    length: float
    first_line: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MainCut:
    """One piece of a run: from `start` to `end` along the run, out of stock part `stock` at `stock_start`."""

    start: float
    end: float
    stock: int
    stock_start: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """A way to cut a run: the stock part it begins with (None: a new one), where on it, and its cost.

    The cost counts pieces that are too short, splices too near to a neighbour's, new stock
    parts, whether an off-cut saves none, what it is long, and what is cut off on top, in this order.
    """

    cost: tuple[int, int, int, bool, float, float]
    stock: int | None
    at: float


def first_cut(first_line: float, cutting: Cutting, least: float = 0.0) -> float:
    """Where to cut a stock main, in mm from its factory start, no nearer to it than `least`.

    `first_line` is the way from the cut to the first tee line: the least x = o + k p -
    first_line for holes at o + k p, k = 0, 1, ...
    """
    k = tolerance.ceil_div(first_line + least - cutting.first_hole, cutting.hole_pitch)
    return cutting.first_hole + max(k, 0) * cutting.hole_pitch - first_line


@dataclass(slots=True)
class MainCutter:
    """Cuts one run after the other and keeps what is left over and where splices stand."""

    cutting: Cutting
    stock_length: float
    spacing: int
    """Neighbouring mains are this many lines apart."""
    used: int = 0
    offcuts: list[tuple[float, int]] = field(default_factory=list)
    """Where what is left of a stock part begins, and which part it is."""
    chain: dict[int, int] = field(default_factory=dict)
    """How many runs before it began with an off-cut of one another, by stock part."""
    splices: dict[int, list[float]] = field(default_factory=dict)
    short: int = 0
    crowded: int = 0

    def cut(self, run: MainRun) -> list[MainCut]:
        """The pieces of a run, from its start to its end."""
        length = run.length - 2 * self.cutting.end_gap
        if length < tolerance.SHORTEST_MEMBER:  # nothing is left between the gaps
            return [MainCut(start=0.0, end=run.length, stock=self._new(), stock_start=0.0)]
        way = min(self._ways(run, length), key=lambda way: way.cost)
        self.short += way.cost[0]
        self.crowded += way.cost[1]
        stock = self._new() if way.stock is None else way.stock
        if way.stock is not None:
            self.offcuts = [rest for rest in self.offcuts if rest[1] != stock]
        link = self.chain.get(stock, 0)
        pieces = []
        place, at = self.cutting.end_gap, way.at
        end = place + length
        for reach in [*self._joints(length, way.at), length]:
            piece_end = min(self.cutting.end_gap + reach, end)
            pieces.append(MainCut(start=place, end=piece_end, stock=stock, stock_start=at))
            rest = at + piece_end - place
            place, at = piece_end, 0.0
            if piece_end < end:
                stock = self._new()
                self.chain[stock] = link + 1
        is_long = self.stock_length - rest >= max(self.cutting.least_piece, tolerance.SHORTEST_MEMBER)
        if is_long and self.chain.get(stock, 0) <= self.cutting.offcut_chain:
            self.offcuts.append((rest, stock))
        self.splices.setdefault(run.line, []).extend(run.start + piece.end for piece in pieces[:-1])
        return pieces

    def _new(self) -> int:
        self.used += 1
        return self.used - 1

    def _joints(self, length: float, at: float) -> list[float]:
        """Splices along a length whose first part begins at a place of its stock."""
        count = tolerance.ceil_div(length + at, self.stock_length) - 1
        return [k * self.stock_length - at for k in range(1, count + 1)]

    def _ways(self, run: MainRun, length: float) -> list[_Way]:
        sources: list[tuple[float, int | None]] = [(0.0, None)]
        sources += self.offcuts
        ways = []
        for least, stock in sources:
            base = self._base(run, least)
            while base < self.stock_length - tolerance.SHORTEST_MEMBER:
                ways.append(self._judge(run, length, base, least, stock))
                if ways[-1].cost[:2] == (0, 0):  # cutting off more would only cost more
                    break
                base += self.cutting.hole_pitch
        return ways or [self._judge(run, length, 0.0, 0.0, None)]

    def _base(self, run: MainRun, least: float) -> float:
        if run.first_line is None:
            return least
        first = run.first_line - self.cutting.end_gap
        return first_cut(first, self.cutting, least)

    def _judge(self, run: MainRun, length: float, at: float, least: float, stock: int | None) -> _Way:
        joints = self._joints(length, at)
        sizes = [b - a for a, b in zip([0.0, *joints], [*joints, length], strict=True)] if joints else []
        short = sum(tolerance.is_less(size, self.cutting.least_piece) for size in sizes)
        gap = run.start + self.cutting.end_gap
        crowded = self._count_crowded(run.line, [gap + joint for joint in joints])
        new = len(joints) + (stock is None)
        plain = tolerance.ceil_div(length + self._base(run, 0.0), self.stock_length)
        is_idle = stock is not None and new >= plain
        return _Way(
            cost=(short, crowded, new, is_idle, self.stock_length - least, at - least), stock=stock, at=at
        )

    def _count_crowded(self, line: int, joints: Sequence[float]) -> int:
        near = [
            other
            for neighbour in (line - self.spacing, line + self.spacing)
            for other in self.splices.get(neighbour, ())
        ]
        return sum(
            any(tolerance.is_less(abs(joint - other), self.cutting.stagger) for other in near)
            for joint in joints
        )
