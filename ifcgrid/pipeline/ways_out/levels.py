"""Ways out by height: the ceiling lower or higher, or what is in the way raised."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from math import ceil

import shapely

from ifcgrid.checks.coordination import read_coordination
from ifcgrid.domain import tolerance
from ifcgrid.domain.cause import others_of
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Kind, Obstacle
from ifcgrid.domain.way_out import Change, Step, WayKind, WayOut
from ifcgrid.pipeline.ways_out.moving import move_devices_along, move_obstacles, move_zone
from ifcgrid.pipeline.ways_out.trial import Outcome, Trial

__all__ = ["find_level_ways", "find_raised_obstacle"]

FARTHEST = 600.0
"""Moving a ceiling or a service farther than this, in mm, is a new design and not proposed (our choice)."""

_TRIES = 6
_FROM_BELOW = frozenset({"ceiling-below-headroom"})
_HANGER_RULES = ("hanger-", "main-")


def find_level_ways(trial: Trial, finding: Finding) -> Iterator[WayOut]:
    """The ceiling lowered, and raised, until the cause is gone."""
    for sign in (-1.0, 1.0):
        if not _may_help(finding.rule, sign):
            continue
        first = _first_step(trial, finding)
        found = _search(trial, finding, first, partial(_at_level, trial, finding, sign), sign)
        if found is not None:
            yield _level_way(trial, sign * found[0], found[1])


_At = Callable[[float], Outcome | None]


def _search(
    trial: Trial, finding: Finding, step: float, at: _At, sign: float = -1.0
) -> tuple[float, Outcome] | None:
    """The least step that ends the cause, in whole mm: a clear one if one is near.

    Steps are as long as what the last trial says is missing; the last one is halved until no
    shorter one will do. `sign` tells whether the ceiling comes down against what is in the
    way, or goes up.
    """
    gone: list[tuple[float, Outcome]] = []
    poor = 0.0
    for _ in range(_TRIES):
        if not 0 < step <= FARTHEST:
            break
        outcome = at(step)
        if outcome is None:
            break
        if outcome.is_gone and not outcome.brings:
            return _shortest(poor, (step, outcome), at)
        if outcome.is_gone:
            gone.append((step, outcome))
            more = _more_needed(trial, outcome, step - gone[0][0], sign)
        else:
            more = _still_missing(finding, outcome)
        if more <= 0:
            break
        poor, step = step, step + ceil(more - tolerance.LENGTH)
    return min(gone, key=lambda found: _poorness(finding, *found), default=None)


def _poorness(finding: Finding, step: float, outcome: Outcome) -> tuple[bool, int, float]:
    """What makes a way that is not clear worse: the same bodies fail on, much else fails, it is long."""
    own = others_of(finding)
    is_same = any(own & others_of(f) for f in outcome.findings if f.message in outcome.brings)
    return is_same, len(outcome.brings), step


def _shortest(poor: float, good: tuple[float, Outcome], at: _At) -> tuple[float, Outcome]:
    """The least clear step between one that was tried and is not and one that is; in whole mm."""
    middle = good[0] - 1.0  # what the measure says is mostly right to the mm
    while poor and good[0] - poor > 1.0:
        outcome = at(middle)
        if outcome is not None and outcome.is_gone and not outcome.brings:
            good = (middle, outcome)
        else:
            poor = middle
        middle = float((poor + good[0]) // 2)
    return good


def _is_height(rule: str) -> bool:
    """Whether a rule's measure is a height: what is missing of it is what has to move."""
    return "level" in read_coordination().ways_of(rule) and not rule.startswith(_HANGER_RULES)


def _may_help(rule: str, sign: float) -> bool:
    """Whether a change of level in one direction may end what a rule found."""
    if rule in _FROM_BELOW or rule.endswith("-above-ceiling"):
        return sign > 0
    # What reaches into the ceiling may do so from below; all else is above it.
    return sign < 0 or rule.endswith("-in-ceiling")


def _more_needed(trial: Trial, outcome: Outcome, beyond: float, sign: float) -> float:
    """How much farther to try where something else fails then: by its depth, or for hangers to pass."""
    depths = [
        f.value
        for f in outcome.findings
        if f.message in outcome.brings and _is_height(f.rule) and f.unit == "mm" and f.value
        if _may_help(f.rule, sign)
    ]
    if depths:
        return max(depths)
    if any(not _may_help(f.rule, sign) for f in outcome.findings if f.message in outcome.brings):
        return 0.0
    rules = trial.ceiling.system.hanging
    room = rules.clearance + rules.bar_depth + rules.shortest
    return room - beyond if beyond < room else 0.0


def _still_missing(finding: Finding, outcome: Outcome) -> float:
    """What is left of the measure, if the last step made it less."""
    if finding.unit != "mm" or outcome.left is None or finding.value is None:
        return 0.0
    return outcome.left if outcome.left < finding.value - tolerance.LENGTH else 0.0


def _first_step(trial: Trial, finding: Finding) -> float:
    """By how much to try first, in whole mm; 0 where height is no way."""
    if _is_height(finding.rule):
        has_measure = finding.unit == "mm" and finding.value is not None
        return float(ceil((finding.value or 0.0) - tolerance.LENGTH)) if has_measure else 0.0
    rules, system = trial.ceiling.system.hanging, trial.ceiling.system
    bottom = min((o.bottom for o in trial.named(finding)), default=None)
    if bottom is None:
        return 0.0
    # A trapeze under what is named needs so much room over the mains.
    floor = bottom - rules.clearance - rules.bar_depth - rules.shortest
    return float(ceil(trial.ceiling.zone.level + system.main.height - floor - tolerance.LENGTH))


