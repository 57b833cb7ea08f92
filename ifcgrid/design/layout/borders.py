"""What a chosen layout leaves along each wall, and the sentence that tells it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.coverage import measure_cells
from ifcgrid.design.layout.lattice import Lattice
from ifcgrid.design.layout.piece_width import find_shape, widths_in_cells
from ifcgrid.domain import tolerance
from ifcgrid.domain.layout import Border
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.units import format_mm
from ifcgrid.domain.wall_runs import wall_letter, wall_runs

__all__ = [
    "Judged",
    "explain_borders",
    "explain_judged",
    "list_borders",
    "list_narrow",
    "narrow_of",
]

_Floats = NDArray[np.float64]


def list_borders(lattice: Lattice, way: int, offset: tuple[float, float]) -> tuple[Border, ...]:
    """The strip along every edge of every ring, by ring and edge."""
    edges = lattice.plan.edges
    smallest = min(axis.module for axis in lattice.axes)
    least, greatest = np.full((2, len(edges)), smallest, dtype=float)
    number = np.full(len(edges), -1)
    for axis in lattice.axes:
        for strips in (axis.borders, axis.returns, axis.notches):
            width = strips.widths(np.array([offset[axis.number]]), axis.module)[0]
            taper = strips.high - strips.low
            wide = np.where(width > 0, width + taper, axis.module)
            least[strips.edge] = np.minimum(width, strips.chord_least)
            greatest[strips.edge] = np.minimum(np.minimum(wide, axis.module), strips.chord)
            number[strips.edge] = axis.number
    rest = number < 0
    if rest.any():
        _measure_rest(lattice, offset, rest, least, greatest, number)
    names = {0: "v" if way else "u", 1: "u" if way else "v", -1: "oblique"}
    world = [lattice.plan.frame.to_world(p) for p in (edges.start, edges.end)]
    borders = []
    for k in np.lexsort((edges.index, edges.ring)).tolist():
        first, last = (world[1][k], world[0][k]) if edges.is_reversed[k] else (world[0][k], world[1][k])
        borders.append(
            Border(
                ring=int(edges.ring[k]),
                edge=int(edges.index[k]),
                start=(float(first[0]), float(first[1])),
                end=(float(last[0]), float(last[1])),
                length=float(edges.length[k]),
                axis=names[int(number[k])],
                least=float(least[k]),
                greatest=float(greatest[k]),
            )
        )
    return tuple(borders)


def _measure_rest(
    lattice: Lattice,
    offset: tuple[float, float],
    rest: NDArray[np.bool_],
    least: _Floats,
    greatest: _Floats,
    number: NDArray[np.int64],
) -> None:
    """Fill in edges without a strip from the pieces that they bound, each at its narrowest passage."""
    edges = lattice.plan.edges
    module = (lattice.axes[0].module, lattice.axes[1].module)
    coverage = measure_cells(edges.start, edges.end, module, np.array([offset]), marked=rest)
    pieces = coverage.pieces
    assert pieces is not None
    area = coverage.area[pieces.offset, pieces.row, pieces.column]
    run = np.abs(edges.end - edges.start)
    slope = np.degrees(np.arctan2(run.min(axis=1), run.max(axis=1)))
    at = coverage.corners(np.array([offset]), pieces.offset, pieces.row, pieces.column)
    width = widths_in_cells(find_shape(edges), at, module)
    for k in np.flatnonzero(rest).tolist():
        if slope[k] <= 20.0:
            number[k] = int(run[k, 0] > run[k, 1])
        cells = np.unique(pieces.cell[pieces.edge == k])
        sizes = width[cells[(area[cells] >= tolerance.PIECE_AREA) & (width[cells] > 0.0)]]
        if len(sizes):
            least[k], greatest[k] = sizes.min(), sizes.max()


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """How the borders of a layout are judged, in their order.

    `kinds` holds "border" for long walls, "return" for columns, holes and short returns,
    "notch" for returns that lie within one border panel, "" for edges without a strip;
    `along` and `across` are the least borders along and across the mains in mm.
    """

    kinds: tuple[str, ...]
    along: float
    across: float

    def minimum(self, axis: str) -> float:
        """The least border in a direction, "u", "v" or "oblique"."""
        return {"u": self.along, "v": self.across}.get(axis, min(self.along, self.across))


def judged_by(lattice: Lattice, way: int) -> Judged:
    """How the borders of a lattice's layouts are judged."""
    edges = lattice.plan.edges
    kinds = np.full(len(edges), "", dtype="<U6")
    for axis in lattice.axes:
        for name, strips in (("border", axis.borders), ("return", axis.returns), ("notch", axis.notches)):
            kinds[strips.edge] = name
    return Judged(
        kinds=tuple(kinds[np.lexsort((edges.index, edges.ring))].tolist()),
        along=lattice.axes[way].minimum,
        across=lattice.axes[1 - way].minimum,
    )


