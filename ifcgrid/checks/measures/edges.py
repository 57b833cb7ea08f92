"""How the grid ends at the walls: gaps, attached walls, end hangers, stabilisers."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures import extent
from ifcgrid.checks.rule import Measures, at_least, at_most, statement
from ifcgrid.checks.rule_data import RuleRow
from ifcgrid.domain import tolerance
from ifcgrid.domain.bracing import PerimeterWall
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.finding import Verdict

__all__ = ["attached_walls", "free_gaps", "stabilisers", "wall_key"]


def _edge(case: Case, wall: PerimeterWall) -> LineString:
    """The wall's edge, local, as its wall angle lies."""
    members = case.ceiling.members
    found = np.flatnonzero(
        (members.role == Role.WALL_ANGLE) & (members.line == wall.ring) & (members.index == wall.edge)
    )
    if len(found) == 0:
        return LineString()
    return LineString([members.start[found[0]], members.end[found[0]]])


def wall_key(case: Case, wall: PerimeterWall) -> str:
    """The full key of a wall's angle."""
    return case.part(f"{Role.WALL_ANGLE.word}/{wall.ring}/{wall.edge}")


def free_gaps(case: Case, row: RuleRow, *, is_attachment_allowed: bool) -> Measures | str:
    """Gaps between the grid and the walls at which it is free, as the perimeter says, else as drawn."""
    walls = case.ceiling.perimeter
    if walls:
        wanted = [w for w in walls if not (w.is_attached and is_attachment_allowed)]
        edges = [_edge(case, w) for w in wanted]
        return at_least(
            case,
            row,
            np.array([0.0 if w.is_attached else w.gap for w in wanted]),
            subjects=[wall_key(case, w) for w in wanted],
            points=np.array([_middle(case, edge) for edge in edges]).reshape(-1, 2),
            noun="walls",
        )
    member, point, gap = extent.wall_gaps(case)
    if len(gap) == 0 or gap.max(initial=0.0) <= tolerance.LENGTH:
        return statement(
            case,
            row,
            Verdict.UNKNOWN,
            "members are drawn up to the walls; which ends are free, and their gaps, are not in the model",
        )
    free = gap > tolerance.LENGTH if is_attachment_allowed else np.ones(len(gap), dtype=bool)
    return at_least(
        case,
        row,
        gap[free],
        subjects=[case.member_keys[k] for k in member[free]],
        points=point[free],
        noun="free ends",
    )


def _middle(case: Case, edge: LineString) -> tuple[float, float]:
    if edge.is_empty:
        return float(case.middle[0, 0]), float(case.middle[0, 1])
    spot = edge.interpolate(0.5, normalized=True)
    return spot.x, spot.y


def attached_walls(case: Case, row: RuleRow) -> Measures | str:
    """In each part, how many directions of walls hold the grid, and whether those walls are adjacent."""
    walls = case.ceiling.perimeter
    if not walls:
        return statement(case, row, Verdict.UNKNOWN, "which walls hold the grid is not in the model")
    parts = sorted({wall.part for wall in walls})
    counts, points = [], []
    for part in parts:
        held = [_edge(case, w) for w in walls if w.part == part and w.is_attached]
        counts.append(_sides(held))
        points.append(_middle(case, held[0]) if held else _middle(case, LineString()))
    return at_most(case, row, np.array(counts, dtype=float), points=points, noun="parts")


def _sides(edges: list[LineString]) -> int:
    """Walls that face different ways; two pieces of one straight wall are one."""
    directions: list[NDArray[np.float64]] = []
    for edge in edges:
        if edge.is_empty:
            continue
        a, b = np.asarray(edge.coords)[[0, -1]]
        way = (b - a) / max(float(np.hypot(*(b - a))), tolerance.LENGTH)
        if not any(float(way @ other) > np.cos(np.radians(tolerance.ANGLE_DEG)) for other in directions):
            directions.append(way)
    return len(directions)


def stabilisers(case: Case, row: RuleRow) -> Measures | str:
    """Bars at each free wall; none is needed where the first parallel runner is near."""
    free = [w for w in case.ceiling.perimeter if not w.is_attached]
    if not free:
        return "no free walls are in the model"
    bars = case.ceiling.stabilisers
    if bars is None:
        return statement(case, row, Verdict.UNKNOWN, "bars at free walls are not in the model")
    edges = [_edge(case, wall) for wall in free]
    count = np.array([int(((bars.ring == w.ring) & (bars.edge == w.edge)).sum()) for w in free], dtype=float)
    near = np.array([_needs_none(case, edge, row.further("runner")) for edge in edges], dtype=bool)
    return at_least(
        case,
        row,
        count,
        subjects=[wall_key(case, w) for w in free],
        points=np.array([_middle(case, e) for e in edges]).reshape(-1, 2),
        noun="free walls",
        excused=near,
        detail="walls at which fewer than two runners end, or with a parallel runner near, need none",
    )


def _needs_none(case: Case, edge: LineString, reach: float) -> bool:
    """Whether a main or tee runs along the wall within reach of it, or no two runners end at it."""
    if edge.is_empty:
        return True
    members = case.ceiling.members
    chosen = np.flatnonzero(members.role != Role.WALL_ANGLE)
    ends = shapely.points(np.concatenate([members.start[chosen], members.end[chosen]]))
    at_wall = np.asarray(shapely.distance(edge, ends)) <= case.ceiling.system.angle.face
    if at_wall.sum() < 2:
        return True
    a, b = np.asarray(edge.coords)[[0, -1]]
    way = (b - a) / max(float(np.hypot(*(b - a))), tolerance.LENGTH)
    step = members.end[chosen] - members.start[chosen]
    length = np.maximum(np.hypot(*step.T), tolerance.LENGTH)
    along = np.abs(step @ way) / length > np.cos(np.radians(tolerance.ANGLE_DEG))
    middle = (members.start[chosen] + members.end[chosen])[along] / 2
    if len(middle) == 0:
        return False
    return bool(shapely.distance(edge, shapely.points(middle)).min() <= reach + tolerance.LENGTH)
