"""From where a room's grid is set out, and the layout that follows.

A plan may name the control wall, an angle to it and lines of the building; a corridor is
balanced about its axis; what is still open the search decides under the policy.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon, affinity

from ifcgrid.design.control import doors_of, find_control
from ifcgrid.design.corridor import corridor_axis, lies_on_axis
from ifcgrid.design.layout import solve_layout
from ifcgrid.design.layout.directions import find_directions
from ifcgrid.design.layout.scoring import best_rows
from ifcgrid.design.layout.seats import HeldPoint
from ifcgrid.design.layout.walls import read_edges
from ifcgrid.domain import tolerance
from ifcgrid.domain.building import BuildingAxis, HeldLine, Site
from ifcgrid.domain.errors import PlanError
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.plan import Settings
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.domain.room import Zone
from ifcgrid.domain.setting_out import BuildingLine
from ifcgrid.domain.system import GridSystem

__all__ = ["Start", "find_lines", "find_start", "solve_from"]

NO_SITE = Site()


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """What is fixed of a grid before anything is searched.

    `angles` of u in degrees that are allowed (None: those of the walls), `lines` of the
    building that it keeps to, `is_turned`: at an angle to the walls on purpose; `words`
    tell all that to people.
    """

    angles: tuple[float, ...] | None = None
    lines: tuple[HeldLine, ...] = ()
    is_turned: bool = False
    words: str = ""


def find_start(zone: Zone, settings: Settings, site: Site = NO_SITE) -> Start:
    """What a plan and the building fix of a zone's grid.

    Raises:
        NoLayoutError: the room has no wall as named.
        PlanError: a building line names no axis of the model.
    """
    lines = find_lines(settings.line, site.axes)
    words = [f"a {'grid line' if line.is_joint else 'panel middle'} on {line.name}" for line in lines]
    angles: tuple[float, ...] | None = None
    if settings.control is not None:
        floor = min(room.floor for room in zone.rooms)
        wall = find_control(
            zone.outline, settings.control, doors_of(zone.outline, floor, site.doors), zone.key
        )
        angles = (wall.angle_deg, wall.angle_deg + 90.0)
        words.insert(0, wall.words)
    if settings.angle is not None:
        angles = (settings.angle,)
        words.insert(0, f"mains at {settings.angle:g} degrees as declared")
    is_turned = abs((settings.turn + 45.0) % 90.0 - 45.0) > tolerance.ANGLE_DEG
    if settings.turn:
        if angles is None:
            walls = find_directions(read_edges(zone.outline))[0]
            angles = (walls, walls + 90.0)
        angles = tuple(angle + settings.turn for angle in angles)
        base = "that" if words else "the walls"
        words.append(f"turned {settings.turn:g} degrees from {base}")
    elif angles is None and lines:
        angles = (lines[0].angle_deg, lines[0].angle_deg + 90.0)
    return Start(angles=angles, lines=lines, is_turned=is_turned, words=", ".join(words))


def find_lines(lines: Sequence[BuildingLine], axes: Sequence[BuildingAxis]) -> tuple[HeldLine, ...]:
    """The building lines of a plan in model coordinates.

    Raises:
        PlanError: no straight axis of the model bears the tag, or several do.
    """
    return tuple(_find_line(line, axes) for line in lines)


def _find_line(line: BuildingLine, axes: Sequence[BuildingAxis]) -> HeldLine:
    if isinstance(line.through, float):
        point, angle = ((line.through, 0.0), 90.0) if line.axis == "x" else ((0.0, line.through), 0.0)
        name = f"model {line.axis} {line.through:g} mm"
        return HeldLine(name=name, point=point, angle_deg=angle, is_joint=line.is_joint)
    found = {}
    for axis in axes:
        dx, dy = axis.end[0] - axis.start[0], axis.end[1] - axis.start[1]
        angle = round(float(np.degrees(np.arctan2(dy, dx))), 9) % 180.0
        crosses = "x" if 45.0 <= angle < 135.0 else "y"
        if axis.tag == line.through and line.axis in ("", crosses):
            found[round(axis.start[0]), round(axis.start[1]), round(angle, 3)] = (axis, angle)
    if len(found) != 1:
        tags = ", ".join(dict.fromkeys(axis.tag for axis in axes)) or "none"
        what = "no straight building axis" if not found else f"{len(found)} building axes"
        raise PlanError(f"line: {what} {line.through!r} in the model; its axes are {tags}")
    ((axis, angle),) = found.values()
    return HeldLine(
        name=f"building axis {axis.tag}", point=axis.start, angle_deg=angle, is_joint=line.is_joint
    )


def solve_from(
    outline: Polygon,
    system: GridSystem,
    policy: Policy,
    start: Start,
    *,
    key: str = "",
    fixtures: Sequence[Polygon] = (),
    points: Sequence[HeldPoint] = (),
    solved: Layout | None = None,
) -> Layout:
    """The best layout from a start; other arguments as in `solve_layout`.

    `solved` is what `solve_layout` gives for these arguments, if that is known already.

    A corridor's two lanes are equal even where another layout would be better on an earlier
    term. Turned by an angle, a room that half a turn does not change gets a joint or a
    panel's middle on both its axes, if that is no worse on the terms before equal borders.

    Raises:
        NoLayoutError: no layout exists.
    """

    def solve(lines: Sequence[HeldLine]) -> Layout:
        return solve_layout(
            outline,
            system,
            policy,
            key=key,
            fixtures=fixtures,
            points=points,
            angles=start.angles,
            lines=(*start.lines, *lines),
        )

    layout, words = solved or solve(()), start.words
    if start.is_turned:
        if not start.lines and _is_alike_after_half_a_turn(outline):
            layout, words = _centred(layout, outline, policy, words, solve)
    elif not start.lines and (axis := corridor_axis(outline)) is not None:
        layout, words = _balanced(layout, axis, policy, words, solve)
    return replace(layout, set_out_from=words) if words else layout


_Solve = Callable[[Sequence[HeldLine]], Layout]


def _balanced(
    layout: Layout, axis: HeldLine, policy: Policy, words: str, solve: _Solve
) -> tuple[Layout, str]:
    """The layout with both lanes of a corridor equal, and words that say so."""
    turn = (axis.angle_deg - layout.frame.angle_deg + 45.0) % 90.0 - 45.0
    if abs(turn) > tolerance.ANGLE_DEG:
        return layout, words
    on = lies_on_axis(layout, axis)
    if not on:
        layout = _best([solve([axis]), solve([replace(axis, is_joint=False)])], policy)
        layout = _told(layout, "With both lanes of the corridor equal: ")
        on = lies_on_axis(layout, axis)
    what = "a grid line" if on == "joint" else "a panel's middle"
    return layout, ", ".join(filter(None, (words, f"balanced about the corridor's axis, {what} on it")))


def _centred(
    layout: Layout, outline: Polygon, policy: Policy, words: str, solve: _Solve
) -> tuple[Layout, str]:
    """The best of the layouts that look the same after half a turn, unless a free one beats it early."""
    centre = outline.centroid
    angle = layout.frame.angle_deg
    lines = [
        HeldLine(name="the room's middle", point=(centre.x, centre.y), angle_deg=a % 180.0)
        for a in (angle, angle + 90.0)
    ]
    even = [
        solve([replace(lines[0], is_joint=first), replace(lines[1], is_joint=second)])
        for first in (True, False)
        for second in (True, False)
    ]
    terms = list(policy.terms)
    before = terms[: terms.index(Term.EQUAL_BORDERS)] if Term.EQUAL_BORDERS in terms else []
    best = _best(even, policy)
    for term in before:
        own, free = dict(best.scores)[term.value], dict(layout.scores)[term.value]
        if own > free + tolerance.SCORE:
            return layout, words
    best = _told(
        best, "With opposite walls cut alike, a joint or a panel's middle on both axes of the room: "
    )
    return best, ", ".join(filter(None, (words, "opposite walls alike")))


def _is_alike_after_half_a_turn(outline: Polygon) -> bool:
    """Whether less than `tolerance.ALIKE` of a room changes."""
    turned = affinity.rotate(outline, 180.0, origin="centroid")
    return bool(outline.symmetric_difference(turned).area <= tolerance.ALIKE * outline.area)


def _best(layouts: Sequence[Layout], policy: Policy) -> Layout:
    """The first of the layouts that no other one beats."""
    scores = np.array([[score for _, score in layout.scores] for layout in layouts])
    return layouts[int(np.flatnonzero(best_rows(scores, policy.terms))[0])]


def _told(layout: Layout, words: str) -> Layout:
    certificate = layout.certificate
    return replace(layout, certificate=replace(certificate, statement=words + certificate.statement))
