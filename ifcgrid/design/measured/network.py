"""A network of points and lengths between them, adjusted by least squares (Gauss-Newton).

Each measured length is weighted by its standard deviation. What no length decides is
decided by rows of a prior, so weak beside the lengths that it bends none of them. The
statistics are those of the textbooks on adjustment: redundancy of one observation
1 - (A N^-1 A^T P)_ii and standardised residual v / (sigma sqrt(r)) (W. Baarda, A testing
procedure for use in geodetic networks, 1968, from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance

__all__ = ["Adjustment", "Lengths", "Rows", "adjust"]

Array = NDArray[np.float64]

Rows = Callable[[Array], tuple[Array, Array]]
"""Gives the residuals (k,) and the derivatives (k, 2 m) of further rows at points (m, 2)."""

MOST_STEPS = 60


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lengths:
    """Measured lengths (n,): `factor` times the distance of points `start` and `end` is `value` in mm."""

    start: NDArray[np.int64]
    end: NDArray[np.int64]
    factor: Array
    value: Array
    deviation: Array

    def __len__(self) -> int:
        return len(self.value)

    def at(self, points: Array) -> Array:
        """The lengths that the points have."""
        lengths: Array = self.factor * np.hypot(*(points[self.end] - points[self.start]).T)
        return lengths

    def only(self, kept: NDArray[np.bool_]) -> Lengths:
        """Those that are kept."""
        return Lengths(
            start=self.start[kept],
            end=self.end[kept],
            factor=self.factor[kept],
            value=self.value[kept],
            deviation=self.deviation[kept],
        )

    def rows(self, points: Array) -> tuple[Array, Array]:
        """Weighted residuals (n,) and derivatives (n, 2 m)."""
        step = points[self.end] - points[self.start]
        length = np.maximum(np.hypot(*step.T), tolerance.LENGTH)
        slope = (self.factor / self.deviation / length)[:, None] * step
        row = np.arange(len(self))
        derivatives = np.zeros((len(self), len(points), 2))
        derivatives[row, self.end] += slope
        derivatives[row, self.start] -= slope
        return (self.at(points) - self.value) / self.deviation, derivatives.reshape(
            len(self), 2 * len(points)
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Adjustment:
    """Adjusted points (m, 2) and what they say of each length (n,).

    `residual` is adjusted less measured in mm; `redundancy` from 0 to 1; `standardised` NaN
    where nothing checks the length; `correlation` (n, n) of the residuals, 0 where there is
    no redundancy. `is_settled` is False when the steps did not come to rest.
    """

    points: Array
    residual: Array
    redundancy: Array
    standardised: Array
    correlation: Array
    is_settled: bool


def adjust(
    points: Array, lengths: Lengths, prior: Rows | None = None, ways: Array | None = None
) -> Adjustment:
    """Points nearest to the measured lengths, from good approximate ones.

    Args:
        points: (m, 2) to begin with.
        lengths: what was measured.
        prior: rows that decide what the lengths leave open, already weighted.
        ways: (2 m, k) directions in which the points may go; all where none are given.
    """
    now = np.array(points, dtype=float)

    def system() -> tuple[Array, Array]:
        residual, slopes = lengths.rows(now)
        if prior is not None:
            more, weak = prior(now)
            residual, slopes = np.concatenate([residual, more]), np.concatenate([slopes, weak])
        return residual, slopes if ways is None else slopes @ ways

    is_settled = False
    for _ in range(MOST_STEPS):
        residual, slopes = system()
        step = np.linalg.lstsq(slopes, -residual, rcond=tolerance.RANK)[0]
        step = step if ways is None else ways @ step
        now += step.reshape(-1, 2)
        if float(np.abs(step).max(initial=0.0)) <= tolerance.SETTLED:
            is_settled = True
            break
    return _judged(now, lengths, system()[1], is_settled)


def _judged(points: Array, lengths: Lengths, derivatives: Array, is_settled: bool) -> Adjustment:
    basis, sizes, _ = np.linalg.svd(derivatives, full_matrices=False)
    basis = basis[:, sizes > tolerance.RANK * sizes.max(initial=0.0)]
    count = len(lengths)
    cofactor = np.eye(count) - basis[:count] @ basis[:count].T
    redundancy = np.clip(np.diag(cofactor), 0.0, 1.0)
    is_checked = redundancy > tolerance.CHECKED
    residual = lengths.at(points) - lengths.value
    root = np.sqrt(np.where(is_checked, redundancy, 1.0))
    both = is_checked[:, None] & is_checked[None, :]
    return Adjustment(
        points=points,
        residual=residual,
        redundancy=np.where(is_checked, redundancy, 0.0),
        standardised=np.where(is_checked, residual / (lengths.deviation * root), np.nan),
        correlation=np.where(both, cofactor / np.outer(root, root), 0.0),
        is_settled=is_settled,
    )
