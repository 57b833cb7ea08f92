"""Layouts whose rows are shifted against each other, such as planks in half bond.

The rows of a pattern that repeats after p rows are p plain lattices, each shifted along u
and each seen in every p-th row only. Strips across the rows are those of a plain layout;
at the ends of the rows every wall meets all p of them, so the worst one counts against
the minimum, and differences are their mean. Offsets are scanned, not proved.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.design.layout.borders import explain_borders, list_borders, list_narrow
from ifcgrid.design.layout.coverage import Coverage, measure_cells
from ifcgrid.design.layout.kept import keep_lines
from ifcgrid.design.layout.lattice import Lattice, make_lattices, see_plan
from ifcgrid.design.layout.offsets import SEPARABLE, Axis
from ifcgrid.design.layout.places import check_outline, directions_of, find_frame, named_scores
from ifcgrid.design.layout.scoring import best_rows, lost_on, rank_rows
from ifcgrid.domain import tolerance
from ifcgrid.domain.building import HeldLine
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Border, Candidate, Certificate, Layout, find_row_offsets
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.domain.system import GridSystem

__all__ = ["measure_staggered", "solve_staggered"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
_Bools = NDArray[np.bool_]

_SCAN = 96
"""Offsets a module that are tried besides the critical ones."""

_ZOOM = 8
"""How much finer each following scan is, and how many places it looks at."""

_MOST_TIES = 16
"""Equally good offsets a direction that are carried into the joint terms."""

_MOST_CANDIDATES = 9

_Score = Callable[[_Floats], dict[Term, _Floats]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """A lattice in one way of its mains with shifted rows; `shifts` (p,) in mm along u."""

    lattice: Lattice
    way: int
    shifts: tuple[float, ...]

    @property
    def along(self) -> Axis:
        """The direction of the rows: u."""
        return self.lattice.axes[self.way]

    @property
    def across(self) -> Axis:
        """The direction across the rows: v, or its reverse when the mains run along y."""
        return self.lattice.axes[1 - self.way]

    def offsets(self, along: _Floats, across: _Floats) -> _Floats:
        """Offsets (n, 2) along x and y."""
        return np.stack([across, along] if self.way else [along, across], axis=1)

    def score_along(self, offsets: _Floats) -> dict[Term, _Floats]:
        """The terms of the rows' direction at each offset (k,) of the first row."""
        parts = [self.along.score(np.mod(offsets + shift, self.along.module)) for shift in self.shifts]
        worst = (Term.BORDER_MINIMUM, Term.COLUMN_STRIPS, Term.SMALLEST_BORDER)
        return {
            term: (np.max if term in worst else np.mean)([part[term] for part in parts], axis=0)
            for term in SEPARABLE
        }

    def critical(self) -> _Floats:
        """Offsets of the first row at which the score of any row may be least."""
        own = self.along.critical()
        every = np.mod(np.concatenate([own - shift for shift in self.shifts]), self.along.module)
        return np.unique(every.round(9))

    def is_clear(self, offsets: _Floats) -> _Bools:
        """Which offsets (k,) put the line of no row a hair beside a wall."""
        clear = [self.along.is_clear(np.mod(offsets + s, self.along.module)) for s in self.shifts]
        both: _Bools = np.logical_and.reduce(clear)
        return both

    def numbers(self, offsets: _Floats, shape: tuple[int, int, int]) -> _Ints:
        """The layout's row that each cell (offsets, rows, columns) of a coverage lies in."""
        if not self.way:
            return np.broadcast_to(np.arange(shape[1])[None, :, None], shape)
        places = offsets[:, 0].tolist()
        base = np.array([self.lattice.first_line(0, p) for p in places])
        last = self.across.span - np.array([self.lattice.first_line(0, p, mirrored=True) for p in places])
        first = np.round((last - base) / self.across.module).astype(np.int64) - 1
        return np.broadcast_to(first[:, None, None] - np.arange(shape[2]), shape)

    def coverages(self, offsets: _Floats, marked: _Bools) -> Iterator[tuple[Coverage, _Bools]]:
        """For each row of the pattern the cells at offsets (k, 2), and which of them are in such rows."""
        module = (self.lattice.axes[0].module, self.lattice.axes[1].module)
        edges = self.lattice.plan.edges
        for number, shift in enumerate(self.shifts):
            moved = offsets.copy()
            moved[:, self.way] += shift
            coverage = measure_cells(edges.start, edges.end, module, moved, marked=marked)
            own = self.numbers(offsets, coverage.area.shape) % len(self.shifts) == number
            yield coverage, own


