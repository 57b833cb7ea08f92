"""The search for the best offsets of one lattice in one direction of a room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.axis_search import Found, search_axis, term_matrix
from ifcgrid.design.layout.batch import Straight, search_straight
from ifcgrid.design.layout.lattice import Lattice
from ifcgrid.design.layout.offsets import SEPARABLE, Axis
from ifcgrid.design.layout.scoring import best_rows, equal_within, measure_joint, measure_oblique, rank_rows
from ifcgrid.domain import tolerance
from ifcgrid.domain.policy import Term

__all__ = ["Outcome", "Trials", "search", "try_offsets"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

_MOST_TIES = 24
"""Equally good offsets a direction that are carried into the joint terms."""

_MOST_FINALS = 48
"""Layouts whose oblique pieces are measured at their narrowest passage."""

_BASINS = 8
"""Places that are looked at more closely in each of these scans."""

_APART = 25
"""A runner-up worth telling about lies at least this part of a module beside the winner."""

_JOINT_ROUNDS = 3
"""Scans of both offsets at once, each four times finer."""


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

    `tried` counts layouts, `resolution` is the finest step in mm (0 where nothing was
    scanned). `gap` is what is left to gain in `gap_term`, the first term that is not
    proved: 0.0 and "" where all are, None where it is not known.
    """

    lattice: Lattice
    best: Trials
    others: Trials
    tried: int
    resolution: float
    gap: float | None
    gap_term: str

    @property
    def is_exact(self) -> bool:
        """Whether the walls run along the lattice and no other layout is better."""
        return self.lattice.is_rectilinear and self.gap == 0.0


def search(lattice: Lattice, kept: tuple[float | None, float | None] = (None, None)) -> Outcome:
    """The best offsets, ways and phases of a lattice under its policy.

    Where all walls run along the lattice this is exact. Else the policy's leading separable
    terms are solved in each direction on its own; what is equally good there meets in the
    joint terms. `kept` are offsets along x and y that are given and not searched.
    """
    if lattice.is_rectilinear:
        return _from_straight(lattice, search_straight(lattice, kept), kept)
    terms = lattice.policy.terms
    prefix = _leading_terms(terms, has_oblique=bool(lattice.oblique.any()))
    later = [term for term in terms if term in SEPARABLE and term not in prefix]
    found = [
        search_axis(axis, prefix) if place is None else _given(place % axis.module)
        for axis, place in zip(lattice.axes, kept, strict=True)
    ]
    whole = [np.unique(f.offsets[f.is_best]) for f in found]
    ties = [_thin(axis, offsets, later) for axis, offsets in zip(lattice.axes, whole, strict=True)]
    tried = len(found[0].offsets) * len(found[1].offsets) * len(lattice.ways)
    trials = try_offsets(lattice, _product(*ties))
    finest = tolerance.SEARCH_STEP
    if max(len(t) for t in ties) > 1 and not all(f.is_closed for f in found):
        trials, finest = _zoom_joint(lattice, trials, ties)
        tried += len(trials.way)
    best, is_complete = _choose(lattice, trials)
    is_closed = all(f.is_closed for f in found) and is_complete
    is_closed &= all(len(w) == len(t) for w, t in zip(whole, ties, strict=True))
    gap, gap_term = _bound(terms, prefix, best.scores[0], found, is_closed=is_closed)
    return Outcome(
        lattice=lattice,
        best=best,
        others=_rejected(lattice, best, [f.offsets for f in found], prefix, kept),
        tried=tried,
        resolution=finest,
        gap=gap,
        gap_term=gap_term,
    )


def _from_straight(lattice: Lattice, straight: Straight, kept: tuple[float | None, float | None]) -> Outcome:
    best = Trials(way=straight.way, phase=straight.phase, offset=straight.offset, scores=straight.scores)
    return Outcome(
        lattice=lattice,
        best=best,
        others=_rejected(lattice, best, straight.compared, straight.prefix, kept),
        tried=straight.tried,
        resolution=0.0 if straight.gap == 0.0 else tolerance.LENGTH,
        gap=straight.gap,
        gap_term=straight.gap_term,
    )


def _given(place: float) -> Found:
    return Found(offsets=np.array([place]), is_best=np.ones(1, dtype=bool), is_proved=True, is_closed=True)


