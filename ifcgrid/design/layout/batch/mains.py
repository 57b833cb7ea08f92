"""Which lines are mains, how long they are and which devices they cross, for many layouts at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.batch.axes import Axes
from ifcgrid.design.layout.ragged import expand, firsts, fold, pair_up, sum_up
from ifcgrid.domain import tolerance
from ifcgrid.domain.policy import Term

__all__ = ["Mains", "place_mains"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mains:
    """The best mains of layouts (k,): their phase, their length in mm, and how many devices they cross."""

    phase: _Ints
    length: _Floats
    crossed: _Ints


def place_mains(axes: tuple[Axes, Axes], case: _Ints, way: _Ints, offset: _Floats) -> Mains:
    """The best set of mains when the lines parallel to them lie at `offset` (k,) across them.

    At least one main where there is any line; fewest crossed devices and least length, in
    the policy's order; then symmetry, then the lowest phase.
    """
    phase, length = np.zeros(len(case), dtype=np.int64), np.zeros(len(case))
    crossed = np.zeros(len(case), dtype=np.int64)
    for number in (0, 1):
        own = np.flatnonzero(way == number)
        if len(own):
            found = _place(axes[number], axes[1 - number], case[own], number, offset[own])
            phase[own], length[own], crossed[own] = found.phase, found.length, found.crossed
    return Mains(phase=phase, length=length, crossed=crossed)


def _place(along: Axes, across: Axes, case: _Ints, way: int, offset: _Floats) -> Mains:
    cases, every = along.cases, along.cases.every
    module, span = across.module[case], across.cases.span[case, across.number]
    first = cases.first_line(case, across.number, offset, np.full(len(case), way == 1))
    counts = np.maximum(np.ceil((span - first - tolerance.LENGTH) / module).astype(np.int64) - 1, 0)
    owner, nth = expand(counts)
    at = first[owner] + (nth + 1) * module[owner]
    place = span[owner] - at if way else at
    length = _line_lengths(along, case[owner], place)
    row = owner * every + (nth + 1) % every
    total = sum_up(row, length, len(case) * every)
    crossing = np.zeros(len(owner))
    for number, holds in cases.holds.items():
        lines = np.flatnonzero(case[owner] == number)
        crossing[lines] = np.count_nonzero(holds[across.number].crossed_by(place[lines]), axis=0)
    crossed = sum_up(row, crossing, len(case) * every)
    skew = _skew(row, at, length, span, every)
    terms = cases.policy.terms
    keys = [crossed, np.round(total)]
    if (
        Term.MAINS in terms
        and Term.FIXTURES in terms
        and terms.index(Term.MAINS) < terms.index(Term.FIXTURES)
    ):
        keys.reverse()
    layout, phase = expand(np.full(len(case), every))
    order = np.lexsort((phase, np.round(skew), keys[1], keys[0], total == 0.0, layout))
    best = order[::every]
    return Mains(phase=phase[best], length=total[best], crossed=crossed[best].astype(np.int64))


def _skew(row: _Ints, at: _Floats, length: _Floats, span: _Floats, every: int) -> _Floats:
    """How far the mains of each row are from lying symmetric in the span."""
    own = np.flatnonzero(length > 0.0)
    order = own[np.argsort(row[own], kind="stable")]
    counts = np.bincount(row[own], minlength=len(span) * every)
    low = fold(np.minimum, at[order], counts, 0.0)
    high = fold(np.maximum, at[order], counts, 0.0)
    skew: _Floats = np.where(counts > 0, np.abs(low + high - np.repeat(span, every)), 0.0)
    return skew


def _line_lengths(axes: Axes, case: _Ints, at: _Floats) -> _Floats:
    """Length of lines (n,) inside their rooms; what runs along a wall does not count."""
    chords, beside = axes.chords, 2 * tolerance.LENGTH
    owner, chord = pair_up(case, firsts(axes.chord_count), axes.chord_count)
    low, high, place = chords.low[chord], chords.high[chord], at[owner]
    meets = (low < place + beside) & (high > place - beside)
    owner, chord, low, high, place = owner[meets], chord[meets], low[meets], high[meets], place[meets]
    near = 1.5 * tolerance.LENGTH
    is_inside = (low < place - near) & (high > place + near)
    length = sum_up(owner[is_inside], chords.width[chord[is_inside], 0], len(at))
    edged = np.ones(len(at), dtype=bool)
    edged[owner[is_inside]] = False
    edged = edged[owner]
    if not edged.any():
        return length
    # On a wall's height only what is open on both sides counts.
    above = edged & (low < place + beside) & (high > place + beside)
    below = np.flatnonzero(edged & (low < place - beside) & (high > place - beside))
    counts = np.bincount(owner[below], minlength=len(at))
    one, other = pair_up(owner[above], firsts(counts), counts)
    line = owner[above][one]
    one, other = chord[above][one], chord[below][other]
    overlap = np.minimum(chords.right_s[one, 0], chords.right_s[other, 0])
    overlap -= np.maximum(chords.left_s[one, 0], chords.left_s[other, 0])
    return length + sum_up(line, np.maximum(overlap, 0.0), len(at))
