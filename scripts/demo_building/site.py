"""Project, site, building and storeys: the same in each federated file."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from demo_building.plan import PLACES, STOREYS
from demo_building.writer import Model

__all__ = ["Building", "start_building"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Building:
    """A model with its storeys and the placements that elements stand on."""

    model: Model
    storeys: dict[str, Any]
    places: dict[tuple[str, str], Any]

    def place(self, storey: str, place: str = "main") -> Any:
        """The placement of a plan frame on a storey; a turned frame is made when first asked for."""
        if (storey, place) not in self.places:
            frame, level = PLACES[place], self.places[storey, "main"]
            turn = math.radians(frame.angle_deg)
            self.places[storey, place] = self.model.placement(
                level, (frame.x, frame.y, 0), (math.cos(turn), math.sin(turn), 0.0)
            )
        return self.places[storey, place]

    def add(
        self, entity: str, key: str, name: str, storey: str, placement: Any, shape: Any, **more: Any
    ) -> Any:
        """A product contained in a storey."""
        product = self.model.root(entity, key, name, ObjectPlacement=placement, Representation=shape, **more)
        self.model.contain(self.storeys[storey], product)
        return product


def start_building(
    model: Model, building_name: str, levels: dict[str, tuple[str, float]] = STOREYS
) -> Building:
    """Site, building and storeys with their placements."""
    site_place = model.placement(None, (0, 0, 0))
    site = model.root("IfcSite", "site", "Site", ObjectPlacement=site_place, CompositionType="ELEMENT")
    house_place = model.placement(site_place, (0, 0, 0))
    house = model.root(
        "IfcBuilding", "building", building_name, ObjectPlacement=house_place, CompositionType="ELEMENT"
    )
    model.aggregate(model.project, site)
    model.aggregate(site, house)
    storeys: dict[str, Any] = {}
    places: dict[tuple[str, str], Any] = {}
    for key, (name, elevation) in levels.items():
        level = model.placement(house_place, (0, 0, elevation))
        storeys[key] = model.root(
            "IfcBuildingStorey",
            key,
            name,
            ObjectPlacement=level,
            CompositionType="ELEMENT",
            Elevation=model.length(elevation),
        )
        model.aggregate(house, storeys[key])
        places[key, "main"] = level
    return Building(model=model, storeys=storeys, places=places)
