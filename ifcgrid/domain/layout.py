"""Where the grid lies: a frame, a module, and why no other place is better."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ifcgrid.domain.frame import Frame

__all__ = ["MOST_ROWS", "Border", "Candidate", "Certificate", "Layout", "find_row_offsets"]

MOST_ROWS = 12
"""After at most so many rows the pattern of a staggered layout repeats."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Border:
    """The strip along one wall of a zone's outline.

    `ring` 0 is the outer ring, 1.. the holes; `edge` the index of the edge in it (from
    vertex `edge` to the next). `start`, `end` are its ends in model coordinates, `length`
    its length. `least` and `greatest` are the widths of the strip between the wall and the
    nearest parallel grid line inside the room, at its narrow and wide end; a wall more
    than `tolerance.ANGLE_DEG` off the grid tapers. `axis` is "u" when the strip is
    measured along the mains, "v" across them, "oblique" when the wall is at more than 20
    degrees to both; then the widths are those of the pieces there at their narrowest
    passages. All in mm.
    """

    ring: int
    edge: int
    start: tuple[float, float]
    end: tuple[float, float]
    length: float
    axis: str
    least: float
    greatest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A layout that was tried: where it lay, how it scored, and the term on which it lost ("" = won)."""

    angle_deg: float
    origin: tuple[float, float]
    scores: tuple[tuple[str, float], ...]
    lost_on: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """Why the layout was chosen.

    `method` is `exact` (no offset in the tried directions scores better; proof in
    `statement`), `searched` (offsets were scanned and refined; `resolution` in mm says how
    finely) or `given` (its place was handed in and only measured). `tried` counts
    candidates; `best` holds the first few in order, the winner first, then runners-up.
    `gap` is the most that any other place in the tried directions could gain on the winner
    in `gap_term`, the first term of the policy in which that is not nothing: proved, in the
    term's own unit. 0.0 with "" where nothing can be gained, None where it is not known.
    """

    method: str
    tried: int
    resolution: float
    statement: str
    best: tuple[Candidate, ...]
    gap: float | None = None
    gap_term: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """A lattice in a zone.

    u runs along the mains. Line i of the cross tees lies at u = i * along, line j parallel
    to the mains at v = j * across; cell (i, j) spans lines i..i+1 and j..j+1. The frame's
    origin is the node (0, 0), the last one at or before the zone's least u and v, so inside
    cells count from 0 and inside lines from 1. Mains lie on lines with
    j % main_every == main_phase. `columns` and `rows` are the numbers of cells that reach
    across the zone. `reason` says in one sentence which policy won, or which minimum could
    not be met and where. Lengths in mm.

    `row_shift` is the share of `along` by which each row of cells lies further along u than
    the one before (0: none); row j is between the lines j and j + 1, and its tee lines lie
    at u = i * along + `row_offset(j)`. `set_out_from` says in words what fixed the direction
    or the place before anything was searched ("" = nothing did). `narrow` names the edges
    (ring, edge) whose borders fall short of the minimum, the worst first.
    """

    frame: Frame
    along: float
    across: float
    main_every: int
    main_phase: int
    columns: int
    rows: int
    borders: tuple[Border, ...]
    scores: tuple[tuple[str, float], ...]
    meets_minimum: bool
    reason: str
    policy: str
    certificate: Certificate
    row_shift: float = 0.0
    set_out_from: str = ""
    narrow: tuple[tuple[int, int], ...] = ()

    @property
    def row_offsets(self) -> tuple[float, ...]:
        """How far the tee lines of rows 0, 1, 2 ... are shifted along u, until the pattern repeats."""
        return find_row_offsets(self.row_shift, self.along)

    def row_offset(self, row: int) -> float:
        """How far the tee lines of a row are shifted along u, in [0, along)."""
        offsets = self.row_offsets
        return offsets[row % len(offsets)]


def find_row_offsets(row_shift: float, along: float) -> tuple[float, ...]:
    """The shifts in mm of rows 0, 1, 2 ... until the pattern repeats, each in [0, along).

    >>> find_row_offsets(0.5, 1200.0), find_row_offsets(0.0, 600.0)
    ((0.0, 600.0), (0.0,))
    """
    share = Fraction(row_shift).limit_denominator(MOST_ROWS)
    return tuple(float(k * share % 1) * along for k in range(share.denominator))
