"""Brace sets and device wires: what they run through or pass too near, and what they lack."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from ifcgrid.checks.body import heights_at
from ifcgrid.checks.runs import group_runs
from ifcgrid.checks.scene import Scene, name_of, verb, words
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import SERVICES, STRUCTURE, Obstacle
from ifcgrid.domain.segments import gaps_between, triangles_of

__all__ = ["check_braces", "check_device_wires"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Ways:
    """Straight parts in model coordinates: ends (n, 3), key and support of each, lower ends local (n, 2)."""

    start: NDArray[np.float64]
    end: NDArray[np.float64]
    key: tuple[str, ...]
    support: tuple[str, ...]
    foot: NDArray[np.float64]

    def pick(self, chosen: Sequence[int]) -> _Ways:
        return _Ways(
            start=self.start[list(chosen)],
            end=self.end[list(chosen)],
            key=tuple(self.key[k] for k in chosen),
            support=tuple(self.support[k] for k in chosen),
            foot=self.foot[list(chosen)],
        )


def _ways(scene: Scene, rows: Sequence[tuple[str, str, NDArray[np.float64], NDArray[np.float64]]]) -> _Ways:
    """From rows of key, support, lower and upper end in (u, v, model z); those without an upper end go."""
    kept = [row for row in rows if not np.isnan(row[3]).any()]
    frame = scene.ceiling.layout.frame
    start = np.array([row[2] for row in kept]).reshape(-1, 3)
    end = np.array([row[3] for row in kept]).reshape(-1, 3)
    return _Ways(
        start=np.column_stack([frame.to_world(start[:, :2]), start[:, 2]]),
        end=np.column_stack([frame.to_world(end[:, :2]), end[:, 2]]),
        key=tuple(row[0] for row in kept),
        support=tuple(row[1] for row in kept),
        foot=start[:, :2],
    )


def _brace_ways(scene: Scene) -> tuple[_Ways, _Ways]:
    """Splay wires and posts."""
    braces, wires, posts = scene.ceiling.braces, [], []
    if braces is not None:
        for k in range(len(braces)):
            base = scene.part(f"brace/{braces.line[k]}/{braces.column[k]}")
            foot = np.array([*braces.point[k], scene.high])
            top = np.array([*braces.point[k], braces.post_top[k]])
            posts.append((f"{base}/post", braces.support[k][0], foot, top))
            wires += [
                (f"{base}/wire/{w}", braces.support[k][1 + w], foot, braces.wire_top[k, w]) for w in range(4)
            ]
    return _ways(scene, wires), _ways(scene, posts)


def _gaps(ways: _Ways, body: Obstacle, reach: float) -> dict[int, float]:
    """Least distance in mm of the ways that come within reach of a body, by their number."""
    lines = np.asarray(shapely.linestrings(np.stack([ways.start[:, :2], ways.end[:, :2]], axis=1)))
    near = np.flatnonzero(shapely.distance(lines, body.outline) <= reach)
    low = np.minimum(ways.start[near, 2], ways.end[near, 2])
    high = np.maximum(ways.start[near, 2], ways.end[near, 2])
    near = near[(low <= body.top + reach) & (high >= body.bottom - reach)]
    triangles = triangles_of(body)
    found = {}
    for k in near.tolist():
        count = len(triangles)
        start, end = (
            np.repeat(ways.start[k : k + 1], count, axis=0),
            np.repeat(ways.end[k : k + 1], count, axis=0),
        )
        gap = float(gaps_between(start, end, triangles).min(initial=np.inf))
        # A way may run its whole length inside a body without piercing a face of it.
        foot = ways.start[k]
        is_inside = gap > 0 and any(a <= foot[2] <= b for a, b in heights_at(body, foot[:2]))
        found[k] = 0.0 if is_inside else gap
    return {k: gap for k, gap in found.items() if gap <= reach}


def check_braces(scene: Scene, obstacles: Sequence[Obstacle]) -> Iterator[Finding]:
    """Splay wires keep their distance from services; wires and posts run through nothing.

    What carries a wire or post is met where it ends. One finding for each run of services
    and each piece of structure, one for all sets that lack a part.
    """
    wires, posts = _brace_ways(scene)
    services = [o for o in obstacles if o.kind in SERVICES and o.top > scene.high]
    structure = [o for o in obstacles if o.kind in STRUCTURE and o.top > scene.high]
    clearance = scene.limits["brace-near-service"].value
    yield from _by_run(scene, "brace-near-service", wires, services, clearance - scene.contact)
    yield from _by_run(scene, "post-through-service", posts, services, scene.contact)
    both = _Ways(
        start=np.concatenate([wires.start, posts.start]),
        end=np.concatenate([wires.end, posts.end]),
        key=wires.key + posts.key,
        support=wires.support + posts.support,
        foot=np.concatenate([wires.foot, posts.foot]),
    )
    yield from _by_run(scene, "brace-through-structure", _shortened(both, scene), structure, scene.contact)
    yield from _incomplete(scene, bool(structure))


def check_device_wires(scene: Scene, obstacles: Sequence[Obstacle]) -> Iterator[Finding]:
    """No wire of a device runs through a service."""
    wires = scene.ceiling.wires
    if wires is None:
        return
    rows = [
        (
            scene.part(f"wire/{device}/{wires.number[k]}"),
            wires.support[k],
            np.array([*wires.point[k], wires.bottom[k]]),
            np.array([*wires.point[k], wires.top[k]]),
        )
        for k, device in enumerate(wires.device)
    ]
    services = [o for o in obstacles if o.kind in SERVICES and o.top > scene.high]
    yield from _by_run(scene, "device-wire-through-service", _ways(scene, rows), services, scene.contact)


def _shortened(ways: _Ways, scene: Scene) -> _Ways:
    """Ways that end a little below their upper ends, where they touch what they are fixed to."""
    step = ways.end - ways.start
    length = np.linalg.norm(step, axis=1)[:, None]
    share = np.maximum(1.0 - 4 * scene.contact / np.maximum(length, scene.contact), 0.0)
    return _Ways(
        start=ways.start, end=ways.start + step * share, key=ways.key, support=ways.support, foot=ways.foot
    )


def _by_run(
    scene: Scene, rule: str, ways: _Ways, bodies: Sequence[Obstacle], reach: float
) -> Iterator[Finding]:
    """One finding a run of bodies that ways come within reach of; bodies that carry a way do not bar it."""
    if not ways.key:
        return
    met: dict[int, dict[int, float]] = defaultdict(dict)
    for number, body in enumerate(bodies):
        for k, gap in _gaps(ways, body, reach).items():
            if ways.support[k] != body.key:
                met[number][k] = gap
    barring = [bodies[n] for n in sorted(met)]
    numbers = sorted(met)
    for run in group_runs(barring, scene.limits["run"].value) if barring else []:
        gaps: dict[int, float] = {}
        for i in run:
            for k, gap in met[numbers[i]].items():
                gaps[k] = min(gap, gaps.get(k, np.inf))
        yield _finding(scene, rule, ways, [barring[i] for i in run], gaps)


_NOUNS = {
    "brace-near-service": ("splay wire", "turn the set, or move it to the next crossing"),
    "post-through-service": ("brace post", "move the set to the next crossing"),
    "brace-through-structure": ("wire or post of a brace", "fix it to what it meets"),
    "device-wire-through-service": ("device wire", "use the other corners, or lead it past"),
}


def _finding(
    scene: Scene, rule: str, ways: _Ways, bodies: list[Obstacle], gaps: Mapping[int, float]
) -> Finding:
    order = sorted(gaps, key=lambda k: ways.key[k])
    worst = min(order, key=lambda k: gaps[k])
    noun, advice = _NOUNS[rule]
    many = len(order) > 1
    what = (
        f"{len(order)} {noun.replace('wire', 'wires', 1).replace('post', 'posts', 1)}"
        if many
        else f"a {noun}"
    )
    text = f"{what} of {name_of(scene.room_at(ways.foot[worst]))} "
    if gaps[worst] <= scene.contact:
        text += f"{'pass' if many else 'passes'} through {words(bodies)}"
    else:
        text += f"{'pass' if many else 'passes'} {gaps[worst]:.0f} mm from {words(bodies)}"
        text += f"; whether {verb(bodies, 'it is', 'they are')} braced is not in the model"
    middle = (ways.start[worst, 2] + ways.end[worst, 2]) / 2
    return scene.finding(
        rule,
        at=ways.foot[worst],
        subjects=[*sorted(b.key for b in bodies), *(ways.key[k] for k in order)],
        message=f"{text}; {advice}",
        value=0.0 if gaps[worst] <= scene.contact else gaps[worst],
        z=float(middle),
    )


def _incomplete(scene: Scene, has_structure: bool) -> Iterator[Finding]:
    """Sets without a post or with fewer than four wires; unknown where there is nothing to fix them to."""
    braces = scene.ceiling.braces
    if braces is None or not len(braces):
        return
    missing = np.isnan(braces.wire_top[:, :, 2]).sum(axis=1) + np.isnan(braces.post_top)
    lacking = np.flatnonzero(missing > 0)
    if not len(lacking):
        return
    first = braces.point[lacking[0]]
    text = f"{len(lacking)} of {len(braces)} brace sets of {name_of(scene.room_at(first))} lack "
    if has_structure:
        text += f"{int(missing.sum())} wires or posts that found no clear way to the structure; "
        text += "move services, or let an engineer brace it another way"
    else:
        text += "the structure that wires and posts are fixed to: the models have none above them"
    yield scene.finding(
        "brace-incomplete",
        at=first,
        subjects=[scene.part(f"brace/{braces.line[k]}/{braces.column[k]}/post") for k in lacking.tolist()],
        verdict=Verdict.FAIL if has_structure else Verdict.UNKNOWN,
        message=text,
        value=float(len(lacking)),
        z=scene.high,
    )
