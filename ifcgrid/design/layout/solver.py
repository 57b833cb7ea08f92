"""Where the grid lies in a room: directions, offsets and mains that no other layout beats.

Terms of the policy are compared one after the other. In a room whose walls all run along
the grid the optimum is exact; in any other room the offsets are scanned and refined.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from ifcgrid.design.layout.borders import explain_borders, find_narrow, list_borders
from ifcgrid.design.layout.directions import find_directions
from ifcgrid.design.layout.kept import keep_lines
from ifcgrid.design.layout.scoring import best_rows, lost_on, rank_rows
from ifcgrid.design.layout.search import Lattice, Outcome, Trials, make_lattices, search, see_plan
from ifcgrid.design.layout.seats import HeldPoint
from ifcgrid.design.layout.walls import read_edges
from ifcgrid.domain import tolerance
from ifcgrid.domain.building import HeldLine
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Candidate, Certificate, Layout
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.system import GridSystem

__all__ = ["Finalist", "certify", "check_outline", "choose", "find_frame", "solve_layout", "split_ways"]

_MOST_CANDIDATES = 9
"""Candidates that a certificate keeps, the winner with them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finalist:
    """A whole layout of one lattice with its scores."""

    lattice: Lattice
    way: int
    phase: int
    offset: tuple[float, float]
    scores: tuple[float, ...]


def solve_layout(
    outline: Polygon,
    system: GridSystem,
    policy: Policy,
    *,
    key: str = "",
    fixtures: Sequence[Polygon] = (),
    points: Sequence[HeldPoint] = (),
    angles: Sequence[float] | None = None,
    lines: Sequence[HeldLine] = (),
) -> Layout:
    """Lay a grid in a room so that no other place or direction is better under the policy.

    Args:
        outline: the room in model coordinates in mm, holes for columns and islands.
        system: panel module and spacing of the mains.
        policy: terms in order, and the least border.
        key: the zone's key, for messages.
        fixtures: outlines, in model coordinates, of fixed devices that want whole cells.
        points: middles of smaller fixed devices that want an agreed point of a cell.
        angles: directions of u in degrees that are allowed; by default those of the walls,
            and at right angles to them.
        lines: lines of the building, along the grid, on which a line of it or the middle
            of a panel has to lie; only what they leave open is searched.

    Raises:
        NoLayoutError: the outline is no usable polygon.
    """
    check_outline(outline, key)
    outcomes = [
        search(lattice, keep_lines(lattice, lines, key))
        for angle, ways in _directions(outline, angles)
        for lattice in make_lattices(see_plan(outline, angle, fixtures, points), system, policy, ways)
    ]
    winner, others = choose(outcomes, policy)
    return _compose(winner, others, outcomes, system, policy)


def choose(outcomes: Sequence[Outcome], policy: Policy) -> tuple[Finalist, list[Finalist]]:
    """The best layout of all lattices that were searched, and the others worth telling about."""
    finalists = [
        f
        for outcome in outcomes
        for f in _finalists(outcome.lattice, outcome.best.pick(np.arange(len(outcome.best.way))[:8]))
    ]
    scores = np.array([f.scores for f in finalists])
    winner = finalists[int(np.flatnonzero(best_rows(scores, policy.terms))[0])]
    return winner, finalists + [
        f for outcome in outcomes for f in _finalists(outcome.lattice, outcome.others)
    ]


def check_outline(outline: Polygon, key: str) -> None:
    """Refuse what is no usable outline of a room.

    Raises:
        NoLayoutError: it is empty, crosses itself or covers next to nothing.
    """
    name = f"room {key}" if key else "the room"
    if not isinstance(outline, Polygon) or outline.is_empty:
        raise NoLayoutError(f"{name}: its outline is empty; give a polygon with an area", key)
    if not np.isfinite(shapely.get_coordinates(outline)).all():
        raise NoLayoutError(f"{name}: its outline holds coordinates that are no numbers", key)
    if not outline.is_valid:
        reason = shapely.is_valid_reason(outline)
        raise NoLayoutError(f"{name}: its outline is no simple polygon ({reason}); mend it first", key)
    if outline.area < tolerance.PIECE_AREA:
        raise NoLayoutError(
            f"{name}: its outline covers {outline.area:.1f} mm²; a ceiling needs "
            f"{tolerance.PIECE_AREA:.0f} mm² at least",
            key,
        )


def _directions(outline: Polygon, angles: Sequence[float] | None) -> list[tuple[float, tuple[int, ...]]]:
    """Directions modulo 90 degrees, and which of the two ways of the mains are allowed in each."""
    if angles is None:
        return [(angle, (0, 1)) for angle in find_directions(read_edges(outline))]
    return split_ways(angles)


def split_ways(angles: Sequence[float]) -> list[tuple[float, tuple[int, ...]]]:
    """Directions of u as directions modulo 90 degrees, each with the ways of the mains it allows."""
    ways: dict[float, set[int]] = {}
    for angle in angles:
        turned = round(angle % 180.0, 9) % 180.0
        ways.setdefault(turned % 90.0, set()).add(int(turned >= 90.0))
    if not ways:
        raise ValueError("angles is empty; give at least one direction in degrees, or None")
    return [(angle, tuple(sorted(ways[angle]))) for angle in sorted(ways)]


