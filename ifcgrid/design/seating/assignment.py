"""Distinct places for several takers at the least cost in all: the assignment problem, solved exactly."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["assign"]

_Floats = NDArray[np.float64]


def assign(cost: _Floats) -> NDArray[np.int64]:
    """The column (n,) that each row of costs (n, m) gets, -1 for none; no column is given twice.

    As many rows as possible get a column; among all ways to do that, the sum of costs is
    least. `inf` forbids a pair; other costs are not negative. Shortest augmenting paths
    with potentials (H. W. Kuhn 1955, J. Munkres 1957; in this form R. Jonker, A. Volgenant
    1987), n² steps over m columns each.
    """
    count, places = cost.shape
    if count == 0 or places == 0:
        return np.full(count, -1, dtype=np.int64)
    finite = np.isfinite(cost)
    # A row without a place costs more than all others could ever save.
    none = float(cost[finite].max(initial=0.0)) * count + 1.0
    table = np.full((count, places + count), none)
    table[:, :places] = np.where(finite, cost, 2.0 * none)
    # Row 0 and column 0 are the algorithm's own: column 0 holds the row that seeks a place.
    row_price, column_price = np.zeros(count + 1), np.zeros(places + count + 1)
    owner = np.zeros(places + count + 1, dtype=np.int64)
    for row in range(1, count + 1):
        _augment(table, row, row_price, column_price, owner)
    chosen = np.full(count, -1, dtype=np.int64)
    taken = np.flatnonzero(owner[1 : places + 1])
    chosen[owner[1 + taken] - 1] = taken
    chosen[~finite[np.arange(count), chosen]] = -1
    return chosen


def _augment(
    table: _Floats, row: int, row_price: _Floats, column_price: _Floats, owner: NDArray[np.int64]
) -> None:
    """Give one more row a column along the cheapest chain of exchanges."""
    columns = len(owner)
    owner[0] = row
    least = np.full(columns, np.inf)
    came_from = np.zeros(columns, dtype=np.int64)
    is_done = np.zeros(columns, dtype=bool)
    column = 0
    while True:
        is_done[column] = True
        current = int(owner[column])
        reduced = table[current - 1] - row_price[current] - column_price[1:]
        better = ~is_done[1:] & (reduced < least[1:])
        least[1:][better] = reduced[better]
        came_from[1:][better] = column
        open_least = np.where(is_done, np.inf, least)
        nearest = int(np.argmin(open_least))
        delta = float(open_least[nearest])
        row_price[owner[is_done]] += delta
        column_price[is_done] -= delta
        least[~is_done] -= delta
        column = nearest
        if owner[column] == 0:
            break
    while column:
        before = int(came_from[column])
        owner[column] = owner[before]
        column = before
