"""What the record says of a room's hangers by kind, its splices and the stock it is cut from."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.hanging import HangerKind

__all__ = ["record_pieces"]


def record_pieces(ceiling: Ceiling, index: int) -> dict[str, Any]:
    """Hangers by kind, trapezes, and the pieces of a room's members; those are None where unknown.

    Stock parts count in the room of the first piece that is cut from them.
    """
    hangers, bars = ceiling.hangers, ceiling.trapezes
    kinds = hangers.kinds[hangers.room == index]
    trapezes = 0 if bars is None else int((hangers.room[bars.hanger] == index).sum())
    return {
        "hanger_kinds": {kind.name.lower(): int((kinds == kind).sum()) for kind in HangerKind},
        "trapezes": trapezes,
        "pieces": _pieces(ceiling, index),
    }


def _pieces(ceiling: Ceiling, index: int) -> dict[str, Any] | None:
    pieces = ceiling.pieces
    if pieces is None or pieces.stock is None or pieces.stock_length is None:
        return None
    own = ceiling.members.room[pieces.member] == index
    is_main = ceiling.members.role[pieces.member] == Role.MAIN_RUNNER
    stock = {}
    first = np.zeros(len(pieces), dtype=bool)
    first[np.unique(pieces.stock, return_index=True)[1]] = True
    for name, of_role in (("mains", is_main), ("tees", ~is_main)):
        lengths = pieces.stock_length[own & of_role & first].tolist()
        stock[name] = [
            {"length_mm": round(length, 3), "count": count}
            for length, count in sorted(Counter(lengths).items(), reverse=True)
        ]
    marks = [mark for mark, is_own in zip(pieces.mark, own.tolist(), strict=True) if is_own]
    return {
        "count": int(own.sum()),
        "splices": int((own & is_main & (pieces.number > 0)).sum()),
        "marks": dict(sorted(Counter(marks).items(), key=lambda item: (item[0][0], int(item[0][1:])))),
        "stock": stock,
    }
