"""Brings a further model of a building into the coordinates of the one with the rooms.

Where both say where they lie on one map, the map decides; else their coordinates are taken
to be the same, whatever their units. Either way storeys of one name and axes of one tag must
then lie at one place, and it is said where they do not.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace

import ifcopenshell
import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.building import BuildingAxis
from ifcgrid.domain.coordinates import Coordinates
from ifcgrid.domain.errors import ModelError
from ifcgrid.domain.federation import Alignment, Basis
from ifcgrid.ifc.placement import is_chain_of_axes, placement_matrix
from ifcgrid.ifc.project import ModelFile, length_scale
from ifcgrid.ifc.reading.grids import read_axes
from ifcgrid.ifc.reading.map_conversion import find_map
from ifcgrid.ifc.reading.north import find_north

__all__ = ["align"]

_Matrix = NDArray[np.float64]


def align(model: ModelFile, other: ModelFile) -> tuple[_Matrix, Alignment]:
    """The matrix (4, 4) from a further model's coordinates to the model's, in mm, and how it was found.

    A map conversion that cannot be read is told and not taken.
    """
    own, notes = _map(model)
    its, more = _map(other)
    notes += more
    matrix, basis = np.eye(4), Basis.COORDINATES
    if own is None or its is None:
        notes += _turned_north(model.file, other.file)
    elif (own.epsg or own.name) != (its.epsg or its.name):
        notes.append(
            f"it lies on another map ({its.name}) than the model with the rooms ({own.name}); "
            "its coordinates were taken as they are"
        )
    else:
        matrix, basis = _through_map(own, its), Basis.MAP
    notes += _storeys_aside(_storeys(model.file), _storeys(other.file), matrix)
    notes += _axes_aside(read_axes(model.file), read_axes(other.file), matrix)
    return matrix, Alignment(
        basis=basis,
        shift=(float(matrix[0, 3]), float(matrix[1, 3]), float(matrix[2, 3])),
        turn_deg=math.degrees(math.atan2(matrix[1, 0], matrix[0, 0])),
        notes=tuple(notes),
    )


def _map(model: ModelFile) -> tuple[Coordinates | None, list[str]]:
    try:
        found = find_map(model)
    except ModelError as error:
        return None, [str(error)]
    return found, [] if found is None else [f"of the map in {model.path}: {note}" for note in found.notes]


def _through_map(own: Coordinates, its: Coordinates) -> _Matrix:
    """Out to the map and back in; exactly no move where both lie alike, as models of one project do."""
    if (own.base, own.turn_deg, own.scale) == (its.base, its.turn_deg, its.scale):
        return np.eye(4)
    # Maps lie thousands of kilometres from their origin: what both share is taken off first.
    east, north, height = own.base
    own = replace(own, base=(0.0, 0.0, 0.0))
    its = replace(its, base=(its.base[0] - east, its.base[1] - north, its.base[2] - height))
    ends = own.to_model(its.to_site(np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]], dtype=float)))
    matrix = np.eye(4)
    matrix[:3, 3] = ends[0]
    matrix[:3, :3] = (ends[1:] - ends[0]).T
    return matrix


def _turned_north(one: ifcopenshell.file, two: ifcopenshell.file) -> list[str]:
    """Two models that lie alike see true north in one direction."""
    north, its = find_north(one), find_north(two)
    if north is None or its is None:
        return []
    turn = (its - north + 180.0) % 360.0 - 180.0
    if abs(turn) <= tolerance.NORTH_DEG:
        return []
    return [f"its true north is turned by {turn:.2f} degrees from that of the model with the rooms"]


def _storeys(file: ifcopenshell.file) -> dict[str, float]:
    """Height in mm by name, of storeys whose name no other one has."""
    scale = length_scale(file)
    found = [
        (str(storey.Name).strip(), float(placement_matrix(storey.ObjectPlacement)[2, 3]) * scale)
        for storey in file.by_type("IfcBuildingStorey")
        if storey.Name and is_chain_of_axes(storey.ObjectPlacement)
    ]
    count = Counter(name.casefold() for name, _ in found)
    return {name: z for name, z in found if count[name.casefold()] == 1}


def _storeys_aside(own: Mapping[str, float], its: Mapping[str, float], matrix: _Matrix) -> list[str]:
    heights = {name.casefold(): z for name, z in own.items()}
    off = {
        name: float(matrix[2, 2] * z + matrix[2, 3]) - heights[name.casefold()]
        for name, z in its.items()
        if name.casefold() in heights
    }
    wrong = {name: z for name, z in off.items() if abs(z) > tolerance.HEIGHT}
    if not wrong:
        return []
    name, most = max(wrong.items(), key=lambda item: (abs(item[1]), item[0]))
    way = "higher" if most > 0 else "lower"
    rest = f", and {len(wrong) - 1} more lie apart" if len(wrong) > 1 else ""
    return [f"its storey {name!r} lies {abs(most):.0f} mm {way} than in the model with the rooms{rest}"]


def _axes_aside(own: Iterable[BuildingAxis], its: Iterable[BuildingAxis], matrix: _Matrix) -> list[str]:
    """Axes of one tag that do not lie on each other; a tag that one model uses twice says nothing."""
    known, asked = _by_tag(own), _by_tag(its)
    aside = {tag: _distance(known[tag], axis, matrix) for tag, axis in asked.items() if tag in known}
    wrong = {tag: far for tag, far in aside.items() if far > tolerance.GAP}
    if not wrong:
        return []
    tag, most = max(wrong.items(), key=lambda item: (item[1], item[0]))
    rest = f", and {len(wrong) - 1} more lie apart" if len(wrong) > 1 else ""
    return [f"its axis {tag!r} lies {most:.0f} mm beside that of the model with the rooms{rest}"]


def _by_tag(axes: Iterable[BuildingAxis]) -> dict[str, BuildingAxis]:
    found: dict[str, list[BuildingAxis]] = {}
    for axis in axes:
        found.setdefault(axis.tag, []).append(axis)
    return {tag: same[0] for tag, same in found.items() if len(same) == 1}


def _distance(own: BuildingAxis, its: BuildingAxis, matrix: _Matrix) -> float:
    """The most that the ends of an axis lie off the line of another."""
    start, end = np.array(own.start), np.array(own.end)
    run = (end - start) / np.hypot(*(end - start))
    points = np.array([[*its.start, 0.0, 1.0], [*its.end, 0.0, 1.0]]) @ matrix.T
    off = (points[:, :2] - start) @ np.array([-run[1], run[0]])
    return float(np.abs(off).max())
