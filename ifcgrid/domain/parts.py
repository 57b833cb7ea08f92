"""What the members of a ceiling are made of: every part with its bar's length and its mark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.marks import mark_lengths

__all__ = ["MemberPart", "find_parts", "tee_stocks"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MemberPart:
    """One part of a member, as it is cut from one bar.

    `member` is the member's index, `number` counts its parts from its start; `piece` is the
    index in the ceiling's pieces, None where those were not worked out and of wall angles.
    `length` and `stock`, the length of the bar that it is cut from, are in mm; `mark` names
    it by `ifcgrid.domain.marks`. Its full key is `zone key/member key/number`.
    """

    member: int
    number: int
    piece: int | None
    role: Role
    length: float
    stock: float
    mark: str

    @property
    def is_whole(self) -> bool:
        """Whether it is a bar of which nothing is cut."""
        return tolerance.is_equal(self.length, self.stock)


def find_parts(ceiling: Ceiling) -> tuple[MemberPart, ...]:
    """The parts of all members: the ceiling's pieces, then what has none, each by member and place.

    What has no pieces (wall angles; mains and tees where the system does not say how they
    are cut) is cut into whole bars and no more than one rest a member.
    """
    if ceiling.pieces is None:
        return tuple(_by_member(ceiling, tuple(Role)))
    return (*_by_piece(ceiling), *_by_member(ceiling, (Role.WALL_ANGLE,)))


def tee_stocks(ceiling: Ceiling) -> tuple[float, ...]:
    """Lengths (mm) of the tees that the system has, those of the first rank first."""
    if ceiling.system.cutting is not None:
        return ceiling.system.cutting.tees
    return tuple(sorted({ceiling.system.main_spacing, ceiling.system.along}, reverse=True))


def _by_piece(ceiling: Ceiling) -> list[MemberPart]:
    pieces = ceiling.pieces
    assert pieces is not None
    roles = [Role(role) for role in ceiling.members.role.tolist()]
    lengths = (pieces.end - pieces.start).tolist()
    stocks = None if pieces.stock_length is None else pieces.stock_length.tolist()
    found = []
    for k, (member, number) in enumerate(zip(pieces.member.tolist(), pieces.number.tolist(), strict=True)):
        role, length = roles[member], tolerance.to_raster(lengths[k])
        found.append(
            MemberPart(
                member=member,
                number=number,
                piece=k,
                role=role,
                length=length,
                stock=_shortest(ceiling, role, length) if stocks is None else stocks[k],
                mark=pieces.mark[k],
            )
        )
    return found


def _by_member(ceiling: Ceiling, roles: Sequence[Role]) -> list[MemberPart]:
    members = ceiling.members
    whole = members.length.tolist()
    rows: list[tuple[int, int, Role, float, float]] = []
    for member in np.flatnonzero(np.isin(members.role, roles)).tolist():
        role = Role(int(members.role[member]))
        length = tolerance.to_raster(whole[member])
        stock = _shortest(ceiling, role, length)
        count = max(tolerance.ceil_div(length, stock), 1)
        rows += [(member, k, role, min(stock, length - k * stock), stock) for k in range(count)]
    roles_of = np.array([role for _, _, role, *_ in rows], dtype=np.int32)
    lengths = np.array([length for *_, length, _ in rows], dtype=np.float64)
    stocks = np.array([stock for *_, stock in rows], dtype=np.float64)
    marks = mark_lengths(roles_of, lengths, np.abs(lengths - stocks) <= tolerance.LENGTH)
    return [
        MemberPart(member=member, number=k, piece=None, role=role, length=length, stock=stock, mark=mark)
        for (member, k, role, length, stock), mark in zip(rows, marks, strict=True)
    ]


def _shortest(ceiling: Ceiling, role: Role, length: float) -> float:
    """The bar that a part of a member is cut from: of tees the shortest of its rank or longer."""
    if role is Role.WALL_ANGLE:
        return ceiling.system.angle_stock
    if role is Role.MAIN_RUNNER:
        return ceiling.system.main_stock
    tees = tee_stocks(ceiling)
    rank = [tees[0] if role is Role.CROSS_TEE else tees[-1], *sorted(tees), ceiling.system.main_stock]
    equal = [t for t in tees if tolerance.is_equal(t, length)]
    fitting = [t for t in rank if not tolerance.is_greater(length, t)]
    return (equal or fitting or [ceiling.system.main_stock])[0]