def solve_staggered(
    outline: Polygon,
    system: GridSystem,
    policy: Policy,
    *,
    key: str = "",
    fixtures: Sequence[Polygon] = (),
    angles: Sequence[float] | None = None,
    lines: Sequence[HeldLine] = (),
) -> Layout:
    """Lay shifted rows in a room. Arguments as in `solve_layout`.

    `fixtures` count by the mean of the rows, for which row a device meets is open while
    the offsets are searched.

    Raises:
        NoLayoutError: the outline is no usable polygon.
    """
    check_outline(outline, key)
    shifts = find_row_offsets(system.row_shift, system.along)
    found = []
    for angle, ways in directions_of(outline, angles):
        plan = see_plan(outline, angle, fixtures)
        for way in ways:
            (lattice,) = make_lattices(plan, system, policy, (way,))
            rows = _Rows(lattice=lattice, way=way, shifts=shifts)
            along, across = _ties(rows, keep_lines(lattice.plan.frame, lattice.modules, lines, key))
            pairs = np.stack([np.repeat(along, len(across)), np.tile(across, len(along))], axis=1)
            offsets = rows.offsets(pairs[:, 0], pairs[:, 1])
            found.append((rows, offsets, _score(rows, offsets)))
    scores = np.concatenate([part[2] for part in found])
    ranked = rank_rows(scores, policy.terms).tolist()
    first = int(np.flatnonzero(best_rows(scores, policy.terms))[0])
    origin = [(rows, offset) for rows, offsets, _ in found for offset in offsets]
    certificate = Certificate(
        method="searched",
        tried=len(scores),
        resolution=tolerance.SEARCH_STEP,
        statement=f"{len(scores)} layouts of shifted rows were compared; what is judged in one direction "
        f"was scanned to {tolerance.SEARCH_STEP:g} mm, the rest at equally good offsets "
        f"(at most {_MOST_TIES} a direction).",
        best=_candidates([first, *ranked], origin, scores, policy),
    )
    rows, offset = origin[first]
    return _compose(rows, offset, scores[first], system, policy, certificate)


def measure_staggered(outline: Polygon, system: GridSystem, policy: Policy, frame: Frame) -> Layout:
    """What shifted rows leave in a room when a node of row 0 on line 0 and the direction are given."""
    shifts = find_row_offsets(system.row_shift, system.along)
    if frame.angle_deg % 360.0 >= 180.0:
        # Seen the other way round, what was row -1 is row 0.
        x, y = frame.to_world([[shifts[-1], 0.0]])[0].tolist()
        frame = Frame(x=x, y=y, angle_deg=frame.angle_deg % 360.0 - 180.0)
    way = int(frame.angle_deg >= 90.0)
    (lattice,) = make_lattices(see_plan(outline, frame.angle_deg - 90.0 * way, ()), system, policy, (way,))
    rows = _Rows(lattice=lattice, way=way, shifts=shifts)
    _, low_v, _, _ = frame.shape_to_local(outline).bounds
    first = tolerance.floor_div(low_v, system.across)
    x, y = frame.to_world([[shifts[first % len(shifts)], first * system.across]])[0].tolist()
    local = lattice.plan.frame.to_local([[x, y]])[0]
    offset = np.array([p % axis.module for p, axis in zip(local.tolist(), lattice.axes, strict=True)])
    scores = _score(rows, offset[None])[0]
    placed = Frame(x=x, y=y, angle_deg=frame.angle_deg)
    certificate = Certificate(
        method="given",
        tried=1,
        resolution=0.0,
        statement="The place of the grid was given; no other was tried.",
        best=(
            Candidate(
                angle_deg=placed.angle_deg, origin=(x, y), scores=named_scores(scores, policy), lost_on=""
            ),
        ),
    )
    return _compose(rows, offset, scores, system, policy, certificate)


