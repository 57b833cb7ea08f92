"""Continuous beams of constant section on rigid supports, many at once.

Clapeyron's three-moment equation (Gere and Goodno, Mechanics of Materials; Timoshenko,
Strength of Materials, part I; both from memory): for the spans left and right of support s

    M(s-1) L(s) + 2 M(s) (L(s) + L(s+1)) + M(s+1) L(s+1) = -6 EI (right(s) + left(s+1))

with the end slopes of the spans as simple beams on the right, moments positive when they
sag. Loads are patches: a force spread evenly from `start` to `end`, which may be one point.
A beam may reach beyond its first and last support. Lengths in mm, forces in N; a slope or
deflection is given times EI.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Patches", "Solution", "solve_beams"]

_SAMPLES = 33
"""Places in a span at which deflections are compared; a parabola through the best three finds the peak."""

_Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patches:
    """Loads on beams: `beam` (n,) int, `start`, `end` (n,) along it, `force` (n,) in all, down positive."""

    beam: NDArray[np.int64]
    start: _Floats
    end: _Floats
    force: _Floats

    def __len__(self) -> int:
        return len(self.beam)

    def pick(self, chosen: NDArray[np.bool_]) -> Patches:
        """The patches that are chosen (n,)."""
        return Patches(
            beam=self.beam[chosen],
            start=self.start[chosen],
            end=self.end[chosen],
            force=self.force[chosen],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solution:
    """Forces and deflections of beams.

    `simple`, `continuous` (s,): reaction of each support when the beam is cut at every
    support, and when it runs through; `moment` (s,) the bending moment over it. `span` (k,)
    the index of the support at the right end of each span; `load` (k,) the force on it;
    `simple_deflection`, `continuous_deflection` (k,) its greatest deflection times EI in
    N mm3. `unheld` (n,) the force on each beam that has no support, in the beams' order.
    """

    simple: _Floats
    continuous: _Floats
    moment: _Floats
    span: NDArray[np.int64]
    load: _Floats
    simple_deflection: _Floats
    continuous_deflection: _Floats
    unheld: _Floats


def solve_beams(
    count: int, beam: NDArray[np.int64], support: _Floats, patches: Patches, *, bends: bool = True
) -> Solution:
    """Reactions and deflections of `count` beams.

    Args:
        count: how many beams there are.
        beam: (s,) the beam of each support, ascending.
        support: (s,) its place along the beam, strictly ascending on each beam.
        patches: the loads.
        bends: whether deflections are wanted; else they are NaN.
    """
    size = np.bincount(beam, minlength=count)
    unheld = np.bincount(patches.beam, weights=patches.force, minlength=count) * (size == 0)
    if len(beam) == 0:
        return _nothing(unheld)
    pieces, slot = _split(beam, support, patches.pick(size[patches.beam] > 0))
    is_first = np.diff(beam, prepend=-1) != 0
    inside = np.minimum(slot, len(beam) - 1)
    in_span = (slot < len(beam)) & (beam[inside] == pieces.beam) & ~is_first[inside]
    length = np.where(is_first, 0.0, np.diff(support, prepend=0.0))
    spans = _Spans(support=support, length=length, pieces=pieces.pick(in_span), slot=slot[in_span])
    moment, beyond = _overhangs(beam, support, pieces.pick(~in_span), slot[~in_span])
    simple = spans.reactions() + beyond
    rank = np.arange(len(beam)) - np.flatnonzero(is_first)[np.cumsum(is_first) - 1]
    _solve_moments(spans, rank, is_first | np.append(is_first[1:], True), moment)
    k = np.flatnonzero(~is_first)
    unknown = np.full(len(k), np.nan)
    ends = np.stack([moment[k - 1], moment[k]])
    bare, whole = spans.deflections(k, ends) if bends else (unknown, unknown)
    return Solution(
        simple=simple,
        continuous=simple + _moment_reactions(spans, moment),
        moment=moment,
        span=k,
        load=spans.total()[k],
        simple_deflection=bare,
        continuous_deflection=whole,
        unheld=unheld,
    )


def _nothing(unheld: _Floats) -> Solution:
    none = np.empty(0)
    return Solution(
        simple=none,
        continuous=none,
        moment=none,
        span=np.empty(0, dtype=np.int64),
        load=none,
        simple_deflection=none,
        continuous_deflection=none,
        unheld=unheld,
    )


def _split(beam: NDArray[np.int64], support: _Floats, patches: Patches) -> tuple[Patches, NDArray[np.int64]]:
    """Patches cut at the supports, and for each piece the index of the support at its right.

    Pieces beyond a beam's last support have the index after that support.
    """
    every = np.concatenate([support, patches.start, patches.end])
    low, stride = every.min(), 2 * float(np.ptp(every)) + 1.0
    at = beam * stride + (support - low)
    first = np.searchsorted(at, patches.beam * stride + (patches.start - low), side="right")
    last = np.searchsorted(at, patches.beam * stride + (patches.end - low), side="left")
    first = np.minimum(first, last)
    count = last - first + 1
    owner = np.repeat(np.arange(len(patches)), count)
    slot = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count) + first[owner]
    start, end = patches.start[owner], patches.end[owner]
    from_left = np.where(slot > first[owner], support[np.maximum(slot - 1, 0)], start)
    to_right = np.where(slot < last[owner], support[np.minimum(slot, len(support) - 1)], end)
    whole = end - start
    share = np.divide(to_right - from_left, whole, out=np.ones_like(whole), where=whole > 0)
    pieces = Patches(
        beam=patches.beam[owner], start=from_left, end=to_right, force=patches.force[owner] * share
    )
    return pieces, slot


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Spans:
    """Loads on spans: span k reaches from support k - 1 to support k; `slot` (p,) is each piece's span."""

    support: _Floats
    length: _Floats
    pieces: Patches
    slot: NDArray[np.int64]

    def _ends(self) -> tuple[_Floats, _Floats, _Floats]:
        """Distances of each piece's ends from the span's left end, and the span's length."""
        left = self.support[self.slot - 1]
        return self.pieces.start - left, self.pieces.end - left, self.length[self.slot]

    def _sum(self, values: _Floats) -> _Floats:
        sums = np.bincount(self.slot, weights=values, minlength=len(self.length))
        return np.asarray(sums, dtype=np.float64)

    def total(self) -> _Floats:
        """The force on each span."""
        return self._sum(self.pieces.force)

    def reactions(self) -> _Floats:
        """The reaction of each support from its two spans as simple beams (lever rule)."""
        a, b, length = self._ends()
        right = self.pieces.force * (a + b) / 2 / length
        at_right = self._sum(right)
        at_left = self._sum(self.pieces.force - right)
        return np.asarray(at_right + np.append(at_left[1:], 0.0))

    def slopes(self) -> tuple[_Floats, _Floats]:
        """6 EI times the slopes at the left and right ends of each span as a simple beam.

        A force at distance x from one end turns the other end by F x (L^2 - x^2) / (6 EI L).
        """
        a, b, length = self._ends()

        def turn(near: _Floats, far: _Floats) -> _Floats:
            mean = (near + far) / 2
            return self._sum(self.pieces.force / length * mean * (length**2 - (near**2 + far**2) / 2))

        return turn(length - b, length - a), turn(a, b)

    def deflections(self, k: NDArray[np.int64], moments: _Floats) -> tuple[_Floats, _Floats]:
        """EI times the greatest deflection of spans `k`, without and with their end moments (2, k)."""
        if len(k) == 0:
            return np.empty(0), np.empty(0)
        share = np.linspace(0.0, 1.0, _SAMPLES)
        a, b, length = self._ends()
        x = length[:, None] * share
        past, rest = np.maximum(x - a[:, None], 0), np.maximum(x - b[:, None], 0)
        wide = np.broadcast_to((b - a)[:, None], past.shape)
        past_2 = past * past
        inside = np.divide(past_2 * past_2, wide, out=np.zeros_like(past), where=wide > 0)
        # The integral of (x - s)^3 over the patch, by the patch's width; exact for a point too.
        mean = np.where(rest > 0, (past + rest) * (past_2 + rest * rest), inside)
        force = self.pieces.force[:, None]
        left = force * (1 - (a + b) / 2 / length)[:, None]
        drop = force * mean / 24 - left * (x * x * x) / 6
        line = np.zeros((len(self.length), _SAMPLES))
        order = np.argsort(self.slot, kind="stable")
        slots, first_of = np.unique(self.slot[order], return_index=True)
        if len(slots):
            line[slots] = np.add.reduceat(drop[order], first_of, axis=0)
        slope = self.slopes()[0][:, None] / 6
        bare = line[k] + slope[k] * self.length[k, None] * share
        span = self.length[k, None]
        x = span * share
        first, last = moments[0][:, None], moments[1][:, None]
        bent = (first * x * (span - x) * (2 * span - x) + last * x * (span**2 - x**2)) / (6 * span)
        return _peak(bare), _peak(bare + bent)


