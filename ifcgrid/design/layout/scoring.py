"""How layouts are compared: term after term, and the terms that need whole layouts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.coverage import Coverage, measure_cells
from ifcgrid.design.layout.offsets import Axis
from ifcgrid.design.layout.piece_width import find_shape, widths_in_cells
from ifcgrid.design.layout.walls import Chords, Edges
from ifcgrid.domain import tolerance
from ifcgrid.domain.policy import Term

__all__ = [
    "Mains",
    "best_rows",
    "equal_within",
    "lost_on",
    "measure_joint",
    "measure_oblique",
    "place_mains",
    "rank_rows",
]

_Floats = NDArray[np.float64]
_Bools = NDArray[np.bool_]

_MOST_CELLS = 1_000_000
"""Cells that are covered in one go, to bound the memory."""

_EQUAL = {
    Term.CUT_PANELS: 0.5,
    Term.FIXTURES: 0.5,
    Term.MAINS: tolerance.SHORTEST_MEMBER,
    Term.OBLIQUE_PIECES: tolerance.LENGTH,
}


def equal_within(term: Term) -> float:
    """Difference up to which two scores of a term are equal."""
    return _EQUAL.get(term, tolerance.SCORE)


def best_rows(scores: _Floats, terms: Sequence[Term]) -> _Bools:
    """Which rows of scores (n, terms) no other row beats, term after term; equal ones all stay."""
    stays = np.ones(len(scores), dtype=bool)
    for column, term in enumerate(terms):
        stays &= scores[:, column] <= scores[stays, column].min() + equal_within(term)
    return stays


def rank_rows(scores: _Floats, terms: Sequence[Term]) -> NDArray[np.int64]:
    """Row numbers of scores (n, terms) from best to worst; equal ones keep their order."""
    steps = np.array([equal_within(term) for term in terms])
    keys = np.round(scores / steps)
    order: NDArray[np.int64] = np.lexsort(keys.T[::-1])
    return order


def lost_on(scores: Sequence[float], winner: Sequence[float], terms: Sequence[Term]) -> Term | None:
    """The first term on which scores differ from the winner's; None when they are equal."""
    for term, own, best in zip(terms, scores, winner, strict=True):
        if abs(own - best) > equal_within(term):
            return term
    return None


def measure_joint(
    edges: Edges, oblique: _Bools, axes: tuple[Axis, Axis], offsets: _Floats, area: float
) -> dict[Term, _Floats]:
    """The terms that only whole layouts have, at offsets (k, 2): cut panels, waste, oblique pieces."""
    module = (axes[0].module, axes[1].module)
    cells = float(np.prod(np.ceil([axis.span / axis.module for axis in axes]) + 2))
    step = max(int(_MOST_CELLS / cells), 1)
    cut, bought, short = [], [], []
    for begin in range(0, len(offsets), step):
        chunk = offsets[begin : begin + step]
        marked = oblique if oblique.any() else None
        coverage = measure_cells(edges.start, edges.end, module, chunk, marked=marked)
        cut.append(coverage.cut)
        bought.append((coverage.cut + coverage.full) * module[0] * module[1])
        short.append(_shortfalls(coverage, (axes[0].minimum, axes[1].minimum)))
    return {
        Term.CUT_PANELS: np.concatenate(cut).astype(float),
        Term.WASTE: (np.concatenate(bought) - area) / 1e6,
        Term.OBLIQUE_PIECES: np.concatenate(short),
    }


def _shortfalls(coverage: Coverage, minimum: tuple[float, float]) -> _Floats:
    """Shortfalls of the pieces at marked edges, summed for each offset, by their bounding boxes.

    A bounding box is never narrower than its piece, so no piece falls less short than this.
    """
    pieces, count = coverage.pieces, len(coverage.area)
    if pieces is None:
        return np.zeros(count)
    area = coverage.area[pieces.offset, pieces.row, pieces.column]
    counts = pieces.is_marked & (area >= tolerance.PIECE_AREA)
    missing = np.maximum(min(minimum) - pieces.extent[counts].min(axis=1), 0.0)
    short: _Floats = np.bincount(pieces.offset[counts], weights=missing, minlength=count).astype(float)
    return short


