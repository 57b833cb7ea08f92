"""The best layouts of many rectilinear rooms, term after term, with the proof that nothing beats them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.batch.axes import Axes, read_axes
from ifcgrid.design.layout.batch.cases import Cases
from ifcgrid.design.layout.batch.cells import count_panels
from ifcgrid.design.layout.batch.critical import Offsets, find_offsets
from ifcgrid.design.layout.batch.measure import (
    JOINT,
    SEPARABLE,
    Pairs,
    measure_joint_term,
    measure_part,
    sum_of_parts,
)
from ifcgrid.design.layout.batch.stretches import find_gaps
from ifcgrid.design.layout.ragged import expand, firsts, fold
from ifcgrid.design.layout.scoring import equal_within
from ifcgrid.domain import tolerance
from ifcgrid.domain.policy import Term

__all__ = ["Answer", "best_apart", "first_of_cases", "solve_cases"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
_Bools = NDArray[np.bool_]

_MOST_WORK = 20_000_000
"""Cells that may be measured for one room's equally good offsets before they are thinned out."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """What was found for rooms (r,): all equally good layouts, and what was compared.

    `ties` are sorted by room, the chosen layout first; room k has `tie_count[k]` of them.
    `offsets` are all that were compared in both directions, `tried` (r,) how many layouts
    that makes; `own` (c,) are offsets that are among the best of each case on the leading
    terms `prefix`, though another case of the room may be better. `gap` (r,) is what is
    left to gain in the term `gap_term`, 0 where the layout is proved, NaN where that is not
    known.
    """

    axes: tuple[Axes, Axes]
    offsets: tuple[Offsets, Offsets]
    prefix: tuple[Term, ...]
    own: tuple[_Floats, _Floats]
    ties: Pairs
    tie_count: _Ints
    tried: _Ints
    gap: _Floats
    gap_term: tuple[str, ...]


def solve_cases(cases: Cases, rooms: int) -> Answer:
    """The best layouts of `rooms` rooms whose cases are all rectilinear.

    The leading terms that split by direction are solved in each direction on its own, case
    by case; every pair of the offsets that are equally good there is compared in the terms
    that are left, in the policy's order.
    """
    axes = (read_axes(cases, 0), read_axes(cases, 1))
    offsets = (find_offsets(axes[0]), find_offsets(axes[1]))
    counts = [np.bincount(o.case, minlength=len(cases)) for o in offsets]
    sizes = np.array([len(ways) for ways in cases.ways])
    tried = np.bincount(cases.room, weights=counts[0] * counts[1] * sizes, minlength=rooms).astype(np.int64)
    prefix = leading_terms(cases)
    best, stays = best_apart(axes, offsets, prefix, rooms)
    alive = (best[0][stays[offsets[0].case[best[0]]]], best[1][stays[offsets[1].case[best[1]]]])
    pairs, thinned = _pair(cases, offsets, alive)
    is_thinned = np.zeros(rooms, dtype=bool)
    is_thinned[cases.room[thinned]] = True
    rest = [term for term in cases.policy.terms if term not in prefix]
    ties = _best_pairs(cases, axes, pairs, rest, rooms)
    ties = ties.pick(_order(cases, ties))
    tie_count = np.bincount(cases.room[ties.case], minlength=rooms)
    gap, gap_term = find_gaps(axes, offsets, alive, ties.pick(firsts(tie_count)), rest)
    gap[is_thinned] = np.nan
    return Answer(
        axes=axes,
        offsets=offsets,
        prefix=prefix,
        own=(
            first_of_cases(offsets[0].pick(best[0]), len(cases)),
            first_of_cases(offsets[1].pick(best[1]), len(cases)),
        ),
        ties=ties,
        tie_count=tie_count,
        tried=tried,
        gap=gap,
        gap_term=gap_term,
    )


def leading_terms(cases: Cases) -> tuple[Term, ...]:
    """The policy's terms before the first one that the two directions cannot settle apart."""
    leading = []
    for term in cases.policy.terms:
        split = term is Term.MAINS and all(len(ways) == 1 for ways in cases.ways)
        if not (split or term in SEPARABLE or term is Term.OBLIQUE_PIECES):
            break
        leading.append(term)
    return tuple(leading)


