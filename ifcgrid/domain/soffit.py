"""What a hanger meets when it goes straight up: the lowest underside of the structure above a point.

A ray goes up from each point through the triangles of all structure at once. Only
undersides stop it: of a closed body the faces that look down, so that a ray which starts
inside a slab goes on to the next slab instead of stopping at the top of its own. Of an
open shell, whose faces may look either way, every face that is not vertical stops it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.obstacle import Obstacle

__all__ = ["SoffitIndex", "find_soffits", "undersides"]


def _is_closed(normal: NDArray[np.float64]) -> bool:
    """Whether twice the area vectors (n, 3) of a mesh cancel, as those of every closed surface do.

    Unlike a count of edges this bears the slivers that kernels leave out along an edge.
    """
    total = np.linalg.norm(normal, axis=1).sum()
    rest = np.linalg.norm(normal.sum(axis=0))
    return bool(rest <= tolerance.LENGTH * np.sqrt(total))


def undersides(mesh: NDArray[np.float64]) -> NDArray[np.float64]:
    """The triangles (m, 3, 3) of a mesh (n, 3, 3) that can be a soffit, in mm.

    Vertical triangles are never a soffit. Of a closed mesh those that look down are;
    whether it is wound inside out is told by the sign of its volume. Of an open mesh all
    others are.
    """
    if len(mesh) == 0:
        return mesh.reshape(0, 3, 3)
    first, second = mesh[:, 1] - mesh[:, 0], mesh[:, 2] - mesh[:, 0]
    normal = np.cross(first, second)
    plan = mesh[:, :, :2]
    longest = np.linalg.norm(plan - np.roll(plan, -1, axis=1), axis=2).max(axis=1)
    # A triangle whose plan is thinner than the tolerance has no place under it for a hanger.
    flat = np.abs(normal[:, 2]) > tolerance.LENGTH * np.maximum(longest, tolerance.LENGTH)
    if _is_closed(normal):
        middle = mesh.reshape(-1, 3).mean(axis=0)
        volume = np.einsum("ni,ni->", mesh[:, 0] - middle, normal)
        if abs(volume) > tolerance.AREA * tolerance.LENGTH:
            flat &= normal[:, 2] * np.sign(volume) < 0
    chosen: NDArray[np.float64] = mesh[flat]
    return chosen


class SoffitIndex:
    """Structure prepared for many questions: built once a storey, asked once a room."""

    def __init__(self, structure: Sequence[Obstacle]) -> None:
        meshes = [undersides(o.mesh) if o.mesh is not None else np.empty((0, 3, 3)) for o in structure]
        self._triangles = np.concatenate([np.empty((0, 3, 3)), *meshes])
        self._owner = np.repeat(np.arange(len(structure)), [len(m) for m in meshes])
        low, high = self._triangles[:, :, :2].min(axis=1), self._triangles[:, :, :2].max(axis=1)
        gap = tolerance.LENGTH
        boxes = shapely.box(low[:, 0] - gap, low[:, 1] - gap, high[:, 0] + gap, high[:, 1] + gap)
        self._boxes = shapely.STRtree(boxes)
        self._flat = np.array([i for i, o in enumerate(structure) if o.mesh is None], dtype=np.int64)
        self._bottom = np.array([structure[i].bottom for i in self._flat])
        self._outlines = shapely.STRtree([structure[i].outline for i in self._flat])

    def find(self, points: ArrayLike, above: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
        """The soffit over each point.

        Args:
            points: (n, 2) model coordinates in mm.
            above: (n,) or one model z in mm; only undersides higher than this count.

        Returns:
            z (n,) of the soffit in mm, NaN where there is none, and index (n,) into the
            structure, -1 where there is none. Of two soffits at one height the earlier in
            the structure is named.
        """
        places = np.asarray(points, dtype=float).reshape(-1, 2)
        least = np.broadcast_to(np.asarray(above, dtype=float), len(places))
        hits = [self._mesh_hits(places), self._outline_hits(places)]
        point, z, owner = (np.concatenate(part) for part in zip(*hits, strict=True))
        over = z > least[point] + tolerance.LENGTH
        point, z, owner = point[over], z[over], owner[over]
        order = np.lexsort((owner, z, point))
        hit, first = np.unique(point[order], return_index=True)
        height = np.full(len(places), np.nan)
        index = np.full(len(places), -1, dtype=np.int64)
        height[hit], index[hit] = z[order][first], owner[order][first]
        return height, index

    def _mesh_hits(
        self, places: NDArray[np.float64]
    ) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.int64]]:
        point, triangle = self._boxes.query(shapely.points(places))
        corners = self._triangles[triangle]
        plan, spot = corners[:, :, :2], places[point]
        sides = np.roll(plan, -1, axis=1) - plan
        to_spot = spot[:, None] - plan
        cross = sides[:, :, 0] * to_spot[:, :, 1] - sides[:, :, 1] * to_spot[:, :, 0]
        turn = np.sign(cross.sum(axis=1))
        # Distance from each side, positive inside; on a side within the tolerance is inside.
        length = np.maximum(np.linalg.norm(sides, axis=2), tolerance.LENGTH)
        inside = (cross * turn[:, None] / length >= -tolerance.LENGTH).all(axis=1)
        point, triangle, corners, cross = point[inside], triangle[inside], corners[inside], cross[inside]
        # Side k faces corner k + 2, so rolling the areas by one gives that corner's weight.
        weight = np.roll(cross, -1, axis=1) / cross.sum(axis=1, keepdims=True)
        z = (weight * corners[:, :, 2]).sum(axis=1)
        z = np.clip(z, corners[:, :, 2].min(axis=1), corners[:, :, 2].max(axis=1))
        return point.astype(np.int64), z, self._owner[triangle]

    def _outline_hits(
        self, places: NDArray[np.float64]
    ) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.int64]]:
        if len(self._flat) == 0:
            return np.empty(0, dtype=np.int64), np.empty(0), np.empty(0, dtype=np.int64)
        point, outline = self._outlines.query(
            shapely.points(places), predicate="dwithin", distance=tolerance.LENGTH
        )
        return point.astype(np.int64), self._bottom[outline], self._flat[outline]


def find_soffits(
    points: ArrayLike, above: ArrayLike, structure: Sequence[Obstacle]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The lowest underside of the structure above each point.

    Args:
        points: (n, 2) model coordinates in mm.
        above: (n,) or one model z in mm; only undersides higher than this count.
        structure: what may carry a hanger. Obstacles without a mesh count as flat at
            their bottom, within their outline.

    Returns:
        z (n,) in mm, NaN where nothing is above, and index (n,) into `structure`, -1 there.
    """
    return SoffitIndex(structure).find(points, above)
