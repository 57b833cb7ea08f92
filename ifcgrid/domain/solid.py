"""Bodies as triangles: which of them are convex and so known by their corners alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance

__all__ = ["is_convex"]

_MOST_FACES = 1000


def is_convex(mesh: NDArray[np.float64]) -> bool:
    """Whether triangles (n, 3, 3) bound one closed convex body, as boxes, ducts and pipes do.

    Its shadow is then the hull of its corners; bodies of more than `_MOST_FACES` are not asked.
    """
    if not 4 <= len(mesh) <= _MOST_FACES:
        return False
    middle = mesh.reshape(-1, 3).mean(axis=0)
    local = mesh - middle
    normal = np.cross(local[:, 1] - local[:, 0], local[:, 2] - local[:, 0])
    size = np.linalg.norm(normal, axis=1)
    volume = float(np.einsum("ni,ni->", local[:, 0], normal)) / 6
    if (
        abs(volume) <= tolerance.AREA * tolerance.LENGTH
        or np.linalg.norm(normal.sum(axis=0)) > tolerance.AREA
    ):
        return False
    outward = normal[size > 0] / size[size > 0, None] * np.sign(volume)
    reach = np.einsum("ni,ni->n", outward, local[size > 0, 0])
    corners = np.unique(np.round(local.reshape(-1, 3), 3), axis=0)
    return bool((corners @ outward.T <= reach + tolerance.LENGTH).all())
