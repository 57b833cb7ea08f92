"""What is told of the layouts that were found: borders, frames, runners-up and the proof."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.layout.batch.axes import Axes
from ifcgrid.design.layout.batch.exact import Answer, best_apart, first_of_cases
from ifcgrid.design.layout.batch.measure import Pairs, measure_pairs
from ifcgrid.design.layout.borders import Judged, explain_judged, narrow_of
from ifcgrid.design.layout.ragged import expand, firsts, pair_up
from ifcgrid.design.layout.scoring import equal_within, lost_on
from ifcgrid.design.layout.walls import Edges
from ifcgrid.domain import tolerance
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Border, Candidate, Certificate, Layout
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.domain.system import GridSystem

__all__ = ["MOST_CANDIDATES", "compose_layouts"]

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]

MOST_CANDIDATES = 9
"""Candidates that a certificate keeps, the winner with them."""

_APART = 25
"""A runner-up worth telling about lies at least this part of a module beside the winner."""

_MOST_TIES = 8
"""Equally good layouts that are told about."""


def compose_layouts(answer: Answer, edges: Edges, owner: _Ints, system: GridSystem) -> list[Layout]:
    """The layouts of all rooms, in their order; `edges` are theirs in model coordinates, by `owner`."""
    cases = answer.axes[0].cases
    rooms = len(answer.tie_count)
    winners = answer.ties.pick(firsts(answer.tie_count))
    others = _worth_telling(answer, winners, rooms)
    told = Pairs(
        case=np.concatenate([winners.case, others.case]),
        way=np.concatenate([winners.way, others.way]),
        offset=np.concatenate([winners.offset, others.offset]),
        rank=np.concatenate([winners.rank, others.rank]),
    )
    scores, phase = measure_pairs(cases, answer.axes, told)
    frames, counts = _frames(answer.axes, told)
    candidates = _candidates(cases.room[told.case], scores, frames, rooms, cases.policy)
    borders, judged = _list_borders(answer.axes, winners, edges, owner, rooms)
    layouts = []
    for room in range(rooms):
        is_exact = answer.gap[room] == 0.0
        narrow = narrow_of(judged[room], borders[room])
        reason = explain_judged(judged[room], borders[room], cases.policy, is_exact=is_exact)
        layouts.append(
            Layout(
                frame=frames[room],
                along=system.along,
                across=system.across,
                main_every=system.main_every,
                main_phase=int(phase[room]),
                columns=counts[room][0],
                rows=counts[room][1],
                borders=borders[room],
                scores=candidates[room][0].scores,
                meets_minimum=not narrow,
                narrow=tuple((border.ring, border.edge) for border in narrow),
                reason=reason,
                policy=cases.policy.id,
                certificate=_certify(answer, room, candidates[room]),
            )
        )
    return layouts


def _worth_telling(answer: Answer, winners: Pairs, rooms: int) -> Pairs:
    """Layouts that a person would ask about: the other symmetric ones, the next best offsets and ties."""
    cases, axes = answer.axes[0].cases, answer.axes
    own = np.stack(answer.own, axis=1)
    own[winners.case] = winners.offset
    choices = []
    for number in (0, 1):
        module = axes[number].module
        half = np.mod(own[:, number] + module / 2, module)
        choices.append([own[:, number], half])
    fewer = []
    for number, offsets in enumerate(answer.offsets):
        module = axes[number].module[offsets.case]
        away = np.abs(np.mod(offsets.value - own[offsets.case, number] + module / 2, module) - module / 2)
        fewer.append(offsets.pick(away > module / _APART))
    best, _ = best_apart(axes, (fewer[0], fewer[1]), answer.prefix, rooms)
    count = len(cases)
    for number in (0, 1):
        choices[number].append(first_of_cases(fewer[number].pick(best[number]), count))
    for number, axis in cases.kept:
        for choice in choices[axis][1:]:
            choice[number] = np.nan
    parts = [(x, y) for x in choices[0] for y in choices[1]]
    flat = np.stack([np.stack(part, axis=1) for part in parts], axis=1).reshape(-1, 2)
    case = np.repeat(np.arange(count), len(parts))
    is_first = np.arange(len(flat)) % len(parts) == 0
    sizes = np.array([len(ways) for ways in cases.ways])
    ways = np.concatenate([np.array(w, dtype=np.int64) for w in cases.ways])
    keep = np.flatnonzero(np.isfinite(flat).all(axis=1))
    item, nth = expand(sizes[case[keep]])
    item = keep[item]
    way = ways[firsts(sizes)[case[item]] + nth]
    won = np.full(count, -1)
    won[winners.case] = winners.way
    # Where the mains may run either way on one grid, only the winner's grid is told for both.
    is_twin = (won[case[item]] >= 0) & (way != won[case[item]]) & ~is_first[item]
    is_winner = (way == won[case[item]]) & is_first[item]
    chosen = np.flatnonzero(~is_twin & ~is_winner)
    told = Pairs(
        case=case[item[chosen]],
        way=way[chosen],
        offset=flat[item[chosen]],
        rank=np.zeros(len(chosen), dtype=np.int64),
    )
    tie, nth = expand(np.minimum(answer.tie_count, _MOST_TIES))
    ties = answer.ties.pick((firsts(answer.tie_count)[tie] + nth)[nth > 0])
    return Pairs(
        case=np.concatenate([told.case, ties.case]),
        way=np.concatenate([told.way, ties.way]),
        offset=np.concatenate([told.offset, ties.offset]),
        rank=np.concatenate([told.rank, ties.rank]),
    )


def _frames(axes: tuple[Axes, Axes], pairs: Pairs) -> tuple[list[Frame], list[tuple[int, int]]]:
    """The layouts' frames and their numbers of columns and rows."""
    cases = axes[0].cases
    span, module = cases.span[pairs.case], cases.module[pairs.case]
    turned = pairs.way == 1
    x = cases.first_line(pairs.case, 0, pairs.offset[:, 0], turned)
    y = cases.first_line(pairs.case, 1, pairs.offset[:, 1], np.zeros(len(pairs), dtype=bool))
    first = np.stack([x, y], axis=1)
    reach = np.ceil((span - first - tolerance.LENGTH) / module).astype(np.int64)
    reach = np.where(turned[:, None], reach[:, ::-1], reach)
    first[turned, 0] = span[turned, 0] - first[turned, 0]
    world = cases.to_world(pairs.case, first).tolist()
    angle = (cases.angle[pairs.case] + 90.0 * pairs.way).tolist()
    frames = [Frame(x=x, y=y, angle_deg=a) for (x, y), a in zip(world, angle, strict=True)]
    return frames, [(columns, rows) for columns, rows in reach.tolist()]