def _peak(values: _Floats) -> _Floats:
    """The greatest size in each row of samples (n, m), by a parabola through the best three."""
    size = np.abs(values)
    row = np.arange(len(values))
    best = np.clip(np.argmax(size, axis=1), 1, _SAMPLES - 2)
    before, at, after = (size[row, best + step] for step in (-1, 0, 1))
    bend = before - 2 * at + after
    rise = np.divide((after - before) ** 2, 8 * bend, out=np.zeros_like(at), where=bend < 0)
    found: _Floats = np.maximum(at - rise, size.max(axis=1))
    return found


def _overhangs(
    beam: NDArray[np.int64], support: _Floats, pieces: Patches, slot: NDArray[np.int64]
) -> tuple[_Floats, _Floats]:
    """Moments over the end supports from what lies beyond them, and the forces out there."""
    inside = np.minimum(slot, len(support) - 1)
    # The support at a piece's right is its own beam's only where it lies before the first one.
    at = np.where((slot < len(support)) & (beam[inside] == pieces.beam), slot, slot - 1)
    middle = (pieces.start + pieces.end) / 2
    size = len(support)
    force = np.bincount(at, weights=pieces.force, minlength=size)
    moment = -np.bincount(at, weights=pieces.force * np.abs(middle - support[at]), minlength=size)
    return moment.astype(np.float64), force.astype(np.float64)


