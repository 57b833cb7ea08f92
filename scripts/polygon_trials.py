"""Rooms with oblique and curved walls, and a plain scan of their layouts to set against the search."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Point, Polygon, affinity, box

from ifcgrid.design.layout.lattice import make_lattices, see_plan
from ifcgrid.design.layout.scoring import equal_within, rank_rows
from ifcgrid.design.layout.search import try_offsets
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.policy import Policy, Term
from ifcgrid.domain.system import GridSystem

__all__ = ["Trial", "random_polygon", "scan"]

_FINALS = 30
"""The scan's best layouts that are measured truly."""


def random_polygon(seed: int) -> Polygon:
    """In turn: convex rooms, crooked ones, round ends, stars of up to 300 corners, oblique islands, necks."""
    rng = np.random.default_rng(seed)
    kind = seed % 6
    if kind == 0:
        hull = shapely.convex_hull(shapely.MultiPoint(rng.uniform(0, [9000, 7000], (8, 2))))
        return hull if isinstance(hull, Polygon) else box(0, 0, 3000, 3000)
    if kind == 1:
        right = (float(rng.uniform(3000, 9000)), float(rng.uniform(3000, 6000)))
        return Polygon(
            [(0, 0), (float(rng.uniform(4000, 8000)), 0), right, (0, float(rng.uniform(3000, 6000)))]
        )
    if kind == 2:
        width = float(rng.uniform(3000, 6000))
        end = Point(0, width / 2).buffer(width / 2, quad_segs=int(rng.integers(8, 60)))
        return _polygon(box(0, 0, float(rng.uniform(3000, 8000)), width).union(end))
    if kind == 3:
        angle = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(6, 300))))
        reach = rng.uniform(2000, 4500) * (1 + 0.3 * rng.uniform(-1, 1, len(angle)))
        return _polygon(
            shapely.make_valid(Polygon(np.stack([reach * np.cos(angle), reach * np.sin(angle)], axis=1)))
        )
    room = box(0, 0, float(rng.uniform(4000, 9000)), float(rng.uniform(4000, 7000)))
    middle = room.centroid
    if kind == 4:
        island = box(middle.x - 600, middle.y - 400, middle.x + 600, middle.y + 400)
        return _polygon(room.difference(affinity.rotate(island, float(rng.uniform(5, 85)))))
    neck = affinity.rotate(box(-400, 0, 400, 6000), float(rng.uniform(-70, 70)), origin=(0, 0))
    other = affinity.translate(neck, middle.x, room.bounds[3] - 300)
    return _polygon(room.union(other))


def _polygon(shape: shapely.Geometry) -> Polygon:
    parts = [part for part in getattr(shape, "geoms", [shape]) if isinstance(part, Polygon)]
    return max(parts, key=lambda part: part.area)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """How a scan compares with a layout.

    `lead` is by how much the scan's best layout is better in `term`, the first term in which
    the two differ; 0.0 and "" where it is no better. `is_allowed`: the layout's stated gap
    allows for it.
    """

    lead: float
    term: str
    is_allowed: bool


def scan(
    room: Polygon, system: GridSystem, policy: Policy, layout: Layout, step: float, angle: float
) -> Trial:
    """Lay the grid at every `step` mm, turned by `angle` degrees, and set the best against a layout."""
    best: NDArray[np.float64] | None = None
    for lattice in make_lattices(see_plan(room, angle % 90.0, ()), system, policy, (0, 1)):
        places = [np.arange(0.0, axis.module, step) for axis in lattice.axes]
        places = [p[axis.is_clear(p)] for p, axis in zip(places, lattice.axes, strict=True)]
        pairs = np.stack([np.repeat(places[0], len(places[1])), np.tile(places[1], len(places[0]))], axis=1)
        trials = try_offsets(lattice, pairs)
        order = rank_rows(trials.scores, policy.terms)[:_FINALS]
        finals = try_offsets(lattice, np.unique(trials.offset[order], axis=0), is_final=True)
        own = finals.scores[rank_rows(finals.scores, policy.terms)[0]]
        if best is None or _first_lead(own, best, policy)[0] > 0.0:
            best = own
    assert best is not None
    lead, term = _first_lead(best, np.array([score for _, score in layout.scores]), policy)
    return Trial(lead=lead, term=term.value if term else "", is_allowed=_allows(layout, policy, lead, term))


def _first_lead(
    rival: NDArray[np.float64], scores: NDArray[np.float64], policy: Policy
) -> tuple[float, Term | None]:
    for term, other, own in zip(policy.terms, rival.tolist(), scores.tolist(), strict=True):
        if other < own - max(equal_within(term), 1e-5):
            return own - other, term
        if other > own + max(equal_within(term), 1e-5):
            return 0.0, None
    return 0.0, None


def _allows(layout: Layout, policy: Policy, lead: float, term: Term | None) -> bool:
    if term is None:
        return True
    certificate, order = layout.certificate, [t.value for t in policy.terms]
    if not certificate.gap_term:
        return False
    place = order.index(term.value) - order.index(certificate.gap_term)
    if place == 0 and certificate.gap is not None:
        return lead <= certificate.gap + 1e-6
    return place >= 0