def best_apart(
    axes: tuple[Axes, Axes], offsets: tuple[Offsets, Offsets], prefix: Sequence[Term], rooms: int
) -> tuple[tuple[_Ints, _Ints], _Bools]:
    """Numbers of the offsets in both directions that are best on the leading terms, case by case.

    The last value tells which cases (c,) no other case of their room beats on these terms.
    """
    cases = axes[0].cases
    alive = [np.arange(len(o.value)) for o in offsets]
    stays = np.ones(len(cases), dtype=bool)
    for term in prefix:
        if term is Term.OBLIQUE_PIECES:
            continue  # no walls are oblique here
        total = np.zeros(len(cases))
        for number in (0, 1):
            own = offsets[number].pick(alive[number])
            score = measure_part(axes, number, term, own.value, own.case)
            least = fold(np.minimum, score, np.bincount(own.case, minlength=len(cases)), np.inf)
            total += least
            alive[number] = alive[number][score <= least[own.case] + equal_within(term)]
        best = np.full(rooms, np.inf)
        np.minimum.at(best, cases.room[stays], total[stays])
        stays &= total <= best[cases.room] + equal_within(term)
    return (alive[0], alive[1]), stays


def first_of_cases(offsets: Offsets, count: int) -> _Floats:
    """One offset of each case (count,): the lowest of those with the most meaning; NaN where none is."""
    order = np.lexsort((offsets.value, offsets.rank, offsets.case))
    chosen = np.full(count, np.nan)
    chosen[offsets.case[order[::-1]]] = offsets.value[order[::-1]]
    return chosen


def _pair(
    cases: Cases, offsets: tuple[Offsets, Offsets], alive: tuple[_Ints, _Ints]
) -> tuple[Pairs, list[int]]:
    """All pairs of the offsets that are left, and the cases in which these were too many to take all."""
    x, y = (o.pick(a) for o, a in zip(offsets, alive, strict=True))
    nx, ny = (np.bincount(o.case, minlength=len(cases)) for o in (x, y))
    cells = np.prod(np.ceil(cases.span / cases.module) + 2, axis=1)
    thinned = np.flatnonzero(nx * ny * cells > _MOST_WORK).tolist()
    for number in thinned:
        most = max(int(np.sqrt(_MOST_WORK / cells[number])), 2)
        x, y = _thin(x, number, most), _thin(y, number, most)
    if thinned:
        nx, ny = (np.bincount(o.case, minlength=len(cases)) for o in (x, y))
    case, nth = expand(nx * ny)
    width = np.maximum(ny, 1)[case]
    ix, iy = firsts(nx)[case] + nth // width, firsts(ny)[case] + nth % width
    return Pairs(
        case=case,
        way=np.array([ways[0] for ways in cases.ways])[case],
        offset=np.stack([x.value[ix], y.value[iy]], axis=1),
        rank=x.rank[ix] + y.rank[iy],
    ), thinned


def _thin(offsets: Offsets, case: int, most: int) -> Offsets:
    """No more than `most` of a case's offsets: one of each stretch, then evenly spread ones."""
    own = np.flatnonzero(offsets.case == case)
    if len(own) <= most:
        return offsets
    order = own[np.lexsort((own, offsets.rank[own]))]
    _, first = np.unique(offsets.stretch[order], return_index=True)
    chosen = np.sort(order[first])
    if len(chosen) > most:
        chosen = chosen[np.unique(np.linspace(0, len(chosen) - 1, most).round().astype(int))]
    keep = offsets.case != case
    keep[chosen] = True
    return offsets.pick(keep)


