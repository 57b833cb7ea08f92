"""What mains and tees are cut from: every piece with its splices, its cut ends and its holes.

Mains are cut by `ifcgrid.design.main_cuts`. A tee between two members is a whole factory
part; one that ends at a wall keeps one factory end, so no more than two border tees come
from one stock tee (NAVEDTRA 14044 p. 5-17). Saw cuts are taken to be thin.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.main_cuts import MainCutter, MainRun
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Members, Role
from ifcgrid.domain.hanging import Pieces
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.marks import mark_pieces
from ifcgrid.domain.scheme import Cutting
from ifcgrid.domain.system import GridSystem

__all__ = ["Cut", "carried_ends", "cut_pieces"]

_Floats = NDArray[np.float64]
_Bools = NDArray[np.bool_]
_Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """The pieces of all mains and tees of a ceiling, and what is to be said of them."""

    pieces: Pieces
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Columns:
    """Pieces in the making: one entry a piece, named as in `Pieces`."""

    member: _Ints
    start: _Floats
    end: _Floats
    first_hole: _Floats
    is_factory: _Bools
    stock: _Ints
    stock_start: _Floats
    stock_length: _Floats


def cut_pieces(system: GridSystem, layout: Layout, members: Members) -> Cut | None:
    """Pieces of all mains and tees, by member and place; None when the system does not say of what.

    The pieces of a member fill it but for the system's end gap at walls. Equal pieces bear
    one mark by `ifcgrid.domain.marks`. A tee that is longer than any stock tee is a header, cut from a main.
    """
    if system.cutting is None:
        return None
    mains, cutter = _cut_mains(system, system.cutting, layout, members)
    tees, notes = _cut_tees(system, system.cutting, layout, members)
    both = {f.name: np.concatenate([getattr(mains, f.name), getattr(tees, f.name)]) for f in fields(_Columns)}
    both["stock"][len(mains.stock) :] += cutter.used
    order = np.lexsort((both["start"], both["member"]))
    columns = _Columns(**{name: column[order] for name, column in both.items()})
    pieces = Pieces(
        member=columns.member.astype(np.int32),
        number=_count_equal(columns.member).astype(np.int32),
        start=columns.start,
        end=columns.end,
        first_hole=columns.first_hole,
        is_factory=columns.is_factory,
        mark=mark_pieces(
            members.role[columns.member],
            columns.end - columns.start,
            columns.first_hole,
            columns.is_factory,
            layout.across,
        ),
        stock=columns.stock.astype(np.int32),
        stock_start=columns.stock_start,
        stock_length=columns.stock_length,
    )
    return Cut(pieces=pieces, notes=(*_main_notes(system, system.cutting, layout, cutter), *notes))


def carried_ends(members: Members, layout: Layout) -> _Bools:
    """Whether the start and the end (n, 2) of each tee lie on a member that runs on past them.

    What lies on none ends at a wall, a column or the edge of a hole. Mains and wall angles
    count as ending at walls.
    """
    carried = np.zeros((len(members), 2), dtype=bool)
    along_u = np.isin(members.role, (Role.MAIN_RUNNER, Role.SECOND_TEE))
    along_v = members.role == Role.CROSS_TEE
    pairs = ((along_v, along_u, 1), (members.role == Role.SECOND_TEE, along_v, 0))
    for tees, carriers, axis in pairs:
        module = layout.across if axis == 1 else layout.along
        ends = np.stack([members.start[tees], members.end[tees]], axis=1)
        carried[tees] = _lie_on(
            ends[:, :, axis].ravel() / module,
            ends[:, :, 1 - axis].ravel(),
            members.line[carriers],
            members.start[carriers, 1 - axis],
            members.end[carriers, 1 - axis],
            tolerance.LENGTH / module,
        ).reshape(-1, 2)
    return carried


def _lie_on(
    step: _Floats, place: _Floats, line: NDArray[np.int32], start: _Floats, end: _Floats, hair: float
) -> _Bools:
    """Which points, at lattice steps across and places along, lie within runs (line, start, end)."""
    number = np.rint(step)
    if len(line) == 0 or len(step) == 0:
        return np.zeros(len(step), dtype=bool)
    order = np.lexsort((start, line))
    line, start, end = line[order], start[order], end[order]
    low = min(float(start.min()), float(place.min())) - 1.0
    reach = max(float(end.max()), float(place.max())) - low + 1.0
    key = line * reach + (start - low)
    before = np.searchsorted(key, number * reach + (place - low), side="right") - 1
    known = np.maximum(before, 0)
    on: _Bools = (
        (np.abs(step - number) <= hair)
        & (before >= 0)
        & (line[known] == number)
        & (place > start[known] + tolerance.LENGTH)
        & (place < end[known] - tolerance.LENGTH)
    )
    return on


def _cut_mains(
    system: GridSystem, cutting: Cutting, layout: Layout, members: Members
) -> tuple[_Columns, MainCutter]:
    cutter = MainCutter(cutting=cutting, stock_length=system.main_stock, spacing=layout.main_every)
    rows, offsets = [], layout.row_offsets
    for k in np.flatnonzero(members.role == Role.MAIN_RUNNER).tolist():
        start, end = float(members.start[k, 0]), float(members.end[k, 0])
        beside = {offsets[row % len(offsets)] for row in (members.line[k] - 1, members.line[k])}
        first = _first_tee_line(layout.along, beside, start + cutting.end_gap, end - cutting.end_gap)
        run = MainRun(
            line=int(members.line[k]),
            start=start,
            length=end - start,
            first_line=None if first is None else first - start,
        )
        rows += [(k, piece.start, piece.end, piece.stock, piece.stock_start) for piece in cutter.cut(run)]
    member, begin, stop, stock, at = np.array(rows, dtype=np.float64).reshape(-1, 5).T
    size, whole = stop - begin, system.main_stock
    nth = np.maximum(np.ceil((at - cutting.first_hole - tolerance.LENGTH) / cutting.hole_pitch), 0)
    hole = cutting.first_hole + nth * cutting.hole_pitch - at
    return _Columns(
        member=member.astype(np.int64),
        start=begin,
        end=stop,
        first_hole=np.where(hole <= size + tolerance.LENGTH, hole, np.nan),
        is_factory=_factory_ends(at, size, np.full(len(at), whole)),
        stock=stock.astype(np.int64),
        stock_start=at,
        stock_length=np.full(len(at), whole),
    ), cutter


def _first_tee_line(along: float, offsets: Iterable[float], low: float, high: float) -> float | None:
    """The first place within a stretch of a main where a tee line of a row beside it meets it."""
    first = min((tolerance.floor_div(low - o, along) + 1) * along + o for o in offsets)
    return first if first < high - tolerance.LENGTH else None


def _factory_ends(at: _Floats, size: _Floats, whole: _Floats) -> _Bools:
    return np.stack([at <= tolerance.LENGTH, at + size >= whole - tolerance.LENGTH], axis=1)


def _main_notes(system: GridSystem, cutting: Cutting, layout: Layout, cutter: MainCutter) -> list[str]:
    notes = []
    lengths = [("module", system.along), ("stock length", system.main_stock)]
    lengths += [("shift of rows", offset) for offset in layout.row_offsets if offset]
    for name, length in lengths:
        rest = length % cutting.hole_pitch
        if min(rest, cutting.hole_pitch - rest) > tolerance.LENGTH:
            notes.append(
                f"holes every {cutting.hole_pitch:g} mm do not divide the {name} of {length:g} mm: "
                "after the first one they miss tee lines"
            )
    if cutter.crowded:
        notes.append(
            f"{cutter.crowded} splices stand nearer than {cutting.stagger:g} mm to a neighbour's; "
            "the stock length leaves no other place"
        )
    if cutter.short:
        notes.append(f"{cutter.short} pieces of mains are shorter than {cutting.least_piece:g} mm")
    return notes


def _stock_of_tees(system: GridSystem, cutting: Cutting, use: _Floats, is_second: _Bools) -> _Floats:
    """What each tee is cut from: a stock tee of just its length, else of its rank, else what is longer."""
    own = np.where(is_second, cutting.tees[-1], cutting.tees[0])
    stock = np.full(len(use), system.main_stock)
    for length in sorted(cutting.tees, reverse=True):
        stock[use <= length + tolerance.LENGTH] = length
    fits = use <= own + tolerance.LENGTH
    stock[fits] = own[fits]
    for length in cutting.tees:
        stock[np.abs(use - length) <= tolerance.LENGTH] = length
    return stock


def _cut_tees(
    system: GridSystem, cutting: Cutting, layout: Layout, members: Members
) -> tuple[_Columns, list[str]]:
    chosen = np.flatnonzero(np.isin(members.role, (Role.CROSS_TEE, Role.SECOND_TEE)))
    is_second = members.role[chosen] == Role.SECOND_TEE
    carried = carried_ends(members, layout)[chosen]
    length = members.length[chosen]
    gap = np.where(carried, 0.0, cutting.end_gap)
    gap[length - gap.sum(axis=1) < tolerance.SHORTEST_MEMBER] = 0.0
    use = length - gap.sum(axis=1)
    stock = _stock_of_tees(system, cutting, use, is_second)
    has_holes = ~is_second & (layout.main_every > 1) & np.isin(stock, cutting.tees)
    at = np.where(~carried[:, 0] & carried[:, 1] & (use < stock), stock - use, 0.0)
    # A tee from wall to wall has no end to go by: its holes are brought under the lines.
    loose = ~carried.any(axis=1) & has_holes
    phase = np.mod(members.start[chosen, 1] + gap[:, 0], layout.across)
    misfit = loose & (phase + use > stock + tolerance.LENGTH)
    at[loose & ~misfit] = phase[loose & ~misfit]
    count = np.maximum(np.ceil((use - tolerance.LENGTH) / stock), 1).astype(np.int64)
    part = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
    tee = np.repeat(np.arange(len(chosen)), count)
    begin = part * stock[tee]
    size = np.minimum(use[tee] - begin, stock[tee])
    at = at[tee]
    hole = (np.floor((at + tolerance.LENGTH) / layout.across) + 1) * layout.across - at
    hole[~has_holes[tee] | (hole >= size - tolerance.LENGTH)] = np.nan
    factory = _factory_ends(at, size, stock[tee])
    number, at = _share_stock(at, size, stock[tee])
    columns = _Columns(
        member=chosen[tee],
        start=gap[tee, 0] + begin,
        end=gap[tee, 0] + begin + size,
        first_hole=hole,
        is_factory=factory,
        stock=number,
        stock_start=at,
        stock_length=stock[tee],
    )
    notes = []
    if headers := int((stock >= system.main_stock).sum()):
        notes.append(
            f"{headers} tees beside openings are longer than stock tees: headers cut from mains, to be hung"
        )
    if misfits := int(misfit.sum()):
        notes.append(f"{misfits} tees from wall to wall have no slot where a tee meets them: slot them")
    return columns, notes


def _share_stock(at: _Floats, size: _Floats, whole: _Floats) -> tuple[_Ints, _Floats]:
    """Stock parts of tees and where on them each begins: two border tees share one where they fit.

    With at most two pieces a part, taking the longest that is left with the shortest is the
    fewest parts. The second one is cut from the other end: tees are the same both ways round.
    """
    at = at.copy()
    number = np.arange(len(at))
    at_end = _factory_ends(at, size, whole)
    can = at_end[:, 0] != at_end[:, 1]
    for length in np.unique(whole[can]).tolist():
        group = np.flatnonzero(can & (whole == length))
        group = group[np.argsort(size[group], kind="stable")]
        low, high = 0, len(group) - 1
        while low < high:
            short, long = group[low], group[high]
            if size[short] + size[long] <= length + tolerance.LENGTH:
                number[short] = number[long]
                at[short] = length - size[short] if at[long] <= tolerance.LENGTH else 0.0
                low += 1
            high -= 1
    return np.unique(number, return_inverse=True)[1].astype(np.int64), at


def _count_equal(values: _Ints) -> _Ints:
    """How many equal values stand before each one; equal values stand together."""
    _, first, count = np.unique(values, return_index=True, return_counts=True)
    order: _Ints = np.arange(len(values)) - np.repeat(first, count)
    return order
