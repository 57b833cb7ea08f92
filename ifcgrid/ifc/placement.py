"""Where things stand: matrices of placements, as the schema builds them. Moves in the file's unit."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import ModelError

__all__ = ["axes_matrix", "is_chain_of_axes", "placement_matrix"]

_Matrix = NDArray[np.float64]


def placement_matrix(placement: Any) -> _Matrix:
    """The matrix (4, 4) from an object's own axes to the model's; None places at the model's origin.

    Raises:
        ModelError: it is placed on a grid or an alignment, not by axes.
    """
    if placement is not None and not is_chain_of_axes(placement):
        raise ModelError(
            f"placement #{placement.id()} is no chain of IfcLocalPlacement, which is what can be read"
        )
    matrix = np.eye(4)
    while placement is not None:
        matrix = axes_matrix(placement.RelativePlacement) @ matrix
        placement = placement.PlacementRelTo
    return matrix


def is_chain_of_axes(placement: Any) -> bool:
    """Whether a placement's whole chain is of axes: a pure turn and move, which has an exact inverse."""
    while placement is not None:
        if not placement.is_a("IfcLocalPlacement"):
            return False
        placement = placement.PlacementRelTo
    return True


def axes_matrix(axes: Any) -> _Matrix:
    """The matrix (4, 4) of an axis placement, as the schema's function IfcBuildAxes builds it.

    RefDirection need not be at a right angle to Axis: what counts is its projection. Where
    there is none, any direction across Axis is taken.
    """
    z = _unit(getattr(axes, "Axis", None), (0.0, 0.0, 1.0))
    wanted = _unit(axes.RefDirection, (1.0, 0.0, 0.0))
    # Along the axis, which the schema forbids, a direction says nothing; then any other serves.
    x = wanted - wanted.dot(z) * z
    if np.linalg.norm(x) <= tolerance.DIRECTION:
        other = np.eye(3)[np.argmin(np.abs(z))]
        x = other - other.dot(z) * z
    x /= np.linalg.norm(x)
    matrix = np.eye(4)
    matrix[:3, 0], matrix[:3, 1], matrix[:3, 2] = x, np.cross(z, x), z
    coordinates = axes.Location.Coordinates
    matrix[: len(coordinates), 3] = coordinates
    return matrix


def _unit(direction: Any, default: tuple[float, float, float]) -> _Matrix:
    vector = np.zeros(3)
    given = default if direction is None or not any(direction.DirectionRatios) else direction.DirectionRatios
    vector[: len(given)] = given
    unit: _Matrix = vector / np.linalg.norm(vector)
    return unit
