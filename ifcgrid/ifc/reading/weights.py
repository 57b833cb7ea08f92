"""What a model says elements weigh, in kg."""

from __future__ import annotations

from math import isfinite
from typing import Any

import ifcopenshell.util.element
import ifcopenshell.util.unit

__all__ = ["find_mass_scale", "find_weight"]

_NAMES = ("GrossWeight", "NetWeight", "OperatingWeight", "Weight", "Mass")
"""Quantities and properties that give a weight, in the order in which they are believed."""

_GRAMS = 1000.0


def find_mass_scale(file: ifcopenshell.file) -> float:
    """Kilograms in the model's mass unit; one where it names none: weights are then meant in kg."""
    for assignment in file.by_type("IfcUnitAssignment"):
        if any(getattr(unit, "UnitType", None) == "MASSUNIT" for unit in assignment.Units or ()):
            return float(ifcopenshell.util.unit.calculate_unit_scale(file, "MASSUNIT")) / _GRAMS
    return 1.0


def find_weight(element: Any, scale: float) -> float | None:
    """What an element or its type is said to weigh in kg; None where nothing usable is said.

    Quantity sets go before property sets. A weight of zero or less is no weight.

    Args:
        element: any element.
        scale: kilograms in the model's mass unit.
    """
    sets = ifcopenshell.util.element.get_psets(element)
    ordered = sorted(sets.items(), key=lambda item: (not item[0].startswith("Qto_"), item[0]))
    for name in _NAMES:
        for _, values in ordered:
            value = values.get(name)
            if (
                isinstance(value, int | float)
                and not isinstance(value, bool)
                and isfinite(value)
                and value > 0
            ):
                return float(value) * scale
    return None
