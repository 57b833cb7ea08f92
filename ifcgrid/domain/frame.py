"""A place and a direction in plan: the axes in which one ceiling is described."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import affinity

__all__ = ["Frame"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Local axes (u, v) in the plan of the model.

    `x`, `y` is the origin in model coordinates in mm; `angle_deg` turns the model's X
    axis onto u, counter-clockwise; v is 90 degrees counter-clockwise from u.
    """

    x: float
    y: float
    angle_deg: float = 0.0

    def _rotation(self) -> NDArray[np.float64]:
        # Right angles are exact: cos(90°) in floats is 6e-17 and would tilt long walls.
        quarter, rest = divmod(self.angle_deg, 90.0)
        if rest == 0.0:
            c, s = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
        else:
            c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        return np.array([[c, s], [-s, c]])

    def to_world(self, points: Any) -> NDArray[np.float64]:
        """Model coordinates (n, 2) of local points (n, 2), in mm."""
        world: NDArray[np.float64] = np.asarray(points, dtype=float) @ self._rotation()
        world += np.array([self.x, self.y])
        return world

    def to_local(self, points: Any) -> NDArray[np.float64]:
        """Local coordinates (n, 2) of model points (n, 2), in mm."""
        shifted: NDArray[np.float64] = np.asarray(points, dtype=float) - np.array([self.x, self.y])
        return shifted @ self._rotation().T

    def shape_to_local(self, shape: Any) -> Any:
        """A shapely geometry in model coordinates, seen in this frame."""
        (c, s), _ = self._rotation()
        a, b = -(c * self.x + s * self.y), s * self.x - c * self.y
        return affinity.affine_transform(shape, [c, s, -s, c, a, b])

    def shape_to_world(self, shape: Any) -> Any:
        """A shapely geometry in this frame, in model coordinates."""
        (c, s), _ = self._rotation()
        return affinity.affine_transform(shape, [c, -s, s, c, self.x, self.y])
