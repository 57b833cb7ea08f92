"""A ceiling as it will be hung. Everything countable is numpy arrays, one entry a piece.

Coordinates named local are (u, v) of the layout's frame in mm; z is model height in mm.
`room` arrays hold the index of the piece's room in `zone.rooms`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.domain.bracing import PerimeterWall, SeparationJoint, Stabilisers
from ifcgrid.domain.classification import Classification
from ifcgrid.domain.control_line import SetOutLine
from ifcgrid.domain.hanging import Braces, HangerKind, Pieces, Trapezes, Wires
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.plenum import Plenum
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.room import Zone
from ifcgrid.domain.seat import NO_SEATING, Seating
from ifcgrid.domain.system import GridSystem

__all__ = ["Ceiling", "Hangers", "Members", "Opening", "Panels", "Role"]


class Role(IntEnum):
    """What a member does. `CROSS_TEE` spans main to main, `SECOND_TEE` cross tee to cross tee."""

    MAIN_RUNNER = 0
    CROSS_TEE = 1
    SECOND_TEE = 2
    WALL_ANGLE = 3

    @property
    def word(self) -> str:
        """The role as it stands in keys and JSON: main_runner, cross_tee, second_tee, wall_angle."""
        return self.name.lower()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Panels:
    """Panels by cell. A panel's key is `panel/column/row`, with `/piece` from the second piece on.

    `column`, `row`, `piece`, `room` (n,) int; `area` (n,) mm²; `is_full` (n,) bool;
    `bounds` (n, 4) local min u, min v, max u, max v of the piece; `outlines` maps the
    indices of pieces that are no rectangles to their local polygon.
    """

    column: NDArray[np.int32]
    row: NDArray[np.int32]
    piece: NDArray[np.int32]
    room: NDArray[np.int32]
    area: NDArray[np.float64]
    is_full: NDArray[np.bool_]
    bounds: NDArray[np.float64]
    outlines: dict[int, Polygon]

    def __len__(self) -> int:
        return len(self.column)

    def keys(self) -> list[str]:
        """One key a panel, in array order."""
        return [
            f"panel/{c}/{r}" + (f"/{p}" if p else "")
            for c, r, p in zip(self.column.tolist(), self.row.tolist(), self.piece.tolist(), strict=True)
        ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Members:
    """Members by line. A member's key is `role/line/index`.

    `role`, `line`, `index`, `room` (n,) int; `start`, `end` (n, 2) local, on the centre line
    of the face at the ceiling's underside, for a wall angle on the wall's face with the
    room on the left when going from start to end. For mains and second tees `line` is the
    j of their line, for cross tees the i of theirs, for wall angles the ring of the
    outline; `index` is the position along the line counted in lattice steps (cross tees:
    the j of the first line at or below the piece; second tees: the i; mains: the run; wall
    angles: the edge).
    """

    role: NDArray[np.int32]
    line: NDArray[np.int32]
    index: NDArray[np.int32]
    room: NDArray[np.int32]
    start: NDArray[np.float64]
    end: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.role)

    @property
    def length(self) -> NDArray[np.float64]:
        """Lengths (n,) in mm."""
        lengths: NDArray[np.float64] = np.hypot(*(self.end - self.start).T)
        return lengths

    def keys(self) -> list[str]:
        """One key a member, in array order."""
        return [
            f"{Role(r).word}/{line}/{i}"
            for r, line, i in zip(self.role.tolist(), self.line.tolist(), self.index.tolist(), strict=True)
        ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hangers:
    """Hangers by main. A hanger's key is `hanger/line/index`.

    `line` is the j of the main, `index` counts along the line over all its runs; `point`
    (n, 2) local; `bottom` (n,) z of the main's top, `top` (n,) z of the soffit it is fixed
    to, NaN where there is none or it leaves no room above the main; `support` names the key
    of that structure, "" where the model has none above; `fixing` says what kind of
    structure that is (slab, beam, roof, "" where unknown). A splayed hanger's upper end
    is at `top_point`; a hanger under a trapeze ends at the bar's underside.
    """

    line: NDArray[np.int32]
    index: NDArray[np.int32]
    room: NDArray[np.int32]
    point: NDArray[np.float64]
    bottom: NDArray[np.float64]
    top: NDArray[np.float64]
    support: tuple[str, ...]
    kind: NDArray[np.int32] | None = None
    top_point: NDArray[np.float64] | None = None
    fixing: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.line)

    @property
    def kinds(self) -> NDArray[np.int32]:
        """Kinds (n,), straight where none were given."""
        return np.full(len(self), HangerKind.STRAIGHT, dtype=np.int32) if self.kind is None else self.kind

    @property
    def top_points(self) -> NDArray[np.float64]:
        """Local places (n, 2) of the upper ends, over the lower ones where none were given."""
        return self.point if self.top_point is None else self.top_point

    @property
    def lengths(self) -> NDArray[np.float64]:
        """How far (n,) each goes from the main to its upper end in mm, NaN where that is unknown."""
        aside = np.hypot(*(self.top_points - self.point).T)
        lengths: NDArray[np.float64] = np.hypot(self.top - self.bottom, aside)
        return lengths

    def keys(self) -> list[str]:
        """One key a hanger, in array order."""
        return [f"hanger/{j}/{i}" for j, i in zip(self.line.tolist(), self.index.tolist(), strict=True)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A hole in the ceiling for one device: the device's key, its outline (local), its room.

    `is_lay_in` tells that it fills whole cells (first column, first row, columns, rows in
    `cells`) and so replaces panels; else it is cut into a panel.
    """

    key: str
    outline: Polygon
    room: int
    is_lay_in: bool
    cells: tuple[int, int, int, int] | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ceiling:
    """One zone's ceiling. Its key is the zone's; a part's full key is `zone key/part key`.

    `pieces` is what mains and tees are cut from; `trapezes`, `braces`, `wires` and
    `stabilisers` are there when the design has them; None means that they were not worked
    out. `joints` part the ceiling; `perimeter` says how the grid ends at each wall, empty
    where nothing asks for it. `plenum` tells how high it could hang, where that was studied.
    `classification` is the class of each room's ceiling in the order of `zone.rooms`, empty
    where the plan gives none; `control_lines` are the strings of the set-out sheet, empty where
    they were not worked out.
    """

    zone: Zone
    system: GridSystem
    layout: Layout
    panels: Panels
    members: Members
    hangers: Hangers
    openings: tuple[Opening, ...] = ()
    policy: Policy | None = None
    seating: Seating = NO_SEATING
    pieces: Pieces | None = None
    trapezes: Trapezes | None = None
    braces: Braces | None = None
    wires: Wires | None = None
    stabilisers: Stabilisers | None = None
    joints: tuple[SeparationJoint, ...] = ()
    perimeter: tuple[PerimeterWall, ...] = ()
    classification: tuple[Classification | None, ...] = ()
    control_lines: tuple[SetOutLine, ...] = ()
    plenum: Plenum | None = None

    @property
    def key(self) -> str:
        """The zone's key."""
        return self.zone.key