def _candidates(
    room: _Ints, scores: _Floats, frames: Sequence[Frame], rooms: int, policy: Policy
) -> list[tuple[Candidate, ...]]:
    """Each room's winner (its entry among the first `rooms`), then its runners-up in order, each once."""
    steps = np.array([equal_within(term) for term in policy.terms])
    keys = np.round(scores / steps)
    is_other = np.arange(len(room)) >= rooms
    order = np.lexsort((*keys.T[::-1], is_other, room)).tolist()
    # Adding 0.0 turns minus zero into zero; nobody wants to read "-0.0".
    rows = (scores + 0.0).tolist()
    names = [term.value for term in policy.terms]
    found: list[list[Candidate]] = [[] for _ in range(rooms)]
    seen: list[set[tuple[float, float, float]]] = [set() for _ in range(rooms)]
    for entry, owner in zip(order, room[order].tolist(), strict=True):
        frame, own = frames[entry], found[owner]
        place = (round(frame.x, 1), round(frame.y, 1), round(frame.angle_deg, 3))
        if place in seen[owner] or len(own) == MOST_CANDIDATES:
            continue
        seen[owner].add(place)
        lost = lost_on(rows[entry], rows[owner], policy.terms) if own else None
        own.append(
            Candidate(
                angle_deg=frame.angle_deg,
                origin=(frame.x, frame.y),
                scores=tuple(zip(names, rows[entry], strict=True)),
                lost_on=lost.value if lost else ("order of offsets" if own else ""),
            )
        )
    return [tuple(own) for own in found]


