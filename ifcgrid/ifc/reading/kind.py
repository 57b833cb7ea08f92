"""What an element is to a ceiling: one table from class, predefined type and name to `Kind`.

The table is read from the top and the first row that fits decides. A class fits when the
element, or the type it is an occurrence of, is of that class or a subclass: so a general
flow terminal of IFC2X3 whose type is a light fixture type counts as a light fixture. Words
are looked for as whole words in the names of the element and its type, because only a name
tells a wall switch that was exported with a light fixture type. The classes are those of
ISO 16739-1 (IFC4, IFC4X3) and of IFC2X3; the words are common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import ifcopenshell.ifcopenshell_wrapper as wrapper
import ifcopenshell.util.element

from ifcgrid.domain.obstacle import Kind

__all__ = ["RULES", "Rule", "find_kind", "needs_access", "words_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One row: any of `classes`, and any of `types` and `words` where given. None: no obstacle."""

    kind: Kind | None
    classes: tuple[str, ...]
    types: frozenset[str] = field(default_factory=frozenset)
    words: tuple[str, ...] = ()
    within: tuple[str, ...] = ()


def _rule(
    kind: Kind | None, classes: str, types: str = "", words: tuple[str, ...] = (), within: str = ""
) -> Rule:
    return Rule(
        kind=kind,
        classes=tuple(classes.split()),
        types=frozenset(types.split()),
        words=words,
        within=tuple(within.split()),
    )


_SWITCH = ("switch", "switches", "single pole", "double pole", "dimmer", "dimmers", "push button")
_DETECTOR = ("detector", "detectors")
_SENSOR = ("sensor", "sensors")
_SPRINKLER = ("sprinkler", "sprinklers")
_LIGHT = (
    "luminaire",
    "light",
    "light fixture",
    "lighting fixture",
    "downlight",
    "troffer",
    "lamp",
    "pendant",
)
_AIR = ("diffuser", "grille", "register", "air terminal", "air inlet", "air outlet")
_CEILING_DEVICE = ("speaker", "loudspeaker", "camera", "projector", "access point", "antenna", "sounder")
_FIRE_POINT = ("hydrant", "hose", "hose reel", "extinguisher", "cabinet", "inlet", "siamese")
_CALL_POINT = ("pull station", "call point", "break glass", "manual")
_DUCT = ("duct", "ducts", "air duct")
_PIPE = ("pipe", "pipes", "piping", "tube", "drain")
_TRAY = ("cable tray", "tray", "cable", "conduit", "trunking", "wireway", "ladder", "busbar", "raceway")
_MARKER = ("origin", "geo reference", "georeference", "survey point", "base point", "model text")
_REACHED = ("valve", "damper", "vav box", "vav unit", "air terminal box", "junction box", "pull box")
_PLANT = ("tree", "trees", "shrub", "planting", "vegetation", "entourage")

_ANY_TERMINAL = "IfcFlowTerminal IfcBuildingElementProxy IfcDistributionControlElement"
_UNTYPED_SEGMENT = "IfcFlowSegment IfcFlowFitting IfcBuildingElementProxy"
_FRAMES = "TRUSS GIRDER BEAM_GRID RIGID_FRAME BRACED_FRAME"