def _finalists(lattice: Lattice, trials: Trials) -> list[Finalist]:
    return [
        Finalist(lattice=lattice, way=way, phase=phase, offset=(x, y), scores=tuple(scores))
        for way, phase, (x, y), scores in zip(
            trials.way.tolist(),
            trials.phase.tolist(),
            trials.offset.tolist(),
            trials.scores.tolist(),
            strict=True,
        )
    ]


def find_frame(lattice: Lattice, way: int, offset: tuple[float, float]) -> tuple[Frame, int, int]:
    """The layout's frame and its numbers of columns and rows."""
    spans = [axis.span for axis in lattice.axes]
    modules = [axis.module for axis in lattice.axes]
    x = lattice.first_line(0, offset[0], mirrored=way == 1)
    y = lattice.first_line(1, offset[1])
    counts = [tolerance.ceil_div(s - at, m) for s, at, m in zip(spans, (x, y), modules, strict=True)]
    if way:
        x = spans[0] - x
        counts.reverse()
    world = lattice.plan.frame.to_world([[x, y]])[0].tolist()
    frame = Frame(x=world[0], y=world[1], angle_deg=lattice.plan.frame.angle_deg + 90.0 * way)
    return frame, counts[0], counts[1]


def _compose(
    winner: Finalist,
    others: Sequence[Finalist],
    outcomes: Sequence[Outcome],
    system: GridSystem,
    policy: Policy,
) -> Layout:
    lattice, way = winner.lattice, winner.way
    frame, columns, rows = find_frame(lattice, way, winner.offset)
    borders = list_borders(lattice, way, winner.offset)
    is_exact = all(outcome.is_exact for outcome in outcomes)
    return Layout(
        frame=frame,
        along=system.along,
        across=system.across,
        main_every=system.main_every,
        main_phase=winner.phase,
        columns=columns,
        rows=rows,
        borders=borders,
        scores=_named(winner.scores, policy),
        meets_minimum=find_narrow(lattice, way, borders) is None,
        reason=explain_borders(lattice, way, borders, policy, is_exact=is_exact),
        policy=policy.id,
        certificate=certify(winner, others, outcomes, policy),
    )


def certify(
    winner: Finalist, others: Sequence[Finalist], outcomes: Sequence[Outcome], policy: Policy
) -> Certificate:
    """What was tried and why nothing else is better, the winner first."""
    is_exact = all(outcome.is_exact for outcome in outcomes)
    return Certificate(
        method="exact" if is_exact else "searched",
        tried=sum(outcome.tried for outcome in outcomes),
        resolution=max(outcome.resolution for outcome in outcomes),
        statement=_statement(outcomes, is_exact=is_exact),
        best=_candidates(winner, others, policy),
    )


def _named(scores: Sequence[float], policy: Policy) -> tuple[tuple[str, float], ...]:
    # Adding 0.0 turns minus zero into zero; nobody wants to read "-0.0".
    return tuple((term.value, float(s) + 0.0) for term, s in zip(policy.terms, scores, strict=True))


def _candidates(winner: Finalist, others: Sequence[Finalist], policy: Policy) -> tuple[Candidate, ...]:
    """The winner, then the runners-up in order, each layout once."""
    ranked = [others[k] for k in rank_rows(np.array([f.scores for f in others]), policy.terms).tolist()]
    seen: set[tuple[float, ...]] = set()
    candidates: list[Candidate] = []
    for finalist in [winner, *ranked]:
        frame, _, _ = find_frame(finalist.lattice, finalist.way, finalist.offset)
        place = (round(frame.x, 1), round(frame.y, 1), round(frame.angle_deg, 3))
        if place in seen or len(candidates) == _MOST_CANDIDATES:
            continue
        seen.add(place)
        lost = lost_on(finalist.scores, winner.scores, policy.terms)
        candidates.append(
            Candidate(
                angle_deg=frame.angle_deg,
                origin=(frame.x, frame.y),
                scores=_named(finalist.scores, policy),
                lost_on=lost.value if lost else ("order of offsets" if candidates else ""),
            )
        )
    return tuple(candidates)


def _statement(outcomes: Sequence[Outcome], *, is_exact: bool) -> str:
    tried = sum(outcome.tried for outcome in outcomes)
    turns = sorted({outcome.lattice.plan.frame.angle_deg for outcome in outcomes})
    where = f"with the grid turned {', '.join(f'{t:g}' for t in turns)} degrees from the model's X axis"
    if is_exact:
        return (
            "Every term changes its slope or jumps only where a line meets a wall or device, where a strip "
            "reaches the minimum, or where a line or a panel's middle is midway between two walls; "
            f"all such offsets and the spots between them were compared, {tried} layouts {where}, "
            "so no other offset scores better."
        )
    step = max(outcome.resolution for outcome in outcomes)
    return f"{tried} layouts were compared {where}; offsets were scanned and refined to {step:g} mm."