def _list_borders(
    axes: tuple[Axes, Axes], winners: Pairs, edges: Edges, owner: _Ints, rooms: int
) -> tuple[list[tuple[Border, ...]], list[Judged]]:
    """The strip along every edge of every ring by ring and edge, and how each is to be judged."""
    cases = axes[0].cases
    total = len(cases.edges)
    smallest = cases.module.min(axis=1)[cases.edge_case]
    least, greatest = smallest.copy(), smallest.copy()
    number, kind = np.full(total, -1), np.full(total, "", dtype="<U6")
    for axis in axes:
        offset = winners.offset[:, axis.number]
        for name, walls in (("border", axis.borders), ("return", axis.returns), ("notch", axis.notches)):
            _, wall, width = walls.widths(offset, winners.case, axis.module)
            edge = walls.edge[wall]
            least[edge] = np.minimum(width, walls.chord_least[wall])
            greatest[edge] = np.minimum(width, walls.chord[wall])
            number[edge], kind[edge] = axis.number, name
    sizes = np.bincount(owner, minlength=rooms)
    own, local = pair_up(winners.case, firsts(cases.edge_count), cases.edge_count)
    # Edges of the model stand in the same order as those of every case of their room.
    model = firsts(sizes)[own] + local - firsts(cases.edge_count)[winners.case][own]
    order = np.lexsort((edges.index[model], edges.ring[model], own))
    own, local, model = own[order], local[order], model[order]
    start, end = edges.start[model], edges.end[model]
    back = edges.is_reversed[model]
    start, end = np.where(back[:, None], end, start), np.where(back[:, None], start, end)
    letter = np.where(number[local] == winners.way[own], "u", "v")
    letter = np.where(number[local] < 0, "oblique", letter)
    rows = zip(
        own.tolist(),
        edges.ring[model].tolist(),
        edges.index[model].tolist(),
        map(tuple, start.tolist()),
        map(tuple, end.tolist()),
        edges.length[model].tolist(),
        letter.tolist(),
        least[local].tolist(),
        greatest[local].tolist(),
        kind[local].tolist(),
        strict=True,
    )
    borders: list[list[Border]] = [[] for _ in range(rooms)]
    kinds: list[list[str]] = [[] for _ in range(rooms)]
    for room, ring, index, first, last, length, axis_name, low, high, sort in rows:
        borders[room].append(
            Border(
                ring=ring,
                edge=index,
                start=first,
                end=last,
                length=length,
                axis=axis_name,
                least=low,
                greatest=high,
            )
        )
        kinds[room].append(sort)
    minimum = cases.minimum[winners.case]
    minimum = np.where((winners.way == 1)[:, None], minimum[:, ::-1], minimum)
    judged = [
        Judged(kinds=tuple(own_kinds), along=u, across=v)
        for own_kinds, (u, v) in zip(kinds, minimum.tolist(), strict=True)
    ]
    return [tuple(own_borders) for own_borders in borders], judged


def _certify(answer: Answer, room: int, candidates: tuple[Candidate, ...]) -> Certificate:
    """What was compared for a room and why nothing else is better, or what is left to gain."""
    cases = answer.axes[0].cases
    gap = float(answer.gap[room])
    turns = sorted(set(cases.angle[cases.room == room].tolist()))
    where = f"with the grid turned {', '.join(f'{t:g}' for t in turns)} degrees from the model's X axis"
    is_exact = gap == 0.0
    return Certificate(
        method="exact" if is_exact else "searched",
        tried=int(answer.tried[room]),
        resolution=0.0 if is_exact else tolerance.LENGTH,
        statement=_statement(answer, room, where),
        best=candidates,
        gap=None if np.isnan(gap) else gap,
        gap_term=answer.gap_term[room],
    )


def _statement(answer: Answer, room: int, where: str) -> str:
    cases = answer.axes[0].cases
    terms = [t for t in cases.policy.terms if t is not Term.OBLIQUE_PIECES]
    prefix = [t for t in terms if t in answer.prefix]
    joint = [t.value for t in terms if t not in prefix]
    kept = [axis for case, axis in cases.kept if cases.room[case] == room]
    text = (
        f"{int(answer.tried[room])} layouts were compared {where}. "
        "Each strip, opposite border and device changes its score in a straight line between the offsets at "
        "which a line meets a wall or device, a strip reaches the minimum, or a line or a panel's middle is "
        "midway between two walls; all of these were compared, a line less than "
        f"{tolerance.STRIP:g} mm inside a wall being taken to lie on it"
    )
    if kept:
        text += ", as far as the building's lines leave them open"
    if joint:
        text += (
            f", then every pair of those that are best on {prefix[-1].value if prefix else 'no term yet'}"
            f", in {', '.join(joint)}"
        )
    gap = float(answer.gap[room])
    if gap == 0.0:
        return text + "; no other offset scores better."
    if np.isnan(gap):
        return text + "; there were too many of these to compare them all."
    return text + f"; in {answer.gap_term[room]} no more than {gap:g} is left to gain."
