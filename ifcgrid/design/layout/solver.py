"""Where the grid lies in a room: directions, offsets and mains that no other layout beats.

Terms of the policy are compared one after the other. In a room whose walls all run along
the grid the optimum is exact; in any other room the offsets are scanned and refined.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from ifcgrid.design.layout.batch import Request, solve_straight
from ifcgrid.design.layout.borders import explain_borders, list_borders, list_narrow
from ifcgrid.design.layout.kept import keep_lines
from ifcgrid.design.layout.lattice import Lattice, make_lattices, see_plan
from ifcgrid.design.layout.places import check_outline, directions_of, find_frame, named_scores
from ifcgrid.design.layout.scoring import best_rows, lost_on, rank_rows
from ifcgrid.design.layout.search import Outcome, Trials, search
from ifcgrid.design.layout.seats import HeldPoint
from ifcgrid.design.layout.stagger import solve_staggered
from ifcgrid.domain.building import HeldLine
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.layout import Candidate, Certificate, Layout
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.system import GridSystem

__all__ = ["Finalist", "Request", "certify", "choose", "solve_layout", "solve_layouts", "solve_requests"]

_MOST_CANDIDATES = 9
"""Candidates that a certificate keeps, the winner with them."""

_MOST_ROOMS = 2000
"""Rooms that are solved in one go, to bound the memory."""


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
    request = Request(outline=outline, key=key, fixtures=fixtures, points=points, angles=angles, lines=lines)
    return _or_raise(solve_requests([request], system, policy)[0])


def solve_layouts(
    outlines: Sequence[Polygon],
    system: GridSystem,
    policy: Policy,
    *,
    keys: Sequence[str] | None = None,
    angles: Sequence[Sequence[float] | None] | None = None,
) -> list[Layout]:
    """The layouts of many rooms, the same as those of `solve_layout` for each, in far less time.

    `keys` and `angles`, when given, hold one entry a room.

    Raises:
        NoLayoutError: an outline is no usable polygon; its `key` tells which.
    """
    requests = [
        Request(outline=outline, key=key, angles=own)
        for outline, key, own in zip(
            outlines, keys or [""] * len(outlines), angles or [None] * len(outlines), strict=True
        )
    ]
    return [_or_raise(answer) for answer in solve_requests(requests, system, policy)]


def _or_raise(answer: Layout | NoLayoutError) -> Layout:
    if isinstance(answer, NoLayoutError):
        raise answer
    return answer


def solve_requests(
    requests: Sequence[Request], system: GridSystem, policy: Policy
) -> list[Layout | NoLayoutError]:
    """The layout of every room, or the reason why it has none, in their order.

    Rooms whose walls all run along the grid are solved together, the others one by one.
    """
    answers: dict[int, Layout | NoLayoutError] = {}
    for begin in range(0, len(requests), _MOST_ROOMS):
        usable = []
        for number in range(begin, min(begin + _MOST_ROOMS, len(requests))):
            try:
                check_outline(requests[number].outline, requests[number].key)
                usable.append(number)
            except NoLayoutError as error:
                answers[number] = error
        if usable and not system.row_shift:
            answers.update(solve_straight(requests, usable, system, policy))
        for number in usable:
            if number not in answers:
                answers[number] = _search_room(requests[number], system, policy)
    return [answers[number] for number in range(len(requests))]


def _search_room(request: Request, system: GridSystem, policy: Policy) -> Layout | NoLayoutError:
    """A room with oblique or curved walls, or a system with shifted rows."""
    try:
        if system.row_shift:
            return solve_staggered(
                request.outline,
                system,
                policy,
                key=request.key,
                fixtures=request.fixtures,
                angles=request.angles,
                lines=request.lines,
            )
        outcomes = [
            search(lattice, keep_lines(lattice.plan.frame, lattice.modules, request.lines, request.key))
            for angle, ways in directions_of(request.outline, request.angles)
            for lattice in make_lattices(
                see_plan(request.outline, angle, request.fixtures, request.points), system, policy, ways
            )
        ]
    except NoLayoutError as error:
        return error
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
    narrow = list_narrow(lattice, way, borders)
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
        scores=named_scores(winner.scores, policy),
        meets_minimum=not narrow,
        narrow=tuple((border.ring, border.edge) for border in narrow),
        reason=explain_borders(lattice, way, borders, policy, is_exact=is_exact),
        policy=policy.id,
        certificate=certify(winner, others, outcomes, policy),
    )


def certify(
    winner: Finalist, others: Sequence[Finalist], outcomes: Sequence[Outcome], policy: Policy
) -> Certificate:
    """What was tried and why nothing else is better, the winner first."""
    is_exact = all(outcome.is_exact for outcome in outcomes)
    gap, gap_term = _gap(winner, outcomes, policy)
    return Certificate(
        method="exact" if is_exact else "searched",
        tried=sum(outcome.tried for outcome in outcomes),
        resolution=max(outcome.resolution for outcome in outcomes),
        statement=_statement(outcomes, policy, gap, gap_term, is_exact=is_exact),
        best=_candidates(winner, others, policy),
        gap=gap,
        gap_term=gap_term,
    )


def _gap(winner: Finalist, outcomes: Sequence[Outcome], policy: Policy) -> tuple[float | None, str]:
    """What is left to gain on the winner in the first term that is not proved in all lattices.

    A lattice that has lost on the terms that are proved for it cannot gain anything.
    """
    order = [term.value for term in policy.terms]
    found: tuple[float | None, str] = (0.0, "")
    for outcome in outcomes:
        if not outcome.gap_term:
            continue
        place = order.index(outcome.gap_term)
        if lost_on(outcome.best.scores[0][:place].tolist(), winner.scores[:place], policy.terms[:place]):
            continue
        if not found[1] or place < order.index(found[1]):
            # The bound is zero for what has none of it, so all of the winner's could be gained.
            known = outcome.gap is not None
            found = (float(winner.scores[place]) if known else None, outcome.gap_term)
    return found


def _candidates(winner: Finalist, others: Sequence[Finalist], policy: Policy) -> tuple[Candidate, ...]:
    """The winner, then the runners-up in order, each layout once.

    Where the mains may run either way on one grid, only the winner's grid is told for both.
    """
    ranked = [others[k] for k in rank_rows(np.array([f.scores for f in others]), policy.terms).tolist()]
    seen: set[tuple[float, ...]] = set()
    candidates: list[Candidate] = []
    for finalist in [winner, *ranked]:
        frame, _, _ = find_frame(finalist.lattice, finalist.way, finalist.offset)
        place = (round(frame.x, 1), round(frame.y, 1), round(frame.angle_deg, 3))
        is_other_way = finalist.lattice is winner.lattice and finalist.way != winner.way
        is_twin = is_other_way and finalist.offset != winner.offset
        if place in seen or is_twin or len(candidates) == _MOST_CANDIDATES:
            continue
        seen.add(place)
        lost = lost_on(finalist.scores, winner.scores, policy.terms)
        candidates.append(
            Candidate(
                angle_deg=frame.angle_deg,
                origin=(frame.x, frame.y),
                scores=named_scores(finalist.scores, policy),
                lost_on=lost.value if lost else ("order of offsets" if candidates else ""),
            )
        )
    return tuple(candidates)


def _statement(
    outcomes: Sequence[Outcome], policy: Policy, gap: float | None, gap_term: str, *, is_exact: bool
) -> str:
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
    text = f"{tried} layouts were compared {where}; offsets were scanned and refined to {step:g} mm"
    if not gap_term:
        return text + "; nothing better is left between them."
    before = [term.value for term in policy.terms[: [t.value for t in policy.terms].index(gap_term)]]
    if before:
        text += f". No other offset is better in {', '.join(before)}"
    if gap is not None:
        text += f"; in {gap_term} no more than {gap:.3g} is left to gain"
    return text + "."