def _ties(rows: _Rows, kept: tuple[float | None, float | None]) -> tuple[_Floats, _Floats]:
    """Equally good offsets along and across the rows."""
    terms = [term for term in rows.lattice.policy.terms if term in SEPARABLE]
    leading = terms[: next((k for k, t in enumerate(rows.lattice.policy.terms) if t not in SEPARABLE), None)]
    if not leading:
        leading = terms[:1]
    found = []
    for axis, place, critical, is_clear, score in (
        (rows.along, kept[rows.way], rows.critical, rows.is_clear, rows.score_along),
        (rows.across, kept[1 - rows.way], rows.across.critical, rows.across.is_clear, rows.across.score),
    ):
        if place is not None:
            found.append(np.array([place]))
        else:
            found.append(_scan(axis.module, critical(), is_clear, score, leading))
    return found[0], found[1]


def _scan(
    module: float,
    offsets: _Floats,
    is_clear: Callable[[_Floats], _Bools],
    score: _Score,
    terms: Sequence[Term],
) -> _Floats:
    """The best offsets of one direction on the leading terms, evenly thinned."""
    step = module / _SCAN
    between = (offsets + np.append(offsets[1:], offsets[0] + module)) / 2 % module
    offsets = np.concatenate([offsets, between, np.arange(_SCAN, dtype=float) * step])
    offsets = np.unique(offsets[is_clear(offsets)])
    scores = _matrix(score(offsets), terms)
    while step > tolerance.SEARCH_STEP:
        top = offsets[rank_rows(scores, terms)[:_ZOOM]]
        step /= _ZOOM
        finer = np.unique(np.mod(top[:, None] + np.arange(-_ZOOM, _ZOOM + 1) * step, module))
        finer = finer[is_clear(finer)]
        offsets = np.concatenate([offsets, finer])
        scores = np.concatenate([scores, _matrix(score(finer), terms)])
    best = np.unique(offsets[best_rows(scores, terms)].round(9))
    if len(best) > _MOST_TIES:
        best = best[np.unique(np.linspace(0, len(best) - 1, _MOST_TIES).round().astype(int))]
    return best


def _matrix(scores: dict[Term, _Floats], terms: Sequence[Term]) -> _Floats:
    return np.stack([scores[term] for term in terms], axis=1)


def _score(rows: _Rows, offsets: _Floats) -> _Floats:
    """Scores (n, terms) of whole layouts at offsets (n, 2) of the first row."""
    lattice, way = rows.lattice, rows.way
    values = _measure(rows, offsets)
    along, across = rows.score_along(offsets[:, way]), rows.across.score(offsets[:, 1 - way])
    for term in SEPARABLE:
        values[term] = along[term] + across[term]
    mains = np.array([lattice.mains_at(way, (float(p), float(p))) for p in offsets[:, 1 - way]])
    values[Term.MAINS] = mains[:, 1]
    values[Term.FIXTURES] = values[Term.FIXTURES] + mains[:, 2]
    return _matrix(values, lattice.policy.terms)


def _measure(rows: _Rows, offsets: _Floats) -> dict[Term, _Floats]:
    """Cut panels, waste and shortfalls at oblique walls at offsets (k, 2)."""
    lattice, count = rows.lattice, len(offsets)
    least = np.array([axis.minimum for axis in lattice.axes])
    cut, full, short = np.zeros(count), np.zeros(count), np.zeros(count)
    for coverage, own in rows.coverages(offsets, lattice.oblique):
        cut += (coverage.is_piece & ~coverage.is_full & own).sum(axis=(1, 2))
        full += (coverage.is_full & own).sum(axis=(1, 2))
        pieces = coverage.pieces
        assert pieces is not None
        at = (pieces.offset, pieces.row, pieces.column)
        counts = pieces.is_marked & own[at] & (coverage.area[at] >= tolerance.PIECE_AREA)
        missing = np.maximum(least - pieces.extent[counts], 0.0).sum(axis=1)
        short += np.bincount(pieces.offset[counts], weights=missing, minlength=count)
    module = lattice.axes[0].module * lattice.axes[1].module
    return {
        Term.CUT_PANELS: cut,
        Term.WASTE: ((cut + full) * module - lattice.plan.area) / 1e6,
        Term.OBLIQUE_PIECES: short,
    }