def _choose(lattice: Lattice, trials: Trials) -> tuple[Trials, bool]:
    """The best layouts, and whether every rival in the last terms was measured truly.

    The scan took oblique pieces for their bounding boxes; the best of it are measured again.
    """
    terms = lattice.policy.terms
    is_complete = len(trials.way) <= _MOST_FINALS
    if lattice.oblique.any() and Term.OBLIQUE_PIECES in terms:
        trials = _measured_truly(lattice, trials.pick(rank_rows(trials.scores, terms)[:_MOST_FINALS]))
    best = trials.pick(best_rows(trials.scores, terms))
    return best.pick(_tie_order(lattice, best)), is_complete


def _measured_truly(lattice: Lattice, trials: Trials) -> Trials:
    """The trials with their oblique pieces measured at the narrowest passage."""
    terms = lattice.policy.terms
    if Term.OBLIQUE_PIECES not in terms or len(trials.way) == 0:
        return trials
    places, index = np.unique(trials.offset, axis=0, return_inverse=True)
    score = measure_oblique(lattice.plan.edges, lattice.oblique, lattice.axes, places)
    scores = trials.scores.copy()
    scores[:, terms.index(Term.OBLIQUE_PIECES)] = score[index.ravel()]
    return replace(trials, scores=scores)


def _bound(
    terms: Sequence[Term],
    prefix: Sequence[Term],
    scores: _Floats,
    found: Sequence[Found],
    *,
    is_closed: bool,
) -> tuple[float | None, str]:
    """What is left to gain, and the first term in which it is not proved to be nothing."""
    if not all(f.is_proved for f in found):
        return None, next((term.value for term in terms if term in prefix), "")
    if is_closed:
        return 0.0, ""
    for term, score in zip(terms, scores.tolist(), strict=True):
        if term in prefix:
            continue
        if term is not Term.OBLIQUE_PIECES:
            return None, term.value
        # No layout has less than nothing of it.
        if score > equal_within(term):
            return float(score), term.value
    return 0.0, ""


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


def _thin(axis: Axis, offsets: _Floats, later: Sequence[Term]) -> _Floats:
    """At most `_MOST_TIES` of the offsets: those best on the later terms, the others evenly spread."""
    offsets = np.unique(offsets)
    if len(offsets) <= _MOST_TIES:
        return offsets
    apart = np.concatenate([[True], np.diff(offsets) > tolerance.LENGTH])
    if np.count_nonzero(apart) <= _MOST_TIES and not later:
        distinct: _Floats = offsets[apart]
        return distinct
    first = rank_rows(term_matrix(axis.score(offsets), later), later)[:4] if later else np.arange(1)
    wanted = np.linspace(offsets[0], offsets[-1], _MOST_TIES - len(first))
    spread = np.abs(offsets[:, None] - wanted).argmin(axis=0)
    chosen: _Floats = offsets[np.unique(np.concatenate([first, spread]))]
    return chosen


def _product(x: _Floats, y: _Floats) -> _Floats:
    return np.stack([np.repeat(x, len(y)), np.tile(y, len(x))], axis=1)


def try_offsets(lattice: Lattice, offsets: _Floats, *, is_final: bool = False) -> Trials:
    """Score whole layouts at offsets (n, 2) for every way of the mains.

    Oblique pieces are taken for their bounding boxes, or measured truly where `is_final`.
    """
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
                scores=term_matrix(own, lattice.policy.terms),
            )
        )
    trials = parts[0] if len(parts) == 1 else parts[0].join(parts[1])
    return _measured_truly(lattice, trials) if is_final else trials


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
        scores = term_matrix(axis.score(offsets), prefix) if prefix else np.zeros((len(offsets), 0))
        ranked = offsets[rank_rows(scores, prefix)] if prefix else offsets
        apart = np.abs((ranked - winner[number] + axis.module / 2) % axis.module - axis.module / 2)
        near = ranked[apart > axis.module / _APART][:1]
        choices.append(
            np.concatenate([[winner[number], (winner[number] + axis.module / 2) % axis.module], near])
        )
    pairs = _product(choices[0], choices[1])
    return _measured_truly(lattice, try_offsets(lattice, pairs)).join(best.pick(np.arange(1, len(best.way))))