RULES: tuple[Rule, ...] = (
    # Not there: holes, void provisions, ground, plants, markers, furniture, rebar, small fixings.
    _rule(None, "IfcFeatureElement IfcVirtualElement IfcGeographicElement IfcCivilElement"),
    _rule(None, "IfcEarthworksElement IfcEarthworksFill IfcEarthworksCut IfcGeotechnicalElement"),
    _rule(None, "IfcFurnishingElement IfcReinforcingElement IfcFastener IfcMechanicalFastener"),
    # Doors and windows sit in walls, which are there; their heads must stay under the ceiling.
    _rule(None, "IfcDoor IfcWindow", types="TRAPDOOR SKYLIGHT LIGHTDOME"),
    _rule(Kind.DOOR, "IfcDoor"),
    _rule(Kind.WINDOW, "IfcWindow"),
    _rule(None, "IfcBuildingElementProxy", types="PROVISIONFORVOID PROVISIONFORSPACE"),
    _rule(None, "IfcBuildingElementProxy", words=_MARKER + _PLANT),
    _rule(None, "IfcCovering", types="CEILING FLOORING SKIRTINGBOARD MOLDING ROOFING MEMBRANE TOPPING"),
    _rule(None, "IfcElement", within="IfcCovering"),  # the panels and the grid of a ceiling
    # Wall devices that some exporters give a light's or an alarm's class.
    _rule(Kind.OTHER, "IfcSwitchingDevice IfcOutlet IfcUnitaryControlElement IfcController"),
    _rule(Kind.OTHER, "IfcLightFixture IfcFlowTerminal IfcBuildingElementProxy", words=_SWITCH),
    _rule(Kind.OTHER, "IfcAlarm IfcSensor", types="BREAKGLASSBUTTON MANUALPULLBOX"),
    _rule(Kind.OTHER, "IfcAlarm IfcSensor", words=_CALL_POINT),
    # Ceiling devices.
    _rule(Kind.DETECTOR, "IfcSensor"),
    _rule(Kind.DEVICE, "IfcAlarm IfcAudioVisualAppliance IfcCommunicationsAppliance"),
    _rule(Kind.OTHER, "IfcFireSuppressionTerminal", types="HOSEREEL FIREHYDRANT BREECHINGINLET FIREMONITOR"),
    _rule(Kind.SPRINKLER, "IfcFireSuppressionTerminal", types="SPRINKLER SPRINKLERDEFLECTOR"),
    _rule(Kind.OTHER, "IfcFireSuppressionTerminal", words=_FIRE_POINT),
    _rule(Kind.SPRINKLER, "IfcFireSuppressionTerminal"),
    _rule(Kind.AIR_TERMINAL, "IfcAirTerminal"),
    _rule(Kind.LIGHT, "IfcLightFixture IfcLamp"),
    _rule(Kind.DETECTOR, f"{_ANY_TERMINAL} IfcFlowController", words=_DETECTOR),
    # Terminals whose class says nothing.
    _rule(Kind.OTHER, "IfcElectricAppliance IfcSanitaryTerminal IfcWasteTerminal IfcMedicalDevice"),
    _rule(Kind.OTHER, "IfcStackTerminal IfcGasTerminal IfcMobileTelecommunicationsAppliance"),
    _rule(Kind.DETECTOR, _ANY_TERMINAL, words=_SENSOR),
    _rule(Kind.SPRINKLER, _ANY_TERMINAL, words=_SPRINKLER),
    _rule(Kind.AIR_TERMINAL, _ANY_TERMINAL, words=_AIR),
    _rule(Kind.DEVICE, _ANY_TERMINAL, words=_CEILING_DEVICE),
    _rule(Kind.LIGHT, _ANY_TERMINAL, words=_LIGHT),
    # Services.
    _rule(Kind.EQUIPMENT, "IfcSpaceHeater IfcAirTerminalBox IfcJunctionBox"),
    _rule(Kind.DUCT, "IfcDuctSegment IfcDuctFitting IfcDuctSilencer IfcDamper"),
    _rule(Kind.PIPE, "IfcPipeSegment IfcPipeFitting IfcValve"),
    _rule(Kind.TRAY, "IfcCableCarrierSegment IfcCableCarrierFitting IfcCableSegment IfcCableFitting"),
    _rule(Kind.DUCT, _UNTYPED_SEGMENT, words=_DUCT),
    _rule(Kind.PIPE, _UNTYPED_SEGMENT, words=_PIPE),
    _rule(Kind.TRAY, _UNTYPED_SEGMENT, words=_TRAY),
    _rule(Kind.OTHER, "IfcFlowTerminal IfcDistributionControlElement"),
    _rule(Kind.EQUIPMENT, "IfcDistributionElement IfcElectricalElement IfcEquipmentElement"),
    # Structure and walls; a part is what its whole makes of it.
    _rule(Kind.WALL, "IfcElement", within="IfcCurtainWall IfcWall"),
    _rule(Kind.OTHER, "IfcElement", within="IfcStair IfcRamp IfcRailing"),
    _rule(Kind.BEAM, "IfcBeam"),
    _rule(Kind.BEAM, "IfcMember", types="RAFTER PURLIN CHORD COLLAR"),
    _rule(Kind.COLUMN, "IfcMember", types="POST"),
    _rule(Kind.WALL, "IfcMember", types="STUD MULLION"),
    _rule(Kind.BEAM, "IfcMember IfcPlate", within=_FRAMES),
    _rule(Kind.ROOF, "IfcSlab IfcPlate", within="IfcRoof"),
    _rule(Kind.ROOF, "IfcSlab", types="ROOF"),
    _rule(Kind.ROOF, "IfcRoof"),
    _rule(Kind.SLAB, "IfcSlab"),
    _rule(Kind.SLAB, "IfcPlate", words=("deck", "decking")),
    _rule(Kind.COLUMN, "IfcColumn"),
    _rule(Kind.WALL, "IfcWall IfcCurtainWall"),
    _rule(Kind.BEAM, "IfcElementAssembly", types=_FRAMES),
    # A layer or part of a slab, a beam, a column.
    _rule(Kind.SLAB, "IfcBuildingElementPart", within="IfcSlab"),
    _rule(Kind.ROOF, "IfcBuildingElementPart", within="IfcRoof"),
    _rule(Kind.BEAM, "IfcBuildingElementPart", within="IfcBeam"),
    _rule(Kind.COLUMN, "IfcBuildingElementPart", within="IfcColumn"),
    _rule(Kind.OTHER, "IfcElement"),
)
"""Class, predefined type and name words → kind, first fit wins."""


