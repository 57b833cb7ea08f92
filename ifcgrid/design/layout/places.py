"""Small steps that every way of solving takes: what is refused, which directions, where the frame is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon

from ifcgrid.design.layout.directions import find_directions, split_ways
from ifcgrid.design.layout.lattice import Lattice
from ifcgrid.design.layout.walls import read_edges
from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import NoLayoutError
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.policy import Policy

__all__ = ["check_outline", "directions_of", "find_frame", "named_scores"]


def check_outline(outline: Polygon, key: str) -> None:
    """Refuse what is no usable outline of a room.

    Raises:
        NoLayoutError: it is empty, crosses itself or covers next to nothing.
    """
    name = f"room {key}" if key else "the room"
    if not isinstance(outline, Polygon) or outline.is_empty:
        raise NoLayoutError(f"{name}: its outline is empty; give a polygon with an area", key)
    if not np.isfinite(shapely.get_coordinates(outline)).all():
        raise NoLayoutError(f"{name}: its outline holds coordinates that are no numbers", key)
    if not outline.is_valid:
        reason = shapely.is_valid_reason(outline)
        raise NoLayoutError(f"{name}: its outline is no simple polygon ({reason}); mend it first", key)
    if outline.area < tolerance.PIECE_AREA:
        raise NoLayoutError(
            f"{name}: its outline covers {outline.area:.1f} mm²; a ceiling needs "
            f"{tolerance.PIECE_AREA:.0f} mm² at least",
            key,
        )


def directions_of(outline: Polygon, angles: Sequence[float] | None) -> list[tuple[float, tuple[int, ...]]]:
    """Directions modulo 90 degrees, and which of the two ways of the mains are allowed in each."""
    if angles is None:
        return [(angle, (0, 1)) for angle in find_directions(read_edges(outline))]
    return split_ways(angles)


def find_frame(lattice: Lattice, way: int, offset: tuple[float, float]) -> tuple[Frame, int, int]:
    """The layout's frame and its numbers of columns and rows."""
    spans = [axis.span for axis in lattice.axes]
    modules = [axis.module for axis in lattice.axes]
    x = lattice.first_line(0, offset[0], mirrored=way == 1)
    y = lattice.first_line(1, offset[1])
    counts = [tolerance.ceil_div(s - at, m) for s, at, m in zip(spans, (x, y), modules, strict=True)]
    if way:
        x = spans[0] - x
        counts.reverse()
    world = lattice.plan.frame.to_world([[x, y]])[0].tolist()
    frame = Frame(x=world[0], y=world[1], angle_deg=lattice.plan.frame.angle_deg + 90.0 * way)
    return frame, counts[0], counts[1]


def named_scores(scores: Sequence[float], policy: Policy) -> tuple[tuple[str, float], ...]:
    """Scores with the names of their terms."""
    # Adding 0.0 turns minus zero into zero; nobody wants to read "-0.0".
    return tuple((term.value, float(s) + 0.0) for term, s in zip(policy.terms, scores, strict=True))
