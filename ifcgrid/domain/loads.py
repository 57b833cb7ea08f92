"""Formulas of loads on ceilings, each with its source. Forces in N, lengths in mm, loads in N/mm.

They are homogeneous, so any consistent units will do (lb, in, lb/in); the names of the
arguments say which kind of quantity is meant.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.system import Section

__all__ = [
    "ELASTICITY",
    "GRAVITY",
    "OVER",
    "POUND_N",
    "STEEL_KG_PER_MM3",
    "area_load",
    "class_needed",
    "inertia_for",
    "line_load",
    "midspan_deflection",
    "scaled_line_load",
    "section_area",
    "section_inertia",
    "side_pull",
    "wire_area",
    "wire_tension",
]

Amount = TypeVar("Amount", float, NDArray[np.float64])

GRAVITY = 9.80665
"""Standard acceleration of gravity in m/s2 (CGPM 1901)."""

POUND_N = float(Fraction("0.45359237") * Fraction("9.80665"))
"""One pound-force in N (international avoirdupois pound, exact)."""

ELASTICITY = float(29_500 * 1000 * Fraction("0.45359237") * Fraction("9.80665") / Fraction("25.4") ** 2)
"""Young's modulus of cold-formed steel in N/mm2: 29,500 ksi (AISI S100; from memory)."""

STEEL_KG_PER_MM3 = 7850 / 1000**3
"""Density of steel: 7850 kg/m3 (general; from memory)."""

OVER = "over"
"""What `class_needed` says when no class carries the load."""


def line_load(load: float, spacing: float) -> float:
    """Line load on a member from an area load and its tributary width (statics).

    >>> line_load(4.0, 4.0)  # psf and ft: lb/ft
    16.0
    """
    return load * spacing


def area_load(line: float, spacing: float) -> float:
    """Area load that gives a line load at a spacing (statics)."""
    return line / spacing


def midspan_deflection(load: Amount, span: Amount, elasticity: float, inertia: float) -> Amount:
    """Deflection in the middle of a simply supported span under a uniform line load.

    5 w L^4 / (384 E I): AISC Steel Construction Manual, beam diagrams, case 1; Roark's
    Formulas for Stress and Strain, beams (both from memory).
    """
    return 5 * load * span**4 / (384 * elasticity * inertia)


def inertia_for(load: float, span: float, elasticity: float, deflection: float) -> float:
    """Second moment of area at which a uniform line load gives a mid-span deflection."""
    return 5 * load * span**4 / (384 * elasticity * deflection)


def scaled_line_load(load: Amount, span: Amount, other_span: float) -> Amount:
    """The line load that gives the same share of the span as deflection on another span.

    w2 = w1 (L1 / L2)^3, from 5 w L^4 / (384 E I) = L / constant (beam theory).

    >>> scaled_line_load(1.0, 48, 24)
    8.0
    """
    return load * (span / other_span) ** 3


def class_needed(load: float, least: Mapping[str, float]) -> str:
    """The lowest class that carries a line load, or `OVER`.

    Args:
        load: line load on a simply supported test span.
        least: the least load of each class, lightest first (ASTM C635, 4.1: the class is
            the greatest uniform load that a main carries within its deflection limit).
    """
    for name, capacity in least.items():
        if load <= capacity * (1 + tolerance.RELATIVE):
            return name
    return OVER


def wire_tension(weight: float, run: float, rise: float) -> float:
    """Tension of a leaning wire that carries a weight: W / cos of its angle from plumb (statics)."""
    return weight * math.hypot(run, rise) / rise


def side_pull(weight: float, run: float, rise: float) -> float:
    """Horizontal force of a leaning wire that carries a weight: W x run / rise (statics)."""
    return weight * run / rise


def wire_area(diameter: float) -> float:
    """Cross-section of a round wire."""
    return math.pi * diameter**2 / 4


def section_area(section: Section) -> float:
    """Sheet area in mm2 of an inverted T that is folded double in web and face; bulbs are neglected."""
    return 2 * section.thickness * (section.height + section.face)


def section_inertia(section: Section) -> float:
    """Second moment of area in mm4 about the horizontal axis, of the same section (thin-wall theory)."""
    sheet = 2 * section.thickness
    web, face = sheet * section.height, sheet * section.face
    middle = web * section.height / 2 / (web + face)
    own = web * section.height**2 / 12
    return own + web * (section.height / 2 - middle) ** 2 + face * middle**2
