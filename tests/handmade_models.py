"""Small IFC models built entity by entity, so that reading is tested without an authoring tool.

Everything is given in mm in model coordinates and written in the unit of the model.
"""

from __future__ import annotations

import math
import uuid

import ifcopenshell
import ifcopenshell.guid

from ifcgrid.ifc.project import ModelFile, model_from_file

UNITS = {"mm": 1.0, "m": 1000.0, "ft": 304.8}


class HandmadeModel:
    """One building with boxes for bodies; entities get GlobalIds from the order in which they are made."""

    def __init__(self, schema: str = "IFC4", unit: str = "mm") -> None:
        self.file = ifcopenshell.file(schema=schema)
        self.scale = UNITS[unit]
        self._count = 0
        f = self.file
        origin = f.createIfcAxis2Placement3D(f.createIfcCartesianPoint((0.0, 0.0, 0.0)), None, None)
        self._context = f.createIfcGeometricRepresentationContext(None, "Model", 3, 1e-5, origin, None)
        self._history = self._owner_history()
        assignment = f.createIfcUnitAssignment([self._length_unit(unit)])
        self.project = self.root("IfcProject", Name="P")
        self.project.RepresentationContexts = [self._context]
        self.project.UnitsInContext = assignment
        self.building = self.root("IfcBuilding", Name="B", CompositionType="ELEMENT")
        self.aggregate(self.project, self.building)

    def _owner_history(self):
        f = self.file
        person = f.createIfcPersonAndOrganization(f.createIfcPerson(), f.createIfcOrganization(Name="O"))
        application = f.createIfcApplication(person.TheOrganization, "1", "A", "A")
        return f.createIfcOwnerHistory(person, application, None, "ADDED", None, None, None, 0)

    def _length_unit(self, unit: str):
        f = self.file
        if unit == "ft":
            metre = f.createIfcSIUnit(None, "LENGTHUNIT", None, "METRE")
            factor = f.createIfcMeasureWithUnit(f.createIfcLengthMeasure(0.3048), metre)
            powers = f.createIfcDimensionalExponents(1, 0, 0, 0, 0, 0, 0)
            return f.createIfcConversionBasedUnit(powers, "LENGTHUNIT", "FOOT", factor)
        return f.createIfcSIUnit(None, "LENGTHUNIT", "MILLI" if unit == "mm" else None, "METRE")

    @property
    def model(self) -> ModelFile:
        return model_from_file(self.file, "handmade.ifc")

    def root(self, cls: str, **attributes):
        self._count += 1
        guid = ifcopenshell.guid.compress(uuid.UUID(int=self._count).hex)
        return self.file.create_entity(cls, GlobalId=guid, OwnerHistory=self._history, **attributes)

    def placement(self, z: float = 0.0):
        f = self.file
        point = f.createIfcCartesianPoint((0.0, 0.0, z / self.scale))
        return f.createIfcLocalPlacement(None, f.createIfcAxis2Placement3D(point, None, None))

    def aggregate(self, whole, *parts):
        self.root("IfcRelAggregates", RelatingObject=whole, RelatedObjects=list(parts))

    def storey(self, name: str, z: float):
        storey = self.root(
            "IfcBuildingStorey", Name=name, CompositionType="ELEMENT", ObjectPlacement=self.placement(z)
        )
        self.aggregate(self.building, storey)
        return storey

    def body(self, outline, bottom: float, top: float):
        """An extrusion of corners [(x, y), ...] from bottom to top."""
        f, s = self.file, self.scale
        points = [f.createIfcCartesianPoint((x / s, y / s)) for x, y in outline]
        profile = f.createIfcArbitraryClosedProfileDef(
            "AREA", None, f.createIfcPolyline([*points, points[0]])
        )
        position = f.createIfcAxis2Placement3D(f.createIfcCartesianPoint((0.0, 0.0, bottom / s)), None, None)
        up = f.createIfcDirection((0.0, 0.0, 1.0))
        solid = f.createIfcExtrudedAreaSolid(profile, position, up, (top - bottom) / s)
        return self._shape("SweptSolid", [solid])

    def faces(self, polygons):
        """A surface model of polygons [[(x, y, z), ...], ...]."""
        f, s = self.file, self.scale
        made = []
        for polygon in polygons:
            points = [f.createIfcCartesianPoint(tuple(c / s for c in p)) for p in polygon]
            bound = f.createIfcFaceOuterBound(f.createIfcPolyLoop(points), True)
            made.append(f.createIfcFace([bound]))
        model = f.createIfcFaceBasedSurfaceModel([f.createIfcConnectedFaceSet(made)])
        return self._shape("SurfaceModel", [model])

    def _shape(self, kind: str, items):
        shape = self.file.createIfcShapeRepresentation(self._context, "Body", kind, items)
        return self.file.createIfcProductDefinitionShape(None, None, [shape])

    def space(self, storey, outline, bottom: float, top: float, name: str = "1", **attributes):
        space = self.root(
            "IfcSpace",
            Name=name,
            CompositionType="ELEMENT",
            ObjectPlacement=self.placement(),
            Representation=self.body(outline, bottom, top),
            **attributes,
        )
        self.aggregate(storey, space)
        return space

    def element(self, cls: str, container, shape=None, type_=None, **attributes):
        """An element; `container` a spatial element, a whole to be a part of, or None."""
        if shape is not None:
            attributes |= {"Representation": shape, "ObjectPlacement": self.placement()}
        element = self.root(cls, **attributes)
        if type_ is not None:
            self.root("IfcRelDefinesByType", RelatedObjects=[element], RelatingType=type_)
        if container is not None and container.is_a("IfcElement"):
            self.aggregate(container, element)
        elif container is not None:
            self.root(
                "IfcRelContainedInSpatialStructure", RelatedElements=[element], RelatingStructure=container
            )
        return element

    def ceiling(self, container, outline, underside: float, top: float, **attributes):
        attributes.setdefault("PredefinedType", "CEILING")
        return self.element("IfcCovering", container, self.body(outline, underside, top), **attributes)

    def boundary(self, space, element):
        self.root(
            "IfcRelSpaceBoundary",
            RelatingSpace=space,
            RelatedBuildingElement=element,
            PhysicalOrVirtualBoundary="PHYSICAL",
            InternalOrExternalBoundary="INTERNAL",
        )

    def properties(self, element, set_name: str, **values):
        """A property set; a value is (measure, value) or (measure, value, unit)."""
        return self.named_properties(element, set_name, values)

    def named_properties(self, element, set_name: str, values):
        f = self.file
        made = []
        for name, (measure, value, *unit) in values.items():
            nominal = None if value is None else f.create_entity(measure, value)
            made.append(f.createIfcPropertySingleValue(name, None, nominal, *(unit or [None])))
        pset = self.root("IfcPropertySet", Name=set_name, HasProperties=made)
        self._define(element, pset)
        return pset

    def quantities(self, element, set_name: str, **values):
        """A set of length quantities, in the model's unit as they are; a value may be (value, unit)."""
        made = []
        for name, value in values.items():
            number, unit = value if isinstance(value, tuple) else (value, None)
            made.append(
                self.file.create_entity("IfcQuantityLength", Name=name, Unit=unit, LengthValue=float(number))
            )
        qset = self.root("IfcElementQuantity", Name=set_name, Quantities=made)
        self._define(element, qset)
        return qset

    def _define(self, element, definition):
        if element.is_a("IfcTypeObject"):
            element.HasPropertySets = [*(element.HasPropertySets or ()), definition]
        else:
            self.root(
                "IfcRelDefinesByProperties", RelatedObjects=[element], RelatingPropertyDefinition=definition
            )

    def on_map(self, e, n, h=0.0, *, turned_deg=0.0, scale=None, crs="EPSG:25832"):
        """A map conversion in metres (IFC4 and later); X is turned counter-clockwise from the easting."""
        f = self.file
        target = f.createIfcProjectedCRS(Name=crs, MapUnit=self.si_unit(None))
        x, y = math.cos(math.radians(turned_deg)), math.sin(math.radians(turned_deg))
        f.createIfcMapConversion(self._context, target, e, n, h, x, y, scale)

    def axes(self, storey, **ends):
        """A grid of straight axes, by tag ((x, y), (x, y)); the first half are U axes."""
        f, s = self.file, self.scale
        made = []
        for tag, points in ends.items():
            curve = f.createIfcPolyline([f.createIfcCartesianPoint((x / s, y / s)) for x, y in points])
            made.append(f.createIfcGridAxis(tag, curve, True))
        half = (len(made) + 1) // 2
        return self.element(
            "IfcGrid", storey, ObjectPlacement=self.placement(), UAxes=made[:half], VAxes=made[half:]
        )

    def si_unit(self, prefix: str | None):
        return self.file.createIfcSIUnit(None, "LENGTHUNIT", prefix, "METRE")


def rectangle(x0: float, y0: float, x1: float, y1: float):
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
