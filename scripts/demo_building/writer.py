"""A small deterministic IFC writer: fixed time stamp, name-based GlobalIds, IFC2X3 and IFC4.

All lengths come in mm and leave in the file's own unit.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.guid

__all__ = ["NAMESPACE", "Model"]

NAMESPACE = uuid.UUID("5b1d7c52-0d3e-5d6e-9f0e-6a6d1c0c2f44")
TIME_STAMP = "2024-03-01T08:00:00"
SECONDS = 1709280000
FOOT = 304.8


class Model:
    """One IFC file under construction; `save` writes the gathered relations and the file.

    `name` is the file's stem and the seed of its GlobalIds, `unit_mm` the file's length
    unit in mm (1, 1000 or 304.8).
    """

    def __init__(self, name: str, schema: str, unit_mm: float, project: str) -> None:
        self.name, self.schema, self.unit_mm = name, schema, unit_mm
        self.file: Any = ifcopenshell.file(schema=schema)
        self.history: Any = self._make_history()
        self._members: dict[tuple[str, str, str], tuple[Any, list[Any]]] = {}
        self._points: dict[tuple[float, ...], Any] = {}
        self._directions: dict[tuple[float, ...], Any] = {}
        self.kilogram: Any = None
        self.body: Any = None
        self.footprint: Any = None
        self.project = self.root("IfcProject", "project", project)
        self.project.UnitsInContext = self._make_units()
        self.project.RepresentationContexts = [self._make_contexts()]

    # -- entities -------------------------------------------------------------------------

    def make(self, entity: str, *args: Any, **kwargs: Any) -> Any:
        """A new entity."""
        return self.file.create_entity(entity, *args, **kwargs)

    def guid(self, key: str) -> str:
        """The GlobalId that belongs to a key of this file."""
        return str(ifcopenshell.guid.compress(uuid.uuid5(NAMESPACE, f"{self.name}/{key}").hex))

    def root(self, entity: str, key: str, name: str | None, **kwargs: Any) -> Any:
        """A new rooted entity; its GlobalId comes from the file's name, its class and the key."""
        guid = self.guid(f"{entity}/{key}")
        return self.make(entity, GlobalId=guid, OwnerHistory=self.history, Name=name, **kwargs)

    def length(self, value: float) -> float:
        """A length in mm in the file's unit."""
        return round(value / self.unit_mm, 9) + 0.0

    def point(self, *xyz: float) -> Any:
        """A shared point given in mm."""
        key = tuple(self.length(v) for v in xyz)
        if key not in self._points:
            self._points[key] = self.make("IfcCartesianPoint", key)
        return self._points[key]

    def direction(self, *xyz: float) -> Any:
        """A shared direction."""
        key = tuple(float(v) for v in xyz)
        if key not in self._directions:
            self._directions[key] = self.make("IfcDirection", key)
        return self._directions[key]

    def axes(self, origin: Sequence[float], axis: Sequence[float] = (), along: Sequence[float] = ()) -> Any:
        """A 3D axis placement; the default axes where none are given."""
        return self.make(
            "IfcAxis2Placement3D",
            self.point(*origin),
            self.direction(*axis) if axis else None,
            self.direction(*along) if along else None,
        )

    def placement(self, parent: Any, origin: Sequence[float], along: Sequence[float] = ()) -> Any:
        """A local placement; `along` is the direction of its X axis in the parent's plan."""
        axis = (0.0, 0.0, 1.0) if along else ()
        return self.make("IfcLocalPlacement", parent, self.axes(origin, axis, along))

    # -- set-up ---------------------------------------------------------------------------

    def _make_history(self) -> Any:
        person = self.make("IfcPerson", FamilyName="Demo", GivenName="Author")
        office = self.make("IfcOrganization", Name="Demo Office")
        both = self.make("IfcPersonAndOrganization", person, office)
        tool = self.make("IfcApplication", office, "1.0.0", "Demo building generator", "demo-building")
        return self.make(
            "IfcOwnerHistory",
            OwningUser=both,
            OwningApplication=tool,
            ChangeAction="NOCHANGE" if self.schema == "IFC2X3" else None,
            CreationDate=SECONDS,
        )

    def _conversion(self, kind: str, name: str, factor: float, exponents: Sequence[int], base: Any) -> Any:
        measure = {"LENGTHUNIT": "IfcLengthMeasure", "AREAUNIT": "IfcAreaMeasure"}.get(
            kind, "IfcVolumeMeasure" if kind == "VOLUMEUNIT" else "IfcPlaneAngleMeasure"
        )
        value = self.make("IfcMeasureWithUnit", self.make(measure, factor), base)
        return self.make(
            "IfcConversionBasedUnit", self.make("IfcDimensionalExponents", *exponents), kind, name, value
        )

    def _make_units(self) -> Any:
        def si(kind: str, name: str, prefix: str | None = None) -> Any:
            return self.make("IfcSIUnit", None, kind, prefix, name)

        length = si("LENGTHUNIT", "METRE", "MILLI" if self.unit_mm == 1 else None)
        area, volume = si("AREAUNIT", "SQUARE_METRE"), si("VOLUMEUNIT", "CUBIC_METRE")
        if self.unit_mm == FOOT:
            length = self._conversion("LENGTHUNIT", "FOOT", 0.3048, (1, 0, 0, 0, 0, 0, 0), length)
            area = self._conversion("AREAUNIT", "SQUARE FOOT", 0.3048**2, (2, 0, 0, 0, 0, 0, 0), area)
            volume = self._conversion("VOLUMEUNIT", "CUBIC FOOT", 0.3048**3, (3, 0, 0, 0, 0, 0, 0), volume)
        angle = self._conversion(
            "PLANEANGLEUNIT", "DEGREE", 0.017453292519943295, (0,) * 7, si("PLANEANGLEUNIT", "RADIAN")
        )
        self.kilogram = si("MASSUNIT", "GRAM", "KILO")
        return self.make("IfcUnitAssignment", [length, area, volume, angle, self.kilogram])

    def _make_contexts(self) -> Any:
        # True north is 12 degrees off the building: the grid must follow the rooms, not the north.
        context = self.make(
            "IfcGeometricRepresentationContext",
            None,
            "Model",
            3,
            1e-5,
            self.axes((0, 0, 0)),
            self.direction(0.20791169, 0.9781476),
        )

        def sub(name: str, view: str) -> Any:
            return self.make(
                "IfcGeometricRepresentationSubContext",
                ContextIdentifier=name,
                ContextType="Model",
                ParentContext=context,
                TargetView=view,
            )

        self.body, self.footprint = sub("Body", "MODEL_VIEW"), sub("FootPrint", "PLAN_VIEW")
        return context

    # -- relations, gathered and written by `save` ----------------------------------------

    def relate(self, relation: str, key: str, owner: Any, member: Any) -> None:
        """Adds a member to the one relation of this kind and key: contained, aggregated, typed."""
        self._members.setdefault((relation, key, ""), (owner, []))[1].append(member)

    def contain(self, structure: Any, member: Any) -> None:
        """Contains an element in a storey or space."""
        self.relate("IfcRelContainedInSpatialStructure", structure.GlobalId, structure, member)

    def aggregate(self, whole: Any, part: Any) -> None:
        """Makes one thing a part of another."""
        self.relate("IfcRelAggregates", whole.GlobalId, whole, part)

    def assign_type(self, type_object: Any, member: Any) -> None:
        """Gives an element its type."""
        self.relate("IfcRelDefinesByType", type_object.GlobalId, type_object, member)

    def assign_material(self, name: str, member: Any) -> None:
        """Gives an element a plain material."""
        known = self._members.get(("IfcRelAssociatesMaterial", name, ""))
        material = known[0] if known else self.make("IfcMaterial", name)
        self.relate("IfcRelAssociatesMaterial", name, material, member)

    def properties(
        self, key: str, name: str, values: dict[str, tuple[str, Any]], elements: Iterable[Any]
    ) -> None:
        """A property set: name → (measure type, value); lengths must be in the file's unit."""
        singles = [
            self.make("IfcPropertySingleValue", Name=n, NominalValue=self.make(measure, value))
            for n, (measure, value) in values.items()
        ]
        pset = self.root("IfcPropertySet", f"{key}/{name}", name, HasProperties=singles)
        self._define(key, name, pset, elements)

    def quantities(self, key: str, name: str, values: Sequence[Any], elements: Iterable[Any]) -> None:
        """A quantity set of given quantities."""
        qto = self.root(
            "IfcElementQuantity",
            f"{key}/{name}",
            name,
            MethodOfMeasurement="BaseQuantities",
            Quantities=list(values),
        )
        self._define(key, name, qto, elements)

    def quantity(self, kind: str, name: str, value: float, unit: Any = None) -> Any:
        """One quantity: kind Length (mm), Area (m²) or Weight (kg); with `unit` the value is in that."""
        if kind == "Length" and unit is None:
            value = self.length(value)
        elif kind == "Area" and self.unit_mm == FOOT:
            value = round(value / 0.3048**2, 6)
        return self.make(f"IfcQuantity{kind}", name, None, unit, value)

    def _define(self, key: str, name: str, definition: Any, elements: Iterable[Any]) -> None:
        self.root(
            "IfcRelDefinesByProperties",
            f"{key}/{name}",
            None,
            RelatedObjects=list(elements),
            RelatingPropertyDefinition=definition,
        )

    # -- geometry -------------------------------------------------------------------------

    def shape(self, items: Sequence[Any], kind: str = "SweptSolid") -> Any:
        """A product shape with one Body representation."""
        body = self.make("IfcShapeRepresentation", self.body, "Body", kind, list(items))
        return self.make("IfcProductDefinitionShape", None, None, [body])

    # -- file -----------------------------------------------------------------------------

    def save(self, folder: Path) -> Path:
        """Writes the gathered relations and the file; the same bytes each time."""
        for (relation, key, _), (owner, members) in self._members.items():
            one, many = {
                "IfcRelContainedInSpatialStructure": ("RelatingStructure", "RelatedElements"),
                "IfcRelAggregates": ("RelatingObject", "RelatedObjects"),
                "IfcRelDefinesByType": ("RelatingType", "RelatedObjects"),
                "IfcRelAssociatesMaterial": ("RelatingMaterial", "RelatedObjects"),
            }[relation]
            self.root(relation, f"of/{key}", None, **{one: owner, many: members})
        view = "CoordinationView_V2.0" if self.schema == "IFC2X3" else "DesignTransferView_V1.0"
        header = self.file.header
        header.file_description.description = (f"ViewDefinition [{view}]",)
        header.file_name.name = f"{self.name}.ifc"
        header.file_name.time_stamp = TIME_STAMP
        header.file_name.author = ("Demo Author",)
        header.file_name.organization = ("Demo Office",)
        header.file_name.preprocessor_version = "Demo building generator 1.0.0"
        header.file_name.originating_system = "Demo Office - Demo building generator - 1.0.0"
        header.file_name.authorization = "none"
        path = folder / f"{self.name}.ifc"
        path.write_bytes(self.file.to_string().encode("ascii"))
        return path
