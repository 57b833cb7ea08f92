"""Rules of the buildingSMART validation service that concern ceilings, as checks of our own.

Names are those of the published rules (https://github.com/buildingSMART/ifc-gherkin-rules);
what each asks is told in our words. A check looks at what was added to a model and gives
one sentence a fault; what the model brought along is not judged.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import ifcopenshell
import ifcopenshell.util.element
import ifcopenshell.util.pset
from shapely import Polygon

Check = Callable[["Added"], Iterator[str]]


class Added:
    """What stands in a model besides what stood in it before (ids above the greatest one)."""

    def __init__(self, file: ifcopenshell.file, before: ifcopenshell.file | None = None) -> None:
        self.file = file
        self.schema = file.schema
        last = max(before.entity_names(), default=0) if before is not None else 0
        self.entities = [e for e in file if e.id() > last]

    def of(self, kind: str) -> list[Any]:
        return [e for e in self.entities if e.is_a(kind)]


def ifc102_nothing_deprecated(added: Added) -> Iterator[str]:
    if added.schema == "IFC2X3":
        return
    gone = ("IfcRelCoversSpaces", "IfcRelCoversBldgElements", "IfcPresentationStyleAssignment")
    for kind in gone:
        yield from (f"{e} is deprecated" for e in added.of(kind))
    for fastener in added.of("IfcMechanicalFastener"):
        if fastener.NominalDiameter is not None or fastener.NominalLength is not None:
            yield f"{fastener} has sizes of its own"


def sps005_one_place_in_the_structure(added: Added) -> Iterator[str]:
    for element in added.of("IfcElement"):
        places = sum(
            len(getattr(element, name, None) or ())
            for name in ("Nests", "Decomposes", "ContainedInStructure", "AdheresToElement", "VoidsElements")
        )
        if places != 1:
            yield f"{element} has {places} places in the structure"


def sps003_parts_are_not_contained(added: Added) -> Iterator[str]:
    for element in added.of("IfcElement"):
        if element.Decomposes and getattr(element, "ContainedInStructure", None):
            yield f"{element} is a part and contained"


def sps007_what_is_free_is_contained(added: Added) -> Iterator[str]:
    for product in (*added.of("IfcElement"), *added.of("IfcGrid"), *added.of("IfcAnnotation")):
        is_part = bool(getattr(product, "Decomposes", None)) or bool(getattr(product, "VoidsElements", None))
        if not is_part and not product.ContainedInStructure:
            yield f"{product} hangs in nothing"


def ojp001_parts_stand_relative_to_their_whole(added: Added) -> Iterator[str]:
    for element in added.of("IfcElement"):
        wholes = [r.RelatingObject for r in element.Decomposes or () if r.is_a("IfcRelAggregates")]
        wholes += [r.RelatingBuildingElement for r in getattr(element, "VoidsElements", None) or ()]
        for whole in wholes:
            if element.ObjectPlacement.PlacementRelTo != whole.ObjectPlacement:
                yield f"{element} does not stand relative to {whole}"


def ojt001_predefined_types(added: Added) -> Iterator[str]:
    for product in added.of("IfcObject"):
        own = getattr(product, "PredefinedType", None)
        kind = ifcopenshell.util.element.get_type(product)
        stated = getattr(kind, "PredefinedType", None)
        if added.schema != "IFC2X3" and stated not in (None, "NOTDEFINED") and own is not None:
            yield f"{product} says {own} beside its type"
        if own == "USERDEFINED" and not product.ObjectType:
            yield f"{product} is user-defined without a word"
    for kind in added.of("IfcElementType"):
        if getattr(kind, "PredefinedType", None) == "USERDEFINED" and not kind.ElementType:
            yield f"{kind} is user-defined without a word"


@cache
def _templates(schema: str) -> Any:
    return ifcopenshell.util.pset.get_template(schema)


def _carriers(definition: Any) -> Iterator[Any]:
    for name in ("DefinesOccurrence", "PropertyDefinitionOf"):
        for relation in getattr(definition, name, None) or ():
            yield from relation.RelatedObjects
    yield from getattr(definition, "DefinesType", None) or ()


def _check_set(added: Added, definition: Any, values: Any) -> Iterator[str]:
    template = _templates(added.schema).get_by_name(definition.Name)
    if template is None:
        yield f"no set {definition.Name} in {added.schema}"
        return
    known = {p.Name: p for p in template.HasPropertyTemplates}
    for value in values:
        if value.Name not in known:
            yield f"{definition.Name} has no {value.Name}"
        elif wrong := _wrong_type(value, known[value.Name]):
            yield f"{definition.Name}.{value.Name}: {wrong}"
    for element in _carriers(definition):
        if definition.Name not in _names_for(added.schema, element.is_a(), _predefined(element)):
            yield f"{definition.Name} does not apply to {element}"


def _predefined(element: Any) -> str:
    return str(ifcopenshell.util.element.get_predefined_type(element) or "")


@cache
def _names_for(schema: str, entity: str, predefined: str) -> frozenset[str]:
    return frozenset(_templates(schema).get_applicable_names(entity, predefined))


_QUANTITIES = {
    "Q_LENGTH": "IfcQuantityLength",
    "Q_AREA": "IfcQuantityArea",
    "Q_VOLUME": "IfcQuantityVolume",
    "Q_WEIGHT": "IfcQuantityWeight",
    "Q_COUNT": "IfcQuantityCount",
}


def _wrong_type(value: Any, template: Any) -> str:
    if value.is_a("IfcPhysicalQuantity"):
        wanted = _QUANTITIES[template.TemplateType]
        return "" if value.is_a(wanted) else f"{value.is_a()} instead of {wanted}"
    if template.TemplateType == "P_ENUMERATEDVALUE":
        if not value.is_a("IfcPropertyEnumeratedValue"):
            return "it is no choice"
        allowed = {v.wrappedValue for v in template.Enumerators.EnumerationValues}
        chosen = {v.wrappedValue for v in value.EnumerationValues}
        return "" if chosen <= allowed else f"{chosen} is not among {sorted(allowed)}"
    if not value.is_a("IfcPropertySingleValue"):
        return "it is no single value"
    if template.PrimaryMeasureType and value.NominalValue.is_a() != template.PrimaryMeasureType:
        return f"{value.NominalValue.is_a()} instead of {template.PrimaryMeasureType}"
    return ""


def pse001_standard_property_sets(added: Added) -> Iterator[str]:
    for pset in added.of("IfcPropertySet"):
        if pset.Name.startswith("Pset_"):
            yield from _check_set(added, pset, pset.HasProperties)


def pse002_own_sets_do_not_look_like_standard_ones(added: Added) -> Iterator[str]:
    for pset in added.of("IfcPropertySet"):
        if re.match(r"[Pp][Ss][Ee][Tt]", pset.Name) and not pset.Name.startswith("Pset_"):
            yield f"{pset.Name} looks like a standard set"


def qty001_standard_quantity_sets(added: Added) -> Iterator[str]:
    for qset in added.of("IfcElementQuantity"):
        if qset.MethodOfMeasurement != "BaseQuantities":
            yield f"{qset.Name} is measured by {qset.MethodOfMeasurement}"
        if qset.Name.startswith("Qto_"):
            yield from _check_set(added, qset, qset.Quantities)


def gem001_closed_shells_are_closed(added: Added) -> Iterator[str]:
    for shell in added.of("IfcClosedShell"):
        edges: Counter[frozenset[int]] = Counter()
        for face in shell.CfsFaces:
            for bound in face.Bounds:
                points = [p.id() for p in bound.Bound.Polygon]
                edges.update(frozenset(e) for e in zip(points, [*points[1:], points[0]], strict=True))
        if any(n != 2 for n in edges.values()):
            yield f"{shell} is open"


def gem003_one_representation_an_identifier(added: Added) -> Iterator[str]:
    for shape in added.of("IfcProductDefinitionShape"):
        names = [r.RepresentationIdentifier for r in shape.Representations]
        if len(set(names)) != len(names):
            yield f"{shape} has {names}"


_TYPES = {
    "Body": {"SweptSolid", "MappedRepresentation", "Clipping", "CSG", "Brep", "SurfaceModel", "Tessellation"},
    "FootPrint": {"GeometricCurveSet", "Curve2D", "GeometricSet", "Annotation2D"},
    "Annotation": {"GeometricCurveSet", "Annotation2D", "GeometricSet"},
    "Axis": {"Curve2D", "Curve3D", "GeometricCurveSet"},
}


def gem004_types_that_go_with_identifiers(added: Added) -> Iterator[str]:
    for view in added.of("IfcShapeRepresentation"):
        allowed = _TYPES.get(view.RepresentationIdentifier, set())
        if added.schema == "IFC2X3":
            allowed = allowed - {"Curve3D", "Tessellation"}
        if view.RepresentationType not in allowed:
            yield f"{view.RepresentationIdentifier} as {view.RepresentationType}"


def gem051_there_is_a_context(added: Added) -> Iterator[str]:
    (project,) = added.file.by_type("IfcProject")
    if not any(c.CoordinateSpaceDimension == 3 for c in project.RepresentationContexts or ()):
        yield "no 3D context"


_VIEWS = {"Body": "MODEL_VIEW", "FootPrint": "PLAN_VIEW", "Annotation": "PLAN_VIEW", "Axis": "GRAPH_VIEW"}


def gem052_views_stand_in_the_context_of_their_name(added: Added) -> Iterator[str]:
    for view in added.of("IfcShapeRepresentation"):
        context = view.ContextOfItems
        if not context.is_a("IfcGeometricRepresentationSubContext"):
            yield f"{view} stands in a context that is no sub-context"
        elif context.ContextIdentifier != view.RepresentationIdentifier:
            yield f"{view} stands in {context.ContextIdentifier}"
    for context in added.of("IfcGeometricRepresentationSubContext"):
        if context.TargetView != _VIEWS.get(context.ContextIdentifier):
            yield f"{context} is {context.TargetView}"


def gem111_no_point_twice_in_a_line(added: Added) -> Iterator[str]:
    for line in added.of("IfcPolyline"):
        points = line.Points
        places = [p.Coordinates for p in points]
        is_closed = len(points) > 2 and places[0] == places[-1]
        if is_closed and points[0] != points[-1]:
            yield f"{line} ends beside its start"
        open_places = places[:-1] if is_closed else places
        if len(set(open_places)) != len(open_places):
            yield f"{line} has a point twice"


def mpd001_maps_have_their_parents_identifier(added: Added) -> Iterator[str]:
    for view in added.of("IfcShapeRepresentation"):
        for item in view.Items:
            if item.is_a("IfcMappedItem"):
                inner = item.MappingSource.MappedRepresentation.RepresentationIdentifier
                if inner != view.RepresentationIdentifier:
                    yield f"{view} maps {inner}"


def pjs002_occurrences_are_not_declared(added: Added) -> Iterator[str]:
    if added.schema == "IFC2X3":
        return
    for relation in added.file.by_type("IfcRelDeclares"):
        for declared in relation.RelatedDefinitions:
            if declared.is_a("IfcObject"):
                yield f"{declared} is declared"


def pjs003_global_ids(added: Added) -> Iterator[str]:
    counts = Counter(r.GlobalId for r in added.file.by_type("IfcRoot"))
    for root in added.of("IfcRoot"):
        if not re.fullmatch(r"[0-3][0-9A-Za-z_$]{21}", root.GlobalId):
            yield f"{root} has no GlobalId"
        if counts[root.GlobalId] > 1:
            yield f"{root} is not the only one of its GlobalId"


def swe001_profiles_do_not_cross_themselves(added: Added) -> Iterator[str]:
    for profile in added.of("IfcArbitraryClosedProfileDef"):
        lines = [profile.OuterCurve, *(getattr(profile, "InnerCurves", None) or ())]
        rings = [[p.Coordinates for p in line.Points] for line in lines]
        if not Polygon(rings[0], rings[1:]).is_valid:
            yield f"{profile} crosses itself"


def wr11_a_view_belongs_to_one_shape(added: Added) -> Iterator[str]:
    for view in added.of("IfcShapeRepresentation"):
        owners = len(view.OfProductRepresentation) + len(view.RepresentationMap)
        if owners != 1:
            yield f"{view} belongs to {owners} shapes"


def ifc106_every_resource_is_used(added: Added) -> Iterator[str]:
    for entity in added.entities:
        if entity.is_a("IfcRoot") or entity.is_a("IfcStyledItem"):
            continue
        if not added.file.get_total_inverses(entity):
            yield f"{entity} is used by nothing"


def relations_have_both_ends(added: Added) -> Iterator[str]:
    """Not one of theirs: a set without anybody, or a type without occurrences, is of no use."""
    for definition in added.of("IfcPropertySetDefinition"):
        if not list(_carriers(definition)):
            yield f"{definition} describes nothing"
    for kind in added.of("IfcTypeObject"):
        if not ifcopenshell.util.element.get_types(kind):
            yield f"{kind} types nothing"


RULES: dict[str, Check] = {
    name.split("_")[0].upper(): check
    for name, check in list(globals().items())
    if re.match(r"[a-z]{2,3}\d+_", name)
} | {"ENDS": relations_have_both_ends}


def faults(file: ifcopenshell.file, before: ifcopenshell.file | None = None) -> dict[str, list[str]]:
    """What is wrong with what was added, by rule."""
    added = Added(file, before)
    found = {name: list(check(added)) for name, check in RULES.items()}
    return {name: told for name, told in found.items() if told}