def list_narrow(
    lattice: Lattice, way: int, borders: Sequence[Border], *, beside: bool = False
) -> tuple[Border, ...]:
    """The borders of a lattice's layout below the minimum; judged as in `narrow_of`."""
    return narrow_of(judged_by(lattice, way), borders, beside=beside)


def narrow_of(judged: Judged, borders: Sequence[Border], *, beside: bool = False) -> tuple[Border, ...]:
    """The borders below the minimum, the one that falls furthest short first.

    Judged are the walls and oblique edges of the outer ring; with `beside` the edges of
    columns, holes and short returns instead. Returns that lie within one border panel only
    notch it and are not judged.
    """
    short = []
    for k, (border, kind) in enumerate(zip(borders, judged.kinds, strict=True)):
        is_beside = kind == "return" or border.ring > 0
        minimum = judged.minimum(border.axis)
        if kind != "notch" and is_beside == beside and tolerance.is_less(border.least, minimum):
            short.append((border.least - minimum, k))
    return tuple(borders[k] for _, k in sorted(short))


def explain_borders(
    lattice: Lattice, way: int, borders: Sequence[Border], policy: Policy, *, is_exact: bool
) -> str:
    """One sentence on a lattice's layout, as `explain_judged` makes it."""
    return explain_judged(judged_by(lattice, way), borders, policy, is_exact=is_exact)


def explain_judged(judged: Judged, borders: Sequence[Border], policy: Policy, *, is_exact: bool) -> str:
    """One sentence: the borders in both directions, and which minimum holds or cannot be met and where."""
    keys = {(b.ring, b.edge) for b, kind in zip(borders, judged.kinds, strict=True) if kind == "border"}
    ranges = []
    for name, words in (("u", "along"), ("v", "across")):
        widths = [b.least for b in borders if b.axis == name and (b.ring, b.edge) in keys]
        if widths:
            low, high = format_mm(min(widths)), format_mm(max(widths))
            size = high if low == high else f"{low.removesuffix(' mm')} to {high}"
            ranges.append(f"{size} {words}")
    if ranges:
        text = f"borders {' and '.join(ranges)} the mains"
    else:
        least = min(b.least for b in borders if b.ring == 0)
        text = f"no wall runs along the grid, the narrowest piece at its walls measures {format_mm(least)}"
    narrow = narrow_of(judged, borders)
    if narrow:
        is_strip = (narrow[0].ring, narrow[0].edge) in keys
        wall, minimum = _letter(borders, narrow[0]), _minimum_words(judged, policy)
        text += f"; {_blame(narrow[0], wall, minimum, is_strip=is_strip, is_exact=is_exact)}"
    elif max(judged.along, judged.across) > 0:
        text += f", nothing narrower than {_minimum_words(judged, policy)}"
    beside = narrow_of(judged, borders, beside=True)
    if beside:
        text += f"; down to {format_mm(beside[0].least)} beside columns and short returns"
    return text


def _minimum_words(judged: Judged, policy: Policy) -> str:
    sizes = sorted({format_mm(m) for m in (judged.along, judged.across)}, key=lambda s: (len(s), s))
    words = " and ".join(sizes)
    if policy.minimum_length is not None:
        return words
    return f"half a module ({words})" if policy.minimum_fraction == 0.5 else f"the minimum ({words})"


def _letter(borders: Sequence[Border], border: Border) -> str:
    """The letter that drawings give the wall of a border: the outer ring's walls first, then the holes'."""
    before = 0
    for ring in range(border.ring + 1):
        own = [b for b in borders if b.ring == ring]
        walls = [run for run, _ in wall_runs(np.array([b.start for b in own]))]
        if ring == border.ring:
            place = own.index(border)
            return wall_letter(before + next(k for k, run in enumerate(walls) if place in run))
        before += len(walls)
    raise AssertionError("a border lies on one of the rings")


def _blame(narrow: Border, letter: str, minimum: str, *, is_strip: bool, is_exact: bool) -> str:
    wall = f"at wall {letter}"
    if is_strip:
        best = "the best possible" if is_exact else "the best found"
        return f"{minimum} cannot be met: {format_mm(narrow.least)} {wall} is {best}"
    return f"pieces {wall} go down to {format_mm(narrow.least)}, less than {minimum}"
