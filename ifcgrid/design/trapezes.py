"""Trapezes of a ceiling: bars that several hangers may share, with the soffits of their rods."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ifcgrid.design.overhead import Line, Overhead
from ifcgrid.domain import tolerance
from ifcgrid.domain.hanging import Trapezes

if TYPE_CHECKING:
    from ifcgrid.design.main_hangers import Spot
    from ifcgrid.design.ways import Bar

__all__ = ["build_trapezes"]


def build_trapezes(overhead: Overhead, spots: Sequence[Spot]) -> Trapezes | None:
    """The trapezes of hangers that hang from bars; hangers whose bars lie in one another share one."""
    bars: list[Bar] = []
    carried: list[list[int]] = []
    for k, spot in enumerate(spots):
        if spot.bar is None:
            continue
        for number, bar in enumerate(bars):
            if _is_same(bar, spot.bar):
                carried[number].append(k)
                break
        else:
            bars.append(spot.bar)
            carried.append([k])
    if not bars:
        return None
    ends = np.array(
        [
            Line(axis=bar.axis, at=bar.at, low=bar.low, high=bar.high).points([bar.low, bar.high])
            for bar in bars
        ]
    )
    top, owner = overhead.soffits(ends.reshape(-1, 2))
    keys = [overhead.structure[k].key if k >= 0 else "" for k in owner.tolist()]
    return Trapezes(
        hanger=np.array([hangers[0] for hangers in carried], dtype=np.int32),
        ends=ends,
        z=np.array([bar.z for bar in bars]),
        top=top.reshape(-1, 2),
        support=tuple(zip(keys[::2], keys[1::2], strict=True)),
        spans=tuple(tuple(overhead.hurdles[k].key for k in bar.spans) for bar in bars),
        carries=tuple(map(tuple, carried)),
    )


def _is_same(one: Bar, other: Bar) -> bool:
    return one.axis == other.axis and all(
        tolerance.is_equal(a, b, tolerance.EVEN)
        for a, b in ((one.at, other.at), (one.low, other.low), (one.high, other.high), (one.z, other.z))
    )
