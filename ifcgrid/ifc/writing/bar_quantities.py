"""What one member measures: length, section, surfaces, volume and, where it is stated, weight.

The numbers are those of the drawn body, so that they equal what a geometry kernel measures:
plain sections of one thickness, without fillets, bulbs and holes. A weight is written only
where the grid system states one; it is that of the product, not of the drawn body.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from ifcgrid.domain.system import GridSystem, Section
from ifcgrid.ifc.writing.mapping import Part

__all__ = ["Bar", "bar_of_section", "round_bar", "square_bar", "stated_weight"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A section: its area in mm², the length of its outline in mm, the stated weight by metre or None."""

    area: float
    outline: float
    kg_per_m: float | None = None

    def quantities(self, length: float) -> dict[str, tuple[str, float]]:
        """Qto_MemberBaseQuantities of a piece of a length in mm; nothing is cut out, so net is gross."""
        outer, volume = self.outline * length, self.area * length
        surface = outer + 2.0 * self.area
        values = {
            "Length": ("length", length),
            "CrossSectionArea": ("area", self.area),
            "OuterSurfaceArea": ("area", outer),
            "GrossSurfaceArea": ("area", surface),
            "NetSurfaceArea": ("area", surface),
            "GrossVolume": ("volume", volume),
            "NetVolume": ("volume", volume),
        }
        if self.kg_per_m is not None:
            weight = self.kg_per_m * length / 1000.0
            values |= {"GrossWeight": ("weight", weight), "NetWeight": ("weight", weight)}
        return values


def stated_weight(part: Part, system: GridSystem) -> float | None:
    """The weight of a member in kg by metre where the system states it."""
    if system.weights is None:
        return None
    return {
        Part.MAIN_RUNNER: system.weights.main_kg_per_m,
        Part.CROSS_TEE: system.weights.tee_kg_per_m,
        Part.SECOND_TEE: system.weights.tee_kg_per_m,
    }.get(part)


def bar_of_section(section: Section, kg_per_m: float | None = None) -> Bar:
    """A T or L of one thickness: both have the area of two strips and the outline of their bounds."""
    height, face, sheet = section.height, section.face, section.thickness
    return Bar(area=(face + height - sheet) * sheet, outline=2.0 * (height + face), kg_per_m=kg_per_m)


def round_bar(diameter: float) -> Bar:
    """A round bar."""
    return Bar(area=pi * diameter**2 / 4.0, outline=pi * diameter)


def square_bar(side: float) -> Bar:
    """A square bar."""
    return Bar(area=side**2, outline=4.0 * side)
