"""What one topic says: its words, who is asked, which elements, from where to look."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from shapely import box

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.outputs.bcf.snapshot import draw_snapshot

__all__ = ["MOST_COMPONENTS", "Camera", "Topic", "make_topics"]

NAMESPACE = uuid.UUID("5d0d2c1e-9a55-5b7e-8f0e-3b1a7c64e2d1")
"""Names of our topics live here, so that one cause has one topic in every run."""

MOST_COMPONENTS = 1000
"""Readers of BCF 3.0 are asked to take about a thousand components a viewpoint, not more."""

VIEW = 6000.0
"""Height of the piece of ceiling that a viewpoint shows, in mm."""

_ROLES: Mapping[str, str] = {
    "device": "Building services",
    "devices": "Building services",
    "sprinkler": "Fire protection",
    "service": "Building services",
    "structure": "Structure",
    "hanger": "Ceilings",
    "wall": "Architecture",
    "column": "Architecture",
}
"""Who is asked first, by the first word of a rule: who yields is common practice, no source."""

_PRIORITIES: Mapping[str, str] = {
    "service-in-ceiling": "High",
    "structure-in-ceiling": "High",
    "device-larger-than-module": "High",
    "device-off-module": "Low",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """An orthogonal view in metres: from `point` along `direction`, `up` on top, `height` high.

    `section` is a point of the plane above which the model is cut away, looking from below.
    """

    point: tuple[float, float, float]
    direction: tuple[float, float, float]
    up: tuple[float, float, float]
    height: float
    section: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Topic:
    """One cause as a topic. `guid` stays the same between runs; `components` are GlobalIds."""

    guid: str
    title: str
    description: str
    priority: str
    role: str
    labels: tuple[str, ...]
    components: tuple[str, ...]
    camera: Camera | None
    snapshot: bytes | None


def _cause(finding: Finding) -> str:
    """What makes a cause the same in the next run: rule, room and the elements that are not ours.

    Our own parts come and go with the grid; a duct that crosses eight hangers instead of
    nine is the same cause.
    """
    others = sorted(s for s in finding.subjects if "/" not in s)
    return "|".join([finding.rule, finding.room, *(others or sorted(finding.subjects))])


def _camera(finding: Finding) -> Camera | None:
    if finding.point is None:
        return None
    x, y, z = (value / 1000.0 for value in finding.point)
    # From below, north of the paper up: the model's Y then points up and X to the left.
    return Camera(
        point=(x, y, z - 2.0),
        direction=(0.0, 0.0, 1.0),
        up=(0.0, 1.0, 0.0),
        height=VIEW / 1000.0,
        section=(x, y, z + 1.5),
    )


def make_topics(
    findings: Sequence[Finding],
    ceilings: Sequence[Ceiling],
    obstacles: Sequence[Obstacle],
    guid_of: Callable[[str], str | None],
) -> tuple[Topic, ...]:
    """One topic a failing finding, in their order.

    Args:
        findings: all findings; only those that fail become topics.
        ceilings: the ceilings that they judge, for the pictures.
        obstacles: everything in the way, for the pictures.
        guid_of: the GlobalId of a subject (a model element's own; our parts' in the model
            that was written), None where it has none.
    """
    by_room = {room.key: ceiling for ceiling in ceilings for room in ceiling.zone.rooms}
    topics = []
    for finding in findings:
        if finding.verdict is not Verdict.FAIL:
            continue
        ceiling = by_room.get(finding.room)
        components = [g for subject in finding.subjects if (g := guid_of(subject))]
        topics.append(
            Topic(
                guid=str(uuid.uuid5(NAMESPACE, _cause(finding))),
                title=_title(finding, ceiling),
                description=_description(finding),
                priority=_PRIORITIES.get(finding.rule, "Normal"),
                role=_ROLES.get(finding.rule.split("-")[0], "Coordination"),
                labels=tuple(filter(None, ("Ceiling", finding.rule, _storey(finding, ceiling)))),
                components=tuple(dict.fromkeys(components))[:MOST_COMPONENTS],
                camera=_camera(finding),
                snapshot=_snapshot(finding, ceiling, obstacles),
            )
        )
    return tuple(topics)


def _storey(finding: Finding, ceiling: Ceiling | None) -> str:
    rooms = ceiling.zone.rooms if ceiling else ()
    return next((room.storey for room in rooms if room.key == finding.room), "")


def _title(finding: Finding, ceiling: Ceiling | None) -> str:
    rooms = ceiling.zone.rooms if ceiling else ()
    room = next((room for room in rooms if room.key == finding.room), None)
    place = f"{room.number} {room.name}".strip() if room else finding.room
    return f"{place}: {finding.rule.replace('-', ' ')}"


def _description(finding: Finding) -> str:
    lines = [finding.message + "."]
    if finding.value is not None:
        limit = "" if finding.limit is None else f", limit {finding.limit:g} {finding.unit}"
        lines.append(f"Measured: {finding.value:g} {finding.unit}{limit}.")
    lines.append(f"Rule {finding.rule}; source: {finding.source} {finding.clause}".rstrip() + ".")
    return "\n".join(lines)


def _snapshot(finding: Finding, ceiling: Ceiling | None, obstacles: Sequence[Obstacle]) -> bytes | None:
    if finding.point is None or ceiling is None:
        return None
    named = set(finding.subjects)
    x, y = finding.point[:2]
    view = box(x - VIEW * 0.75, y - VIEW / 2, x + VIEW * 0.75, y + VIEW / 2)
    return draw_snapshot(
        view, ceiling, [o.outline for o in obstacles if o.key in named and o.outline.intersects(view)]
    )