def _at_level(trial: Trial, finding: Finding, sign: float, step: float) -> Outcome | None:
    zone, rise = trial.ceiling.zone, sign * step
    return trial.try_out(finding, zone=move_zone(zone, rise), near=move_devices_along(zone, trial.near, rise))


def _level_way(trial: Trial, rise: float, outcome: Outcome) -> WayOut:
    zone, kind = trial.ceiling.zone, WayKind.LOWER_CEILING if rise < 0 else WayKind.RAISE_CEILING
    rooms = " and ".join(dict.fromkeys(room.number or room.name or room.key for room in zone.rooms))
    floor = zone.rooms[0].floor
    before, after = zone.level - floor, zone.level + rise - floor
    verb = "lower" if rise < 0 else "raise"
    return WayOut(
        kind=kind,
        text=f"{verb} the ceiling of {rooms} by {abs(rise):.0f} mm, "
        f"from {before:.0f} to {after:.0f} mm above the floor",
        who="Architecture",
        amount=abs(rise),
        steps=tuple(Step(key=room.key, vector=(0.0, 0.0, rise)) for room in zone.rooms),
        is_clear=not outcome.brings,
        brings=outcome.brings,
        changes=(Change(what="ceiling height above the floor", before=before, after=after),),
        limits=tuple(_level_limits(trial, rise)),
    )


def _level_limits(trial: Trial, rise: float) -> Iterator[str]:
    zone = trial.ceiling.zone
    height = zone.rooms[0].height
    if height is not None and height.candidates:
        yield f"the height stands in the model ({height.candidates[0].where}): who set it has to agree"
    heads = [
        o
        for o in trial.near
        if o.kind.value in ("door", "window") and o.outline.distance(zone.outline) <= tolerance.SURFACE_DEPTH
    ]
    if heads and rise < 0:
        top = max(o.top for o in heads)
        yield f"the highest door or window head at the room is at {top - zone.rooms[0].floor:.0f} mm"
    if trial.ceiling.openings:
        count = len(trial.ceiling.openings)
        yield f"its {count} devices go with it; what feeds them was not tried"


def find_raised_obstacle(trial: Trial, finding: Finding, beside: Sequence[Trial] = ()) -> Iterator[WayOut]:
    """The services that are named, raised until the cause is gone, where there is room above them.

    `beside` are the other ceilings that they run over: what fails there then is told too.
    """
    bodies = [o for o in trial.named(finding) if o.kind in SERVICES]
    if not bodies or any(o.kind in STRUCTURE for o in trial.named(finding)):
        return
    keys = {o.key for o in bodies}

    def at(step: float) -> Outcome | None:
        moved = move_obstacles(trial.near, keys, (0.0, 0.0, step))
        if _blocked_by(trial.near, moved, keys):
            return None
        outcome = trial.try_out(finding, near=moved)
        if outcome is None or not outcome.is_gone:
            return outcome
        more = [
            words
            for other in beside
            for words in other.brought(move_obstacles(other.near, keys, (0.0, 0.0, step)))
        ]
        return replace(outcome, brings=(*outcome.brings, *more))

    found = _search(trial, finding, _first_step(trial, finding), at)
    if found is not None:
        yield _raised_way(bodies, *found)


def _blocked_by(before: tuple[Obstacle, ...], after: list[Obstacle], keys: set[str]) -> Obstacle | None:
    """What a moved obstacle would run into that it does not meet now, as boxes over their outlines."""
    others = [o for o in before if o.key not in keys and o.kind in SERVICES | STRUCTURE | {Kind.WALL}]
    for old, new in zip(before, after, strict=True):
        if old.key not in keys:
            continue
        for other in others:
            if _meet(new, other) and not _meet(old, other):
                return other
    return None


def _meet(one: Obstacle, other: Obstacle) -> bool:
    if min(one.top, other.top) - max(one.bottom, other.bottom) <= tolerance.SHORTEST_EDGE:
        return False
    if not shapely.intersects(one.outline, other.outline):
        return False
    return float(shapely.intersection(one.outline, other.outline).area) > tolerance.PIECE_AREA


def _raised_way(bodies: list[Obstacle], step: float, outcome: Outcome) -> WayOut:
    names = ", ".join(f"{o.kind} '{o.name or o.key}'" for o in bodies[:3])
    more = f" and {len(bodies) - 3} more" if len(bodies) > 3 else ""
    limits = ["room above it was looked at as boxes over plan outlines; what it joins was not tried"]
    if any(o.kind is Kind.PIPE for o in bodies):
        limits.append("a pipe laid to a fall cannot simply rise: its trade decides")
    return WayOut(
        kind=WayKind.MOVE_OBSTACLE,
        text=f"raise {names}{more} by {step:.0f} mm",
        who=bodies[0].kind.value,
        amount=step,
        steps=tuple(Step(key=o.key, vector=(0.0, 0.0, step)) for o in bodies),
        is_clear=not outcome.brings,
        brings=outcome.brings,
        limits=tuple(limits),
    )
