"""Which IFC class, type and sets each of our things has in each schema: the one table.

The classes, predefined types and set names are those of the schemas IFC2X3 TC1, IFC4 ADD2
TC1 and IFC4X3 ADD2 and of their published property and quantity set templates:
https://technical.buildingsmart.org/standards/ifc/ifc-schema-specifications/. Own words
(`MAINRUNNER`, `CROSSTEE`, `WALLANGLE`, `CEILINGPANEL`, `CEILINGGRID`) stand where the
schemas leave USERDEFINED, also `TRAPEZEBAR` and `STABILISERBAR`; "Drop rod" is the
schemas' own example of a hanger's name.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from ifcgrid.domain.ceiling import Role
from ifcgrid.ifc.writing.rows import Enum

__all__ = [
    "BAR_PARTS",
    "CEILING_CLASHES",
    "ELEMENT_CLASHES",
    "MEMBER_PARTS",
    "ROD_PARTS",
    "Mapping",
    "Part",
    "SchemaNames",
    "find_mapping",
    "find_names",
]


class Part(StrEnum):
    """What is written. The value is the word in reports and in the keys of types."""

    COVERING = "covering"
    ASSEMBLY = "assembly"
    MAIN_RUNNER = "main_runner"
    CROSS_TEE = "cross_tee"
    SECOND_TEE = "second_tee"
    WALL_ANGLE = "wall_angle"
    HANGER = "hanger"
    TRAPEZE_BAR = "trapeze_bar"
    TRAPEZE_ROD = "trapeze_rod"
    BRACE_WIRE = "brace_wire"
    BRACE_POST = "brace_post"
    DEVICE_WIRE = "device_wire"
    STABILISER = "stabiliser"
    ANCHOR = "anchor"
    JOINT = "joint"
    CONTROL_LINE = "control_line"
    PANEL = "panel"
    OPENING = "opening"
    PROVISION = "provision"
    SETOUT = "setout"


MEMBER_PARTS = {
    Role.MAIN_RUNNER: Part.MAIN_RUNNER,
    Role.CROSS_TEE: Part.CROSS_TEE,
    Role.SECOND_TEE: Part.SECOND_TEE,
    Role.WALL_ANGLE: Part.WALL_ANGLE,
}
"""The part that each role of a member is."""

ROD_PARTS = (Part.HANGER, Part.TRAPEZE_ROD, Part.BRACE_WIRE, Part.DEVICE_WIRE)
"""Parts that pull: rods and wires."""

BAR_PARTS = (Part.TRAPEZE_BAR, Part.BRACE_POST, Part.STABILISER)
"""Members that are no runners of the grid."""

CEILING_CLASHES = frozenset(
    {
        "column-in-ceiling",
        "column-in-room",
        "service-in-ceiling",
        "structure-in-ceiling",
        "wall-in-ceiling",
        "wall-in-room",
    }
)
"""Rules whose subjects stand in the room's ceiling, even where no single part of it is named."""

