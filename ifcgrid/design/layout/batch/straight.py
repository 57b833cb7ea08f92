"""From requests to layouts, for those rooms whose walls all run along the grid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.design.layout.batch.cases import Cases, Directions, Request, see_cases
from ifcgrid.design.layout.batch.exact import Answer, solve_cases
from ifcgrid.design.layout.batch.report import compose_layouts
from ifcgrid.design.layout.directions import find_all_directions, split_ways
from ifcgrid.design.layout.kept import keep_lines
from ifcgrid.design.layout.walls import Edges, read_all_edges
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.policy import Policy
from ifcgrid.domain.system import GridSystem

__all__ = ["decide", "solve_straight"]

_Ints = NDArray[np.int64]


def solve_straight(
    requests: Sequence[Request], numbers: Sequence[int], system: GridSystem, policy: Policy
) -> dict[int, Layout | NoLayoutError]:
    """Layouts of those of the requests `numbers` whose walls all run along the grid.

    The others are missing in the result. A request whose building lines cannot be kept has
    the error instead.
    """
    answers: dict[int, Layout | NoLayoutError] = {}
    chosen = list(numbers)
    edges, owner, cases = _see(requests, chosen, system, policy)
    is_straight = np.ones(len(chosen), dtype=bool)
    np.logical_and.at(is_straight, cases.room, cases.is_rectilinear)
    kept, errors = _keep(cases, [requests[number] for number in chosen])
    for room, error in errors.items():
        answers[chosen[room]] = error
    stays = [room for room in range(len(chosen)) if is_straight[room] and room not in errors]
    if not stays:
        return answers
    if len(stays) < len(chosen):
        chosen = [chosen[room] for room in stays]
        edges, owner, cases = _see(requests, chosen, system, policy)
        kept, _ = _keep(cases, [requests[number] for number in chosen])
    answer = solve_cases(replace(cases, kept=kept), len(chosen))
    answers.update(zip(chosen, compose_layouts(answer, edges, owner, system), strict=True))
    return answers


def decide(outlines: Sequence[Polygon], system: GridSystem, policy: Policy) -> Answer:
    """The best places in rooms whose walls all run along the grid, without telling any more of them."""
    requests = [Request(outline=outline) for outline in outlines]
    _, _, cases = _see(requests, range(len(requests)), system, policy)
    return solve_cases(cases, len(requests))


def _see(
    requests: Sequence[Request], chosen: Sequence[int], system: GridSystem, policy: Policy
) -> tuple[Edges, _Ints, Cases]:
    own = [requests[number] for number in chosen]
    edges, owner = read_all_edges([request.outline for request in own])
    directions: list[Directions] = [
        [(angle, (0, 1)) for angle in found] if request.angles is None else split_ways(request.angles)
        for found, request in zip(find_all_directions(edges, owner, len(own)), own, strict=True)
    ]
    return edges, owner, see_cases(edges, owner, own, directions, system, policy)


def _keep(
    cases: Cases, requests: Sequence[Request]
) -> tuple[dict[tuple[int, int], float], dict[int, NoLayoutError]]:
    """The offsets that building lines give, by case and axis, and rooms in which they cannot be kept."""
    kept: dict[tuple[int, int], float] = {}
    errors: dict[int, NoLayoutError] = {}
    for case, room in enumerate(cases.room.tolist()):
        request = requests[room]
        if not request.lines:
            continue
        try:
            given = keep_lines(cases.frame(case), cases.module[case].tolist(), request.lines, request.key)
        except NoLayoutError as error:
            errors.setdefault(room, error)
            continue
        kept.update({(case, axis): place for axis, place in enumerate(given) if place is not None})
    return kept, errors