def _candidates(
    order: Sequence[int], origin: Sequence[tuple[_Rows, _Floats]], scores: _Floats, policy: Policy
) -> tuple[Candidate, ...]:
    """The winner, then the runners-up in order, each place once."""
    made: list[Candidate] = []
    seen: set[tuple[float, ...]] = set()
    for k in order:
        rows, offset = origin[k]
        frame, _, _ = find_frame(rows.lattice, rows.way, (float(offset[0]), float(offset[1])))
        place = (round(frame.x, 1), round(frame.y, 1), round(frame.angle_deg, 3))
        if place in seen or len(made) == _MOST_CANDIDATES:
            continue
        seen.add(place)
        lost = lost_on(scores[k].tolist(), scores[order[0]].tolist(), policy.terms)
        made.append(
            Candidate(
                angle_deg=frame.angle_deg,
                origin=(frame.x, frame.y),
                scores=named_scores(scores[k].tolist(), policy),
                lost_on=lost.value if lost else ("order of offsets" if made else ""),
            )
        )
    return tuple(made)


def _compose(
    rows: _Rows,
    offset: _Floats,
    scores: _Floats,
    system: GridSystem,
    policy: Policy,
    certificate: Certificate,
) -> Layout:
    lattice, way = rows.lattice, rows.way
    place = (float(offset[0]), float(offset[1]))
    frame, columns, count = find_frame(lattice, way, place)
    borders = _borders(rows, offset)
    narrow = list_narrow(lattice, way, borders)
    return Layout(
        frame=frame,
        along=system.along,
        across=system.across,
        main_every=system.main_every,
        main_phase=0,
        columns=columns,
        rows=count,
        borders=borders,
        scores=named_scores(scores.tolist(), policy),
        meets_minimum=not narrow,
        narrow=tuple((border.ring, border.edge) for border in narrow),
        reason=explain_borders(lattice, way, borders, policy, is_exact=False),
        policy=policy.id,
        certificate=certificate,
        row_shift=system.row_shift,
    )


def _borders(rows: _Rows, offset: _Floats) -> tuple[Border, ...]:
    """Strips along every edge: the least and the greatest of all rows."""
    lattice, way = rows.lattice, rows.way
    each = []
    for shift in rows.shifts:
        moved = offset.copy()
        moved[way] = (moved[way] + shift) % rows.along.module
        each.append(list_borders(lattice, way, (float(moved[0]), float(moved[1]))))
    rest = _pieces_at(rows, offset)
    merged = []
    for borders in zip(*each, strict=True):
        one = borders[0]
        least, greatest = rest.get(
            (one.ring, one.edge), (min(b.least for b in borders), max(b.greatest for b in borders))
        )
        merged.append(replace(one, least=least, greatest=greatest))
    return tuple(merged)


def _pieces_at(rows: _Rows, offset: _Floats) -> dict[tuple[int, int], tuple[float, float]]:
    """Least and greatest size of the pieces at each oblique or curved edge, by ring and edge."""
    edges, oblique = rows.lattice.plan.edges, rows.lattice.oblique
    sizes: dict[tuple[int, int], tuple[float, float]] = {}
    for coverage, own in rows.coverages(offset[None], oblique):
        pieces = coverage.pieces
        assert pieces is not None
        at = (pieces.offset, pieces.row, pieces.column)
        counts = own[at] & (coverage.area[at] >= tolerance.PIECE_AREA)
        for k in np.flatnonzero(oblique).tolist():
            cells = np.unique(pieces.cell[pieces.edge == k])
            found = pieces.extent[cells[counts[cells]]].min(axis=1)
            if len(found):
                key = (int(edges.ring[k]), int(edges.index[k]))
                low, high = sizes.get(key, (np.inf, 0.0))
                sizes[key] = (min(low, float(found.min())), max(high, float(found.max())))
    return sizes