def _solve_moments(
    spans: _Spans, rank: NDArray[np.int64], is_end: NDArray[np.bool_], moment: _Floats
) -> None:
    """Fill in the moments over inner supports; those over ends are given. One sweep for all beams."""
    left, right = spans.slopes()
    after = np.append(spans.length[1:], 0.0)
    below, above = np.where(is_end, 0.0, spans.length), np.where(is_end, 0.0, after)
    pivot = np.where(is_end, 1.0, 2 * (spans.length + after))
    moment[~is_end] = -(right + np.append(left[1:], 0.0))[~is_end]
    by_rank = [np.flatnonzero(rank == r) for r in range(1, int(rank.max(initial=0)) + 1)]
    for at in by_rank:
        factor = below[at] / pivot[at - 1]
        pivot[at] -= factor * above[at - 1]
        moment[at] -= factor * moment[at - 1]
    for at in reversed([np.flatnonzero(rank == 0), *by_rank]):
        ahead = np.minimum(at + 1, len(moment) - 1)
        moment[at] = (moment[at] - above[at] * moment[ahead]) / pivot[at]


def _moment_reactions(spans: _Spans, moment: _Floats) -> _Floats:
    """What the moments over the supports add to the reactions of the simple beams."""
    step = np.diff(moment, prepend=0.0)
    pull = np.divide(step, spans.length, out=np.zeros_like(step), where=spans.length > 0)
    added: _Floats = np.append(pull[1:], 0.0) - pull
    return added
