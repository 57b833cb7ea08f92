"""Device and service types: what each looks like from the ceiling's underside (local z = 0)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from demo_building.geometry import rect
from demo_building.shapes import cylinder, extrusion
from demo_building.writer import Model

__all__ = ["DEVICE_TYPES", "DeviceType", "Devices"]

Shapes = Callable[[Model], list[Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class DeviceType:
    """One type: its classes, its name, how it is drawn, its weight where one is stated."""

    entity: str
    predefined: str
    name: str
    shapes: Shapes
    weight_kg: float | None = None
    quantity_set: str = ""


def _plate(width: float, depth: float, height: float) -> Shapes:
    return lambda model: [extrusion(model, rect(-width / 2, -depth / 2, width / 2, depth / 2), 0, height)]


def _diffuser(side: float) -> Shapes:
    def shapes(model: Model) -> list[Any]:
        face = extrusion(model, rect(-side / 2, -side / 2, side / 2, side / 2), 0, 20)
        return [face, cylinder(model, 125, 20, 280)]

    return shapes


def _sprinkler(model: Model) -> list[Any]:
    return [cylinder(model, 12.5, -45, 150), cylinder(model, 35, -6, 0)]


def _long_sprinkler(model: Model) -> list[Any]:
    return [cylinder(model, 12.5, -345, 150), cylinder(model, 35, -6, 0)]


def _pendant(model: Model) -> list[Any]:
    return [extrusion(model, rect(-100, -100, 100, 100), -450, -150)]


def _detector(model: Model) -> list[Any]:
    return [cylinder(model, 50, -48, 0)]


def _downlight(model: Model) -> list[Any]:
    return [cylinder(model, 75, -3, 110)]


def _light(name: str, shapes: Shapes, weight_kg: float, predefined: str = "DIRECTIONSOURCE") -> DeviceType:
    return DeviceType(
        entity="IfcLightFixture",
        predefined=predefined,
        name=name,
        shapes=shapes,
        weight_kg=weight_kg,
        quantity_set="Qto_LightFixtureBaseQuantities",
    )


def _air(name: str, shapes: Shapes, weight_kg: float) -> DeviceType:
    return DeviceType(
        entity="IfcAirTerminal",
        predefined="DIFFUSER",
        name=name,
        shapes=shapes,
        weight_kg=weight_kg,
        quantity_set="Qto_AirTerminalBaseQuantities",
    )


def _other(entity: str, predefined: str, name: str, shapes: Shapes) -> DeviceType:
    return DeviceType(entity=entity, predefined=predefined, name=name, shapes=shapes)


DEVICE_TYPES: dict[str, DeviceType] = {
    "light": _light("Lay-in light 595 x 595", _plate(595, 595, 80), 4.2),
    "plank light": _light("Lay-in light 1195 x 295", _plate(295, 1195, 70), 3.6),
    "inch light": _light("Lay-in light 23 3/4 x 23 3/4 in", _plate(603.25, 603.25, 88.9), 4.4),
    "linear light": _light("Linear light 2380 x 120", _plate(120, 2380, 70), 6.5),
    "downlight": _light("Round light 150", _downlight, 0.9, "POINTSOURCE"),
    "pendant": _light("Pendant light 200", _pendant, 1.8, "POINTSOURCE"),
    "wall light": _light("Wall light", _plate(120, 250, 300), 1.1, "POINTSOURCE"),
    "diffuser": _air("Supply air 595 x 595", _diffuser(595), 3.1),
    "full-inch diffuser": _air("Supply air 24 x 24 in", _diffuser(609.6), 3.4),
    "inch diffuser": _air("Supply air 23 3/4 x 23 3/4 in", _diffuser(603.25), 3.3),
    "sprinkler": _other("IfcFireSuppressionTerminal", "SPRINKLER", "Pendent sprinkler", _sprinkler),
    "long sprinkler": _other(
        "IfcFireSuppressionTerminal", "SPRINKLER", "Pendent sprinkler on a long drop", _long_sprinkler
    ),
    "detector": _other("IfcSensor", "SMOKESENSOR", "Smoke detector", _detector),
    "switch": _other("IfcSwitchingDevice", "TOGGLESWITCH", "Wall switch", _plate(12, 80, 80)),
}
"""Kinds of devices. Weights are invented, of a plausible size, to have loads to add up."""

IFC2X3_OCCURRENCES = {
    "IfcSensor": "IfcDistributionControlElement",
    "IfcSwitchingDevice": "IfcFlowController",
}
"""What a device is in IFC2X3, where only its type tells more; all others are flow terminals."""


class Devices:
    """Makes types once and places occurrences that map their shape."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.made: dict[str, list[Any]] = {}
        self._types: dict[str, tuple[Any, Any]] = {}

    def _type(self, kind: str) -> tuple[Any, Any]:
        if kind not in self._types:
            model, spec = self.model, DEVICE_TYPES[kind]
            body = model.make("IfcShapeRepresentation", model.body, "Body", "SweptSolid", spec.shapes(model))
            shared = model.make("IfcRepresentationMap", model.axes((0, 0, 0)), body)
            made = model.root(
                f"{spec.entity}Type",
                kind,
                spec.name,
                RepresentationMaps=[shared],
                PredefinedType=spec.predefined,
            )
            self._types[kind] = (made, shared)
        return self._types[kind]

    def place(self, kind: str, key: str, placement: Any, structure: Any) -> Any:
        """An occurrence of a kind, contained in a storey."""
        model, spec = self.model, DEVICE_TYPES[kind]
        type_object, shared = self._type(kind)
        target = model.make("IfcCartesianTransformationOperator3D", None, None, model.point(0, 0, 0), 1.0)
        shape = model.shape([model.make("IfcMappedItem", shared, target)], "MappedRepresentation")
        entity = spec.entity
        if model.schema == "IFC2X3":
            entity = IFC2X3_OCCURRENCES.get(entity, "IfcFlowTerminal")
        device = model.root(entity, key, key, ObjectPlacement=placement, Representation=shape)
        model.contain(structure, device)
        model.assign_type(type_object, device)
        self.made.setdefault(kind, []).append(device)
        return device

    def write_weights(self) -> None:
        """One quantity set a type for all its occurrences that state a weight."""
        for kind, devices in self.made.items():
            spec = DEVICE_TYPES[kind]
            if spec.weight_kg is not None:
                weight = self.model.quantity("Weight", "GrossWeight", spec.weight_kg)
                self.model.quantities(kind, spec.quantity_set, [weight], devices)
