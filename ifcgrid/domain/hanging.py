"""What a ceiling is cut from and hung by beyond its lines: stock pieces, trapezes, braces, wires.

Arrays hold one entry a piece; coordinates named local are (u, v) of the layout's frame in
mm, z is model height in mm, as in `ifcgrid.domain.ceiling`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

__all__ = ["Braces", "HangerKind", "Pieces", "Trapezes", "Wires"]


class HangerKind(IntEnum):
    """How a hanger gets from the main to the structure.

    `STRAIGHT` goes straight up; `SPLAYED` leans to get past an obstacle; `COUNTER` leans the
    other way to cancel a splayed hanger's side pull; `TRAPEZE` ends at a bar that spans the
    obstacle (its top is the bar's underside).
    """

    STRAIGHT = 0
    SPLAYED = 1
    COUNTER = 2
    TRAPEZE = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """What mains and tees are cut from: one entry a stock piece. Its key is `member key/number`.

    `member` (n,) index into the ceiling's members; `number` (n,) counts from the member's
    start; `start`, `end` (n,) in mm along the member from its start; `first_hole` (n,) in mm
    from the piece's start to its first rout hole, NaN where the part has none; `is_factory`
    (n, 2) whether the start and the end are factory ends; `mark` names equal pieces.
    `stock` (n,) counts the stock parts that are used up, so pieces with one number are cut
    from one part; `stock_start` (n,) is where on it the piece begins, `stock_length` (n,)
    its length, in mm: what falls off at both ends follows from them.
    """

    member: NDArray[np.int32]
    number: NDArray[np.int32]
    start: NDArray[np.float64]
    end: NDArray[np.float64]
    first_hole: NDArray[np.float64]
    is_factory: NDArray[np.bool_]
    mark: tuple[str, ...]
    stock: NDArray[np.int32] | None = None
    stock_start: NDArray[np.float64] | None = None
    stock_length: NDArray[np.float64] | None = None

    def __len__(self) -> int:
        return len(self.member)

    @property
    def length(self) -> NDArray[np.float64]:
        """Lengths (n,) in mm."""
        return self.end - self.start


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trapezes:
    """Bars that carry hangers past an obstacle. A trapeze's key is `trapeze/index`.

    `hanger` (n,) index into the ceiling's hangers; `ends` (n, 2, 2) local ends of the bar;
    `z` (n,) its underside; `top` (n, 2) z of the soffits over its two ends; `support` names
    the structure over each end; `spans` the keys of what it goes round. `hanger` is the
    first of the hangers it carries, `carries` (where given) all of them.
    """

    hanger: NDArray[np.int32]
    ends: NDArray[np.float64]
    z: NDArray[np.float64]
    top: NDArray[np.float64]
    support: tuple[tuple[str, str], ...]
    spans: tuple[tuple[str, ...], ...]
    carries: tuple[tuple[int, ...], ...] = ()

    def __len__(self) -> int:
        return len(self.hanger)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Braces:
    """Seismic brace sets: four splay wires and a post. A set's key is `brace/line/column`.

    `line`, `column` (n,) of the main and the cross-tee line at which it sits; `point` (n, 2)
    local; `post_top` (n,) z of the structure over it, NaN where there is none; `wire_top`
    (n, 4, 3) local u, v and model z of the wires' upper ends, NaN where none was found;
    `support` names the structure of the post and the four wires.
    """

    line: NDArray[np.int32]
    column: NDArray[np.int32]
    point: NDArray[np.float64]
    post_top: NDArray[np.float64]
    wire_top: NDArray[np.float64]
    support: tuple[tuple[str, ...], ...]

    def __len__(self) -> int:
        return len(self.line)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wires:
    """Wires from devices straight to the structure. A wire's key is `wire/device key/number`.

    `device` names the device, `number` (n,) counts its wires; `point` (n, 2) local; `bottom`,
    `top` (n,) z, top NaN where the model has no structure above; `is_slack` (n,) whether the
    rule lets it hang slack; `is_assumed` (n,) whether the model gave no weight and one was
    assumed (None: nothing was).
    """

    device: tuple[str, ...]
    number: NDArray[np.int32]
    point: NDArray[np.float64]
    bottom: NDArray[np.float64]
    top: NDArray[np.float64]
    is_slack: NDArray[np.bool_]
    support: tuple[str, ...]
    is_assumed: NDArray[np.bool_] | None = None

    def __len__(self) -> int:
        return len(self.number)