def _best_pairs(
    cases: Cases, axes: tuple[Axes, Axes], pairs: Pairs, rest: Sequence[Term], rooms: int
) -> Pairs:
    """The layouts that no other of the same room beats on the terms that are left."""
    panels: tuple[_Ints, _Ints] | None = None
    is_split = False
    for term in rest:
        counts = np.bincount(cases.room[pairs.case], minlength=rooms)
        if term is Term.OBLIQUE_PIECES or (counts.max(initial=0) <= 1 and term not in (Term.MAINS,)):
            continue
        if term in JOINT:
            if panels is None:
                panels = _count_where_needed(cases, pairs, counts)
            score = measure_joint_term(term, panels, cases, pairs.case)
        else:
            if term is Term.MAINS and not is_split:
                pairs, panels = _split_ways(cases, pairs, panels)
                is_split = True
            score = sum_of_parts(cases, axes, term, pairs)
        best = np.full(rooms, np.inf)
        room = cases.room[pairs.case]
        np.minimum.at(best, room, score)
        stays = score <= best[room] + equal_within(term)
        pairs = pairs.pick(stays)
        panels = (panels[0][stays], panels[1][stays]) if panels else None
    return pairs if is_split else _split_ways(cases, pairs, None)[0]


def _count_where_needed(cases: Cases, pairs: Pairs, counts: _Ints) -> tuple[_Ints, _Ints]:
    """Cut and all panels of layouts (n,); zeros in rooms in which only one layout is left anyway."""
    cut, pieces = np.zeros(len(pairs), dtype=np.int64), np.zeros(len(pairs), dtype=np.int64)
    needed = np.flatnonzero(counts[cases.room[pairs.case]] > 1)
    cut[needed], pieces[needed] = count_panels(cases, pairs.case[needed], pairs.offset[needed])
    return cut, pieces


def _split_ways(
    cases: Cases, pairs: Pairs, panels: tuple[_Ints, _Ints] | None
) -> tuple[Pairs, tuple[_Ints, _Ints] | None]:
    """Each layout once for every way of the mains that its case allows."""
    sizes = np.array([len(ways) for ways in cases.ways])
    flat = np.concatenate([np.array(ways, dtype=np.int64) for ways in cases.ways])
    owner, nth = expand(sizes[pairs.case])
    split = pairs.pick(owner)
    way = flat[firsts(sizes)[split.case] + nth]
    split = Pairs(case=split.case, way=way, offset=split.offset, rank=split.rank)
    return split, (panels[0][owner], panels[1][owner]) if panels else None


def _order(cases: Cases, pairs: Pairs) -> _Ints:
    """Order by room; in it mains along the longer walls, then offsets with a meaning, then the lowest."""
    edges, count = cases.edges, len(cases)
    run = np.abs(edges.end - edges.start)
    along, across = (np.bincount(cases.edge_case, weights=run[:, k], minlength=count) for k in (0, 1))
    longer = np.where(along >= across - tolerance.SHORTEST_EDGE, 0, 1)[pairs.case]
    own = pairs.offset.copy()
    turned = np.flatnonzero(pairs.way == 1)
    case = pairs.case[turned]
    module = cases.module[case, 0]
    own[turned, 0] = pairs.offset[turned, 1]
    own[turned, 1] = np.mod(cases.span[case, 0] - pairs.offset[turned, 0], module)
    steps = np.round(own / tolerance.SHORTEST_EDGE, 1)
    # A line on the wall is the same at 0 and at a whole module.
    size = np.where((pairs.way == 1)[:, None], cases.module[pairs.case][:, ::-1], cases.module[pairs.case])
    steps = np.where(own >= size - tolerance.LENGTH, 0.0, steps)
    order: _Ints = np.lexsort(
        (
            pairs.offset[:, 1],
            pairs.offset[:, 0],
            steps[:, 1],
            steps[:, 0],
            pairs.rank,
            pairs.case,
            pairs.way != longer,
            cases.room[pairs.case],
        )
    )
    return order
