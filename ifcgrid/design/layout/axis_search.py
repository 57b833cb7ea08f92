"""The best offsets of one direction of a room with tapering, oblique or curved walls.

Between neighbouring breakpoints every separable term is at most quadratic in the offset:
strips change in straight lines, and the mean difference along tapering walls is the
integral of such a line. Three values give the parabola and so its least; nothing need be
scanned. Rooms with very many breakpoints are scanned all the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.offsets import Axis
from ifcgrid.design.layout.scoring import best_rows, rank_rows
from ifcgrid.domain import tolerance
from ifcgrid.domain.policy import Term

__all__ = ["Found", "search_axis", "term_matrix"]

_Floats = NDArray[np.float64]
_Bools = NDArray[np.bool_]

_MOST_BREAKS = 1500
"""Breakpoints of one direction up to which every stretch between them is looked at."""

_SCAN = 128
"""Offsets a module on stretches that are equally good, and in rooms with too many breakpoints."""

_ZOOM = 8
"""How much finer each following scan is, and how many places it looks at."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """Offsets (n,) tried in one direction, which of them are best, and what that proves.

    `is_proved`: no offset between them is better on the terms asked for; `is_closed`: nor
    are there any as good that are not among them.
    """

    offsets: _Floats
    is_best: _Bools
    is_proved: bool
    is_closed: bool


def term_matrix(scores: dict[Term, _Floats], terms: Sequence[Term]) -> _Floats:
    """Scores as a matrix (n, terms)."""
    return np.stack([scores[term] for term in terms], axis=1)


def search_axis(axis: Axis, prefix: Sequence[Term]) -> Found:
    """The best offsets of one direction on the leading separable terms `prefix`."""
    if not prefix:
        scan = np.concatenate([axis.critical(), _steps(axis)])
        return Found(offsets=scan, is_best=np.ones(len(scan), dtype=bool), is_proved=True, is_closed=False)
    breaks = _breakpoints(axis)
    if len(breaks) > _MOST_BREAKS:
        return _scan(axis, prefix)
    low, high = breaks, np.append(breaks[1:], breaks[0] + axis.module)
    open_to = axis.is_clear(np.mod((low + high) / 2, axis.module)) & (high - low > 10 * tolerance.SCORE)
    low, high = low[open_to], high[open_to]
    inner = _inner(low, high)
    offsets = np.concatenate([breaks, np.mod(inner.ravel(), axis.module)])
    if Term.EQUAL_BORDERS in prefix:
        offsets = np.concatenate([offsets, _vertices(axis, low, high, inner)])
    is_best = best_rows(term_matrix(axis.score(offsets), prefix), prefix)
    # Where all places in a stretch are equally good, more of them are carried on.
    level = is_best[len(breaks) : len(breaks) + inner.size].reshape(inner.shape)[:, 1:-1].all(axis=1)
    more = _spread(axis, low[level], high[level])
    return Found(
        offsets=np.concatenate([offsets, more]),
        is_best=np.concatenate([is_best, np.ones(len(more), dtype=bool)]),
        is_proved=True,
        is_closed=not level.any(),
    )


def _steps(axis: Axis) -> _Floats:
    scan: _Floats = np.arange(_SCAN, dtype=float) * (axis.module / _SCAN)
    clear: _Floats = scan[axis.is_clear(scan)]
    return clear


def _breakpoints(axis: Axis) -> _Floats:
    """Critical offsets, the ends of the places from which lines keep clear, and where parabolas meet."""
    away = 2 * tolerance.LENGTH
    ends = axis.mirrored_span.ravel()
    # Halfway between a joint and a panel's middle the difference of borders turns round.
    turns = axis.mirrored.ravel() + axis.module / 4
    found = [axis.critical(), axis.places - away, axis.places + away, ends, ends + tolerance.LENGTH]
    found += [turns, turns + axis.module / 2]
    breaks = np.unique(np.mod(np.concatenate(found), axis.module))
    breaks = breaks[np.concatenate([[True], np.diff(breaks) > tolerance.SCORE / 10])]
    clear: _Floats = breaks[axis.is_clear(breaks)]
    return clear


def _inner(low: _Floats, high: _Floats) -> _Floats:
    """Five places (n, 5) inside each stretch: a hair from its ends, and three between."""
    run = high - low
    hair = np.full(len(low), tolerance.SCORE)
    return np.stack([low + hair, low + run / 4, low + run / 2, high - run / 4, high - hair], axis=1)


def _vertices(axis: Axis, low: _Floats, high: _Floats, inner: _Floats) -> _Floats:
    """Where the parabolas of unequal borders are least, for those stretches inside which that is."""
    places = np.mod(inner[:, 1:4].ravel(), axis.module)
    first, middle, last = axis.score(places)[Term.EQUAL_BORDERS].reshape(-1, 3).T
    step = (high - low) / 4
    bend = first - 2 * middle + last
    is_bowl = bend > tolerance.SCORE / 10
    vertex = inner[:, 2] + np.where(is_bowl, (first - last) / np.where(is_bowl, 2 * bend, 1.0), 0.0) * step
    found = np.mod(vertex[is_bowl & (vertex > low) & (vertex < high)], axis.module)
    clear: _Floats = found[axis.is_clear(found)]
    return clear


def _spread(axis: Axis, low: _Floats, high: _Floats) -> _Floats:
    step = axis.module / _SCAN
    places = [np.arange(a + step / 2, b, step) for a, b in zip(low.tolist(), high.tolist(), strict=True)]
    spread: _Floats = np.mod(np.concatenate(places), axis.module) if places else np.zeros(0)
    return spread


def _scan(axis: Axis, prefix: Sequence[Term]) -> Found:
    """A scan of the module, then finer ones around the best places."""
    step = axis.module / _SCAN
    offsets = np.concatenate([axis.critical(), _steps(axis)])
    scores = term_matrix(axis.score(offsets), prefix)
    while step > tolerance.SEARCH_STEP:
        top = offsets[rank_rows(scores, prefix)[:_ZOOM]]
        step /= _ZOOM
        finer = np.unique(np.mod(top[:, None] + np.arange(-_ZOOM, _ZOOM + 1) * step, axis.module))
        finer = finer[axis.is_clear(finer)]
        offsets = np.concatenate([offsets, finer])
        scores = np.concatenate([scores, term_matrix(axis.score(finer), prefix)])
    return Found(offsets=offsets, is_best=best_rows(scores, prefix), is_proved=False, is_closed=False)