def measure_oblique(edges: Edges, oblique: _Bools, axes: tuple[Axis, Axis], offsets: _Floats) -> _Floats:
    """The term of oblique pieces at offsets (k, 2), every piece measured at its narrowest passage."""
    if not oblique.any():
        return np.zeros(len(offsets))
    module = (axes[0].module, axes[1].module)
    coverage = measure_cells(edges.start, edges.end, module, offsets, marked=oblique)
    pieces = coverage.pieces
    assert pieces is not None
    area = coverage.area[pieces.offset, pieces.row, pieces.column]
    own = np.flatnonzero(pieces.is_marked & (area >= tolerance.PIECE_AREA))
    layout = pieces.offset[own]
    low = coverage.corners(offsets, layout, pieces.row[own], pieces.column[own])
    width = widths_in_cells(find_shape(edges), low, module)
    # A piece of parts that are all scraps is none.
    missing = np.where(width > 0.0, np.maximum(min(axes[0].minimum, axes[1].minimum) - width, 0.0), 0.0)
    short: _Floats = np.bincount(layout, weights=missing, minlength=len(offsets)).astype(float)
    return short


@dataclass(frozen=True, slots=True, kw_only=True)
class Mains:
    """The best set of lines to be mains: which phase, their length, how many devices they cross."""

    phase: int
    length: float
    crossed: int


def place_mains(
    chords: Chords,
    fixtures: _Floats,
    first: float,
    module: float,
    every: int,
    span: float,
    phases: Sequence[int] | None = None,
) -> Mains:
    """Choose which lines parallel to the mains are mains.

    Line j lies at `first + j * module` for v from 0 to `span`; line 0 is the last one at or
    before v = 0. `chords` run along the mains with their heights in v, `fixtures` (n, 2)
    are devices' ranges in v. Fewest crossed devices win, then at least one main where
    there is any line, then least length, then symmetry, then the lowest phase; only `phases`
    are looked at when they are given.
    """
    count = tolerance.ceil_div(span - first, module) - 1
    at: _Floats = first + np.arange(1, count + 1, dtype=float) * module
    length = _line_lengths(chords, at)
    slack = tolerance.LAY_IN_SHIFT
    crossing = (fixtures[:, :1] + slack < at) & (fixtures[:, 1:] - slack > at)
    choices = []
    for phase in range(every) if phases is None else phases:
        own = np.arange(1, count + 1) % every == phase
        total = float(length[own].sum())
        lines = at[own & (length > 0)]
        skew = abs(float(lines[0] + lines[-1] - span)) if len(lines) else 0.0
        choices.append((int(crossing[:, own].sum()), total == 0.0, round(total), round(skew), phase, total))
    crossed, _, _, _, phase, total = min(choices)
    return Mains(phase=phase, length=total, crossed=crossed)


def _line_lengths(chords: Chords, at: _Floats) -> _Floats:
    """Length of each line t = at (n,) inside the room; what runs along a wall does not count."""
    hair = 1.5 * tolerance.LENGTH
    whole = (chords.low < at[:, None] - hair) & (chords.high > at[:, None] + hair)
    share = (at[:, None] - chords.low) / chords.height
    width = chords.width[:, 0] + share * (chords.width[:, 1] - chords.width[:, 0])
    length: _Floats = np.where(whole, width, 0.0).sum(axis=1)
    levels = np.unique(np.concatenate([chords.low, chords.high]))
    near = np.abs(at[:, None] - levels).min(axis=1, initial=np.inf) <= hair
    for line in np.flatnonzero(near).tolist():
        length[line] = _common_length(
            _section(chords, at[line] - 2 * hair), _section(chords, at[line] + 2 * hair)
        )
    return length


def _section(chords: Chords, t: float) -> _Floats:
    """Ranges (n, 2) of the room on the line at t."""
    cut = (chords.low < t) & (chords.high > t)
    share = (t - chords.low[cut]) / chords.height[cut]
    ends = [side[cut, 0] + share * (side[cut, 1] - side[cut, 0]) for side in (chords.left_s, chords.right_s)]
    return np.stack(ends, axis=1)


def _common_length(first: _Floats, second: _Floats) -> float:
    low = np.maximum(first[:, None, 0], second[None, :, 0])
    high = np.minimum(first[:, None, 1], second[None, :, 1])
    return float(np.maximum(high - low, 0.0).sum())