@cache
def _ancestry(schema: str, name: str) -> frozenset[str]:
    """A class and its superclasses; types are named like what they are types of."""
    found = []
    declaration = wrapper.schema_by_name(schema).declaration_by_name(name).as_entity()
    while declaration is not None:
        found.append(declaration.name())
        declaration = declaration.supertype()
    return frozenset(n.removesuffix("Type").removesuffix("Style") for n in found)


def _schema_of(element: Any) -> str:
    schema: str = element.file.schema_identifier
    return schema


def words_of(*names: str | None) -> str:
    """Names as lower-case words between single spaces, with a space at both ends.

    >>> words_of("M_SmokeDetector:Type-2", None)
    ' m smoke detector type 2 '
    """
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", " ".join(n for n in names if n))
    words = " ".join(re.findall(r"[^\W_]+", text.lower()))
    return f" {words} "


def _wholes(element: Any) -> list[Any]:
    """What an element is a part of, nearest first, up to the spatial structure."""
    wholes = []
    whole = ifcopenshell.util.element.get_aggregate(element)
    while whole is not None and whole.is_a("IfcElement"):
        wholes.append(whole)
        whole = ifcopenshell.util.element.get_aggregate(whole)
    return wholes


def _names_of_wholes(element: Any) -> set[str]:
    names: set[str] = set()
    for whole in _wholes(element):
        names |= _ancestry(_schema_of(whole), whole.is_a())
        names.add(str(ifcopenshell.util.element.get_predefined_type(whole)))
    return names


def _covered(element: Any) -> Any | None:
    """The element that a covering lies on, such as the duct inside an insulation."""
    for relation in getattr(element, "CoversElements", None) or getattr(element, "Covers", None) or ():
        host = getattr(relation, "RelatingBuildingElement", None)
        if host is not None and host.is_a("IfcElement"):
            return host
    return None


_MUST_BE_REACHED = frozenset({"IfcValve", "IfcDamper", "IfcAirTerminalBox", "IfcJunctionBox"})
_UNTYPED_PARTS = frozenset({"IfcFlowController", "IfcFlowFitting", "IfcBuildingElementProxy"})


def needs_access(element: Any) -> bool:
    """Whether hands must get at an element after the ceiling is closed.

    Valves, dampers, terminal boxes and junction boxes do (common practice, no source); of
    elements whose class says too little their names tell.
    """
    classes, words = set(_ancestry(_schema_of(element), element.is_a())), words_of(element.Name)
    kind_of = ifcopenshell.util.element.get_type(element)
    if kind_of is not None:
        classes |= _ancestry(_schema_of(element), kind_of.is_a())
        words = words_of(element.Name, kind_of.Name)
    if classes & _MUST_BE_REACHED:
        return True
    return bool(classes & _UNTYPED_PARTS) and any(f" {w} " in words for w in _REACHED)


def find_kind(element: Any) -> Kind | None:
    """What an element is to a ceiling, or None where it is no obstacle.

    Insulation and sleeves are what they are wrapped about.
    """
    schema = _schema_of(element)
    kind_of = ifcopenshell.util.element.get_type(element)
    classes = set(_ancestry(schema, element.is_a()))
    if kind_of is not None:
        classes |= _ancestry(schema, kind_of.is_a())
    predefined = {str(getattr(e, "PredefinedType", None)) for e in (element, kind_of) if e is not None}
    words = words_of(element.Name, element.ObjectType, kind_of.Name if kind_of is not None else None)
    wholes = _names_of_wholes(element)
    if "IfcCovering" in classes and predefined & {"INSULATION", "SLEEVING", "WRAPPING"}:
        host = _covered(element)
        return find_kind(host) if host is not None else Kind.OTHER
    for rule in RULES:
        if (
            classes.intersection(rule.classes)
            and (not rule.types or predefined & rule.types)
            and (not rule.words or any(f" {w} " in words for w in rule.words))
            and (not rule.within or wholes.intersection(rule.within))
        ):
            return rule.kind
    return Kind.OTHER
