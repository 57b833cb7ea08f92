"""Rows of unequal length in flat arrays: many rooms at once, each with its own walls and offsets."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["expand", "firsts", "fold", "pair_up", "sum_up"]

_Ints = NDArray[np.int64]


def firsts(counts: _Ints) -> _Ints:
    """Where each row of so many entries begins (n,)."""
    begin: _Ints = np.cumsum(counts) - counts
    return begin


def expand(counts: _Ints) -> tuple[_Ints, _Ints]:
    """The row of every entry and its place in that row, for rows of `counts` (n,) entries."""
    owner = np.repeat(np.arange(len(counts)), counts)
    return owner, np.arange(len(owner)) - firsts(counts)[owner]


def pair_up(groups: _Ints, first: _Ints, counts: _Ints) -> tuple[_Ints, _Ints]:
    """Each entry of `groups` (n,) with every item of its group.

    The items of group g are numbered from `first[g]` on, `counts[g]` of them. Returns the
    entry and the item of each pair, in order of the entries.
    """
    owner, nth = expand(counts[groups])
    return owner, first[groups][owner] + nth


def fold(ufunc: Any, values: NDArray[Any], counts: _Ints, empty: float) -> NDArray[Any]:
    """Each row reduced by minimum, maximum or the like; `empty` for rows without entries (n,)."""
    out = np.full(len(counts), empty, dtype=values.dtype)
    filled = counts > 0
    if len(values):
        out[filled] = ufunc.reduceat(values, firsts(counts)[filled])
    return out


def sum_up(owner: _Ints, values: NDArray[Any], count: int) -> NDArray[np.float64]:
    """Sums of the values of each owner (count,), added in their order, whoever else is there."""
    total: NDArray[np.float64] = np.bincount(owner, weights=values, minlength=count).astype(float)
    return total
