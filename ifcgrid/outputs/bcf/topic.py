"""What one topic says: its words, who is asked, which elements, from where to look."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shapely import box

from ifcgrid.domain.cause import cause_of
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Severity, Verdict
from ifcgrid.domain.obstacle import DEVICES, Obstacle
from ifcgrid.domain.tolerance import PLANE_REACH
from ifcgrid.domain.waiver import Waiver
from ifcgrid.outputs.bcf.snapshot import draw_snapshot

__all__ = ["MOST_COMPONENTS", "Camera", "Topic", "make_topics"]

CAUTION = (
    "Geometry of the models only; local codes, the authority having jurisdiction and a registered design "
    "professional decide."
)

MOST_COMPONENTS = 1000
"""Readers of BCF 3.0 are asked to take about a thousand components a viewpoint, not more."""

VIEW = 6000.0
"""Height of the piece of ceiling that a viewpoint shows, in mm."""

PANEL_CUT = 0.3
"""What lies so far below the spot, in m, is cut away: the view is from under the ceiling, not the floor."""

SOFFIT_CUT = 1.5
"""What lies so far above the spot, in m, is cut away."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """An orthogonal view in metres: from `point` along `direction`, `up` on top, `height` high.

    The model is cut away above the point `section` and below the point `floor`.
    """

    point: tuple[float, float, float]
    direction: tuple[float, float, float]
    up: tuple[float, float, float]
    height: float
    section: tuple[float, float, float]
    floor: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Topic:
    """One cause as a topic. `guid` stays the same between runs; `components` are GlobalIds.

    `hidden` are GlobalIds of what would hide the spot from below: the panels of the ceiling.
    """

    guid: str
    title: str
    description: str
    priority: str
    role: str
    labels: tuple[str, ...]
    components: tuple[str, ...]
    camera: Camera | None
    snapshot: bytes | None
    hidden: tuple[str, ...] = ()
    waiver: Waiver | None = None


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
        section=(x, y, z + SOFFIT_CUT),
        floor=(x, y, z - PANEL_CUT),
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
        severity = finding.severity or Severity.NORMAL
        trade = finding.trade or "Coordination"
        ceiling = by_room.get(finding.room)
        components = [g for subject in finding.subjects if (g := guid_of(subject))]
        topics.append(
            Topic(
                guid=cause_of(finding),
                title=_title(finding, ceiling),
                description=_description(finding),
                priority=severity.value.capitalize(),
                role=trade,
                labels=tuple(filter(None, ("Ceiling", finding.rule, trade, _storey(finding, ceiling)))),
                components=tuple(dict.fromkeys(components))[:MOST_COMPONENTS],
                camera=_camera(finding),
                snapshot=_snapshot(finding, ceiling, obstacles),
                hidden=_coverings(ceiling, guid_of),
                waiver=finding.waiver,
            )
        )
    return tuple(topics)


def _coverings(ceiling: Ceiling | None, guid_of: Callable[[str], str | None]) -> tuple[str, ...]:
    """GlobalIds of a ceiling's panels: the architect's covering or ours, whichever stands in the model."""
    rooms = ceiling.zone.rooms if ceiling else ()
    keys = [key for r in rooms for key in (f"{r.key}/covering", r.covering.key if r.covering else "") if key]
    return tuple(dict.fromkeys(guid for key in keys if (guid := guid_of(key))))


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
    for way in finding.ways_out:
        cost = "".join(f"; {c.what} {c.before:.0f} -> {c.after:.0f} {c.unit}" for c in way.changes)
        tried = "tried, nothing else fails then" if way.is_clear else f"but then: {'; '.join(way.brings[:2])}"
        limits = f" ({'; '.join(way.limits)})" if way.limits else ""
        lines.append(f"Way out ({way.who}): {way.text}{cost}: {tried}{limits}.")
    lines.append(f"Rule {finding.rule}; source: {finding.source} {finding.clause}".rstrip() + ".")
    lines.append("Picture: as on the reflected ceiling plan, the spot ringed; viewpoint: from below.")
    lines.append(CAUTION)
    return "\n".join(lines)


def _snapshot(finding: Finding, ceiling: Ceiling | None, obstacles: Sequence[Obstacle]) -> bytes | None:
    if finding.point is None or ceiling is None:
        return None
    named, level = set(finding.subjects), ceiling.zone.level
    x, y = finding.point[:2]
    view = box(x - VIEW * 0.75, y - VIEW / 2, x + VIEW * 0.75, y + VIEW / 2)
    seen = [o for o in obstacles if o.outline.intersects(view)]
    devices = [
        o for o in seen if o.kind in DEVICES and o.bottom - PLANE_REACH <= level <= o.top + PLANE_REACH
    ]
    return draw_snapshot(
        view,
        ceiling,
        [o.outline for o in seen if o.key in named],
        (x, y),
        [o.outline for o in devices if o.key not in named],
    )