ELEMENT_CLASHES = frozenset({"devices-overlap"})
"""Rules whose subjects stand in one another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mapping:
    """How one part stands in one schema.

    `tail` are the occurrence's attributes after Tag (after WAxes for the set-out grid);
    `type_entity` is "" where the schema has no type for it; `type_tail` are the type's
    attributes after ElementType. `quantities` names the quantity set, "" for none.
    """

    entity: str
    name: str
    object_type: str | None = None
    tail: tuple[Any, ...] = ()
    type_entity: str = ""
    element_type: str | None = None
    type_tail: tuple[Any, ...] = ()
    quantities: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SchemaNames:
    """What else differs: set names, and whether clashes can be relations and members' styles direct.

    `has_interference`: IfcRelInterferesElements exists. `is_style_assigned`: a styled item
    takes an IfcPresentationStyleAssignment instead of the style itself. `has_status`:
    the common sets have Status, and that of coverings IsExternal.
    """

    tiling: str
    has_interference: bool
    is_style_assigned: bool
    has_status: bool


_USER = Enum("USERDEFINED")


def _member(name: str, element_type: str) -> Mapping:
    return Mapping(
        entity="IfcMember",
        name=name,
        tail=(None,),
        type_entity="IfcMemberType",
        element_type=element_type,
        type_tail=(_USER,),
        quantities="Qto_MemberBaseQuantities",
    )


def _rod(name: str, object_type: str) -> Mapping:
    """Rods and wires are accessories, not members: they only pull, and have no section to design."""
    return Mapping(
        entity="IfcDiscreteAccessory",
        name=name,
        object_type=object_type,
        tail=(None,),
        type_entity="IfcDiscreteAccessoryType",
        element_type=object_type,
        type_tail=(_USER,),
        quantities="IfcGrid_RodQuantities",
    )


_IFC4: dict[Part, Mapping] = {
    Part.COVERING: Mapping(
        entity="IfcCovering",
        name="Suspended ceiling",
        tail=(None,),
        type_entity="IfcCoveringType",
        type_tail=(Enum("CEILING"),),
        quantities="Qto_CoveringBaseQuantities",
    ),
    Part.ASSEMBLY: Mapping(
        entity="IfcElementAssembly",
        name="Ceiling grid",
        object_type="CEILINGGRID",
        tail=(Enum("SITE"), _USER),
    ),
    Part.MAIN_RUNNER: _member("Main runner", "MAINRUNNER"),
    Part.CROSS_TEE: _member("Cross tee", "CROSSTEE"),
    Part.SECOND_TEE: _member("Cross tee, second rank", "CROSSTEE"),
    Part.WALL_ANGLE: _member("Wall angle", "WALLANGLE"),
    Part.HANGER: Mapping(
        entity="IfcDiscreteAccessory",
        name="Hanger",
        object_type="Drop rod",
        tail=(None,),
        type_entity="IfcDiscreteAccessoryType",
        element_type="Drop rod",
        type_tail=(_USER,),
        quantities="IfcGrid_HangerQuantities",
    ),
    Part.TRAPEZE_BAR: _member("Trapeze bar", "TRAPEZEBAR"),
    Part.TRAPEZE_ROD: _rod("Trapeze rod", "Drop rod"),
    Part.BRACE_WIRE: _rod("Splay wire", "Splay wire"),
    # A post is pressed and has a section: the schemas' own word for such a member is STRUT.
    Part.BRACE_POST: replace(_member("Compression post", ""), element_type=None, type_tail=(Enum("STRUT"),)),
    Part.DEVICE_WIRE: _rod("Device wire", "Device wire"),
    Part.STABILISER: _member("Stabiliser bar", "STABILISERBAR"),
    Part.ANCHOR: Mapping(
        entity="IfcMechanicalFastener",
        name="Anchor",
        tail=(None, None, None),
        type_entity="IfcMechanicalFastenerType",
        type_tail=(Enum("ANCHORBOLT"), None, None),
    ),
    Part.JOINT: Mapping(entity="IfcAnnotation", name="Separation joint", object_type="SEPARATIONJOINT"),
    Part.CONTROL_LINE: Mapping(entity="IfcAnnotation", name="Control line", object_type="CONTROLLINE"),
    Part.PANEL: Mapping(
        entity="IfcBuildingElementPart",
        name="Ceiling panel",
        object_type="CEILINGPANEL",
        tail=(None,),
        type_entity="IfcBuildingElementPartType",
        element_type="CEILINGPANEL",
        type_tail=(_USER,),
    ),
    Part.OPENING: Mapping(
        entity="IfcOpeningElement",
        name="Opening for a device",
        object_type="Opening",
        tail=(Enum("OPENING"),),
        quantities="Qto_OpeningElementBaseQuantities",
    ),
    Part.PROVISION: Mapping(
        entity="IfcBuildingElementProxy",
        name="Provision for a device",
        object_type="ProvisionForVoid",
        tail=(Enum("PROVISIONFORVOID"),),
    ),
    Part.SETOUT: Mapping(entity="IfcGrid", name="Ceiling set-out", tail=(Enum("RECTANGULAR"),)),
}

_IFC4X3 = _IFC4 | {
    # "framework of spaced cables or bars parallel to or crossing each other" exists since IFC4X3.
    Part.ASSEMBLY: replace(_IFC4[Part.ASSEMBLY], tail=(Enum("SITE"), Enum("GRID"))),
    Part.JOINT: replace(_IFC4[Part.JOINT], tail=(_USER,)),
    Part.CONTROL_LINE: replace(_IFC4[Part.CONTROL_LINE], tail=(_USER,)),
    Part.PROVISION: replace(_IFC4[Part.PROVISION], entity="IfcVirtualElement"),
}


def _without_tail(part: Part, **changes: Any) -> Mapping:
    return replace(_IFC4[part], tail=(), **changes)


_BASE = "BaseQuantities"
_IFC2X3 = {
    Part.COVERING: replace(_IFC4[Part.COVERING], tail=(Enum("CEILING"),), quantities=_BASE),
    Part.ASSEMBLY: _IFC4[Part.ASSEMBLY],
    **{part: _without_tail(part, quantities=_BASE) for part in MEMBER_PARTS.values()},
    **{part: _without_tail(part, quantities=_BASE) for part in BAR_PARTS},
    **{part: _without_tail(part, type_tail=()) for part in ROD_PARTS},
    Part.ANCHOR: replace(_IFC4[Part.ANCHOR], tail=(None, None), type_tail=()),
    Part.JOINT: _IFC4[Part.JOINT],
    Part.CONTROL_LINE: _IFC4[Part.CONTROL_LINE],
    Part.PANEL: _without_tail(Part.PANEL, type_entity="", element_type=None, type_tail=()),
    Part.OPENING: _without_tail(Part.OPENING, quantities=_BASE),
    Part.PROVISION: replace(_IFC4[Part.PROVISION], tail=(None,)),
    Part.SETOUT: _without_tail(Part.SETOUT),
}

_TABLE = {"IFC2X3": _IFC2X3, "IFC4": _IFC4, "IFC4X3": _IFC4X3}

_NAMES = {
    "IFC2X3": SchemaNames(
        tiling="Pset_CoveringCeiling", has_interference=False, is_style_assigned=True, has_status=False
    ),
    "IFC4": SchemaNames(
        tiling="Pset_CoveringCeiling", has_interference=True, is_style_assigned=False, has_status=True
    ),
    "IFC4X3": SchemaNames(
        tiling="Pset_Tiling", has_interference=True, is_style_assigned=False, has_status=True
    ),
}


def find_mapping(part: Part, schema: str) -> Mapping:
    """How a part stands in a schema family (IFC2X3, IFC4, IFC4X3)."""
    return _TABLE[schema][part]


def find_names(schema: str) -> SchemaNames:
    """What else differs by schema family."""
    return _NAMES[schema]
