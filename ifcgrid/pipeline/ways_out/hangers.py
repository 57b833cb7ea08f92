"""Ways out for hangers: hung again past what is in the way."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import IfcGridError
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.hanging import HangerKind
from ifcgrid.domain.way_out import Step, WayKind, WayOut
from ifcgrid.pipeline.ways_out.trial import Trial

__all__ = ["find_brace_way", "find_hanger_way"]


def find_hanger_way(trial: Trial, finding: Finding) -> Iterator[WayOut]:
    """All hangers of the ceiling set again where they pass; told for the mains that the finding names."""
    try:
        made = trial.hang(trial.ceiling, trial.ceiling.zone, trial.ceiling.layout, trial.near)
    except (IfcGridError, ValueError):
        return
    outcome = trial.outcome(finding, made, trial.near)
    if not outcome.is_gone:
        return
    steps, counts = _compare(trial.ceiling, made, finding)
    if not steps and not counts:
        return
    farthest = max((float(np.hypot(*step.vector[:2])) for step in steps), default=0.0)
    words = [f"{len(steps)} shifted along the main by up to {farthest:.0f} mm"] if steps else []
    words += [f"{count} {word}" for word, count in counts.items() if count]
    yield WayOut(
        kind=WayKind.REROUTE_HANGER,
        text=f"hang it again: {', '.join(words)}",
        who="Ceilings",
        amount=farthest,
        steps=tuple(steps),
        is_clear=not outcome.brings,
        brings=outcome.brings,
        limits=("all hangers of this ceiling were set again by its system's rules",),
    )


def _compare(old: Ceiling, new: Ceiling, finding: Finding) -> tuple[list[Step], dict[str, int]]:
    """How the named hangers move along their mains, and what else their mains hang by."""
    named = {s for s in finding.subjects if s.startswith(f"{old.key}/hanger/")}
    was, now, frame = old.hangers, new.hangers, old.layout.frame
    keys = list(map(f"{old.key}/{{}}".format, was.keys()))
    own = [k for k, key in enumerate(keys) if key in named]
    steps = []
    for k in own:
        same = np.flatnonzero((now.line == was.line[k]) & (now.kinds == HangerKind.STRAIGHT))
        if len(same) == 0:
            continue
        nearest = int(same[np.argmin(np.abs(now.point[same, 0] - was.point[k, 0]))])
        ends = frame.to_world(np.stack([was.point[k], now.point[nearest]]))
        x, y = (ends[1] - ends[0]).tolist()
        if np.hypot(x, y) > tolerance.LENGTH:
            steps.append(Step(key=keys[k], vector=(float(x), float(y), 0.0)))
    lines = {int(was.line[k]) for k in own}
    counts = {}
    for kind, word in ((HangerKind.SPLAYED, "splayed with a counter"), (HangerKind.TRAPEZE, "on a trapeze")):
        count = int(sum(np.count_nonzero((now.line == line) & (now.kinds == kind)) for line in lines))
        before = int(sum(np.count_nonzero((was.line == line) & (was.kinds == kind)) for line in lines))
        counts[word] = max(count - before, 0)
    return steps, {word: count for word, count in counts.items() if count}


def find_brace_way(trial: Trial, finding: Finding) -> Iterator[WayOut]:
    """All brace sets of the ceiling laid out again; none where it is not known what holds it sideways."""
    try:
        made = trial.hang(trial.ceiling, trial.ceiling.zone, trial.ceiling.layout, trial.near)
    except (IfcGridError, ValueError):
        return
    if made.braces is None or trial.ceiling.braces is None:
        return
    outcome = trial.outcome(finding, made, trial.near)
    if not outcome.is_gone:
        return
    steps = _moved_sets(trial.ceiling, made, finding)
    farthest = max((float(np.hypot(*step.vector[:2])) for step in steps), default=0.0)
    words = (
        f"{len(steps)} sets moved by up to {farthest:.0f} mm" if steps else "wires turned or ended elsewhere"
    )
    yield WayOut(
        kind=WayKind.REROUTE_HANGER,
        text=f"lay the braces out again: {words}",
        who="Ceilings",
        amount=farthest,
        steps=tuple(steps),
        is_clear=not outcome.brings,
        brings=outcome.brings,
        limits=("all braces of this ceiling were laid out again; the strength of anchors was not looked at",),
    )


def _moved_sets(old: Ceiling, new: Ceiling, finding: Finding) -> list[Step]:
    """The brace sets that a finding names and that stand elsewhere then, each to the nearest new one."""
    was, now, frame = old.braces, new.braces, old.layout.frame
    assert was is not None
    assert now is not None
    if len(now) == 0:
        return []
    steps = []
    for k in range(len(was)):
        key = f"{old.key}/brace/{was.line[k]}/{was.column[k]}"
        if not any(s == key or s.startswith(f"{key}/") for s in finding.subjects):
            continue
        away = np.hypot(*(now.point - was.point[k]).T)
        ends = frame.to_world(np.stack([was.point[k], now.point[int(np.argmin(away))]]))
        x, y = (ends[1] - ends[0]).tolist()
        if np.hypot(x, y) > tolerance.LENGTH:
            steps.append(Step(key=key, vector=(float(x), float(y), 0.0)))
    return steps
