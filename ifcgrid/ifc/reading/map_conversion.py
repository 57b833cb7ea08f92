"""Where a model lies on a map: IfcMapConversion, IfcRigidOperation, or the IFC2X3 property sets for it.

The sum is that of the schema's documentation of IfcMapConversion: scale, turn, shift.
Coordinates there are in the unit of the map, the model's in that of the project.
"""

from __future__ import annotations

import math
import re
from typing import Any

import ifcopenshell.util.element

from ifcgrid.domain.coordinates import Coordinates
from ifcgrid.domain.errors import ModelError
from ifcgrid.domain.units import MILLIMETRES
from ifcgrid.ifc.project import ModelFile, length_scale, unit_in_mm

__all__ = ["find_map", "read_map"]

GRID_SCALE = 0.01
"""A map's scale differs from 1 by far less than this; more is a mistake of units."""

ON_EARTH = 7e10
"""Map coordinates in mm that are larger are no place on the earth: half the way round it is 2.0e10, but
eastings with the number of a UTM zone before them, as of EPSG:4647, reach 6.1e10."""

_UNIT_WORDS = {"MILLIMETRE": 1.0, "CENTIMETRE": 10.0, "METRE": 1000.0, "KILOMETRE": 1e6, "FOOT": 304.8}
_US_FOOT = 1_200_000.0 / 3937.0


def read_map(model: ModelFile) -> Coordinates:
    """The map coordinates of a model.

    Raises:
        ModelError: the model does not say where it lies, says it several times, or in a way
            that cannot be.
    """
    found = find_map(model)
    if found is None:
        raise ModelError(
            f"{model.path or 'the model'} has no map conversion ({_wanted(model.schema)}); set out in "
            "project coordinates, or have the model's place on the map written into it"
        )
    return found


def find_map(model: ModelFile) -> Coordinates | None:
    """The map coordinates of a model; None where it does not say where it lies.

    Raises:
        ModelError: it says so several times, or in a way that cannot be.
    """
    try:
        return _from_sets(model.file) if model.schema == "IFC2X3" else _from_operation(model.file)
    except ModelError as error:
        raise ModelError(f"{model.path or 'the model'}: {error}") from error


def _wanted(schema: str) -> str:
    return "property set ePset_MapConversion" if schema == "IFC2X3" else "IfcMapConversion"


def _from_operation(file: Any) -> Coordinates | None:
    operations = [
        o
        for o in file.by_type("IfcCoordinateOperation")
        if o.SourceCRS is not None and o.SourceCRS.is_a("IfcGeometricRepresentationContext")
    ]
    if not operations:
        return None
    plain = [o for o in operations if o.SourceCRS.ContextType in (None, "Model")] or operations
    if len(plain) > 1:
        ids = ", ".join(f"#{o.id()}" for o in plain)
        raise ModelError(f"there are {len(plain)} coordinate operations ({ids}); one was expected")
    operation = plain[0]
    target = operation.TargetCRS
    unit = getattr(target, "MapUnit", None)
    project = length_scale(file)
    unit_mm = project if unit is None else unit_in_mm(unit)
    notes = _context_notes(operation.SourceCRS)
    if operation.is_a("IfcRigidOperation"):
        return _rigid(operation, target, unit_mm, project, notes)
    scale, told = _scale(operation.Scale, project, unit_mm)
    factors = tuple(
        _number(getattr(operation, f"Factor{axis}", 1.0), f"Factor{axis}") * scale for axis in "XYZ"
    )
    abscissa, ordinate = operation.XAxisAbscissa, operation.XAxisOrdinate
    return _coordinates(
        (operation.Eastings, operation.Northings, operation.OrthogonalHeight),
        unit_mm,
        project,
        (1.0 if abscissa is None and ordinate is None else abscissa, ordinate),
        (factors[0], factors[1], factors[2]),
        _names(target),
        (*told, *notes),
    )


def _rigid(
    operation: Any, target: Any, unit_mm: float, project: float, notes: tuple[str, ...]
) -> Coordinates:
    first, second = operation.FirstCoordinate, operation.SecondCoordinate
    values = [getattr(v, "wrappedValue", v) for v in (first, second)]
    if any(hasattr(v, "is_a") and not v.is_a("IfcLengthMeasure") for v in (first, second)):
        raise ModelError(f"#{operation.id()} gives an angle, which is no place on a map in lengths")
    return _coordinates(
        (values[0], values[1], operation.Height),
        unit_mm,
        project,
        (1.0, 0.0),
        (1.0, 1.0, 1.0),
        _names(target),
        notes,
    )


def _from_sets(file: Any) -> Coordinates | None:
    """The convention for IFC2X3: ePset_MapConversion and ePset_ProjectedCRS on the site or the project."""
    for owner in (*file.by_type("IfcSite"), *file.by_type("IfcProject")):
        sets = {n.casefold(): s for n, s in ifcopenshell.util.element.get_psets(owner).items()}
        if (found := sets.get("epset_mapconversion")) is None:
            continue
        crs = sets.get("epset_projectedcrs", {})
        project = length_scale(file)
        unit_mm = _unit_of_words(str(crs.get("MapUnit") or ""), project)
        scale, told = _scale(found.get("Scale"), project, unit_mm)
        abscissa, ordinate = found.get("XAxisAbscissa"), found.get("XAxisOrdinate")
        return _coordinates(
            (found.get("Eastings"), found.get("Northings"), found.get("OrthogonalHeight")),
            unit_mm,
            project,
            (1.0 if abscissa is None and ordinate is None else abscissa, ordinate),
            (scale, scale, scale),
            (_text(crs, "Name"), _text(crs, "GeodeticDatum"), _text(crs, "Description")),
            told,
        )
    return None


def _text(values: Any, name: str) -> str:
    return str(values.get(name) or "")


def _unit_of_words(words: str, project: float) -> float:
    """Millimetres in a unit that is named in words."""
    if not words.strip():
        return project
    plain = re.sub(r"[\s_-]+", "", words).upper().replace("METER", "METRE").replace("FEET", "FOOT")
    if plain.removesuffix("S") in _UNIT_WORDS:
        return _UNIT_WORDS[plain.removesuffix("S")]
    if "SURVEY" in plain and "FOOT" in plain:
        return _US_FOOT
    if words.strip().lower() in MILLIMETRES:
        return float(MILLIMETRES[words.strip().lower()])
    raise ModelError(f"the map's unit is {words!r}; METRE, MILLIMETRE, FOOT or US SURVEY FOOT was expected")


def _scale(given: Any, project: float, unit: float) -> tuple[float, tuple[str, ...]]:
    """Map millimetres in one model millimetre, with what is to be told of it."""
    if given is None:
        if abs(project / unit - 1.0) <= GRID_SCALE:
            return 1.0, ()
        return 1.0, (
            "The model gives no Scale though its units are not the map's: that of the units was taken.",
        )
    scale = _number(given, "Scale")
    true = scale * unit / project
    if abs(true - 1.0) <= GRID_SCALE:
        return true, ()
    if abs(scale - 1.0) <= GRID_SCALE:
        return scale, (
            f"The model gives Scale {scale:g} though its units are not the map's: theirs was taken.",
        )
    raise ModelError(
        f"the map conversion's Scale is {scale:g}; with the units of project and map it would be "
        f"{project / unit:g}"
    )


def _number(value: Any, name: str) -> float:
    plain = getattr(value, "wrappedValue", value)
    if isinstance(plain, bool) or not isinstance(plain, int | float) or not math.isfinite(plain):
        raise ModelError(f"the map conversion's {name} is {plain!r}; a number was wanted")
    return float(plain)


def _coordinates(
    place: tuple[Any, Any, Any],
    unit_mm: float,
    project_mm: float,
    axis: tuple[Any, Any],
    scale: tuple[float, float, float],
    names: tuple[str, str, str],
    notes: tuple[str, ...],
) -> Coordinates:
    given = [
        _number(value or 0.0, name)
        for value, name in zip(place, ("Eastings", "Northings", "OrthogonalHeight"), strict=True)
    ]
    unit_mm, told = _likely_unit(given, unit_mm, project_mm)
    east, north, height = (value * unit_mm for value in given)
    direction = (_number(axis[0] or 0.0, "XAxisAbscissa"), _number(axis[1] or 0.0, "XAxisOrdinate"))
    if math.hypot(*direction) <= 0.0 or min(scale) <= 0.0:
        raise ModelError(
            "the map conversion has no direction of its X axis, or a scale that is not above zero"
        )
    name, datum, words = names
    code = re.search(r"EPSG[^0-9]*(\d+)", f"{name} {words}", re.IGNORECASE)
    return Coordinates(
        kind="map",
        name=" - ".join(dict.fromkeys(filter(None, (name, words)))) or "map coordinates without a name",
        base=(east, north, height),
        turn_deg=math.degrees(math.atan2(direction[1], direction[0])),
        direction=direction,
        scale=scale,
        epsg=code[1] if code else "",
        datum=datum,
        notes=(*told, *notes),
    )


def _likely_unit(given: list[float], unit_mm: float, project_mm: float) -> tuple[float, tuple[str, ...]]:
    """The map's unit; the project's where only that gives a place on earth, as some programs write it."""
    most = max(map(abs, given))
    if most * unit_mm <= ON_EARTH:
        return unit_mm, ()
    if most * project_mm > ON_EARTH:
        raise ModelError(f"the map conversion gives coordinates of {most:g}, which is no place on earth")
    return project_mm, (
        f"The model gives map coordinates of {most:.0f}, no place on earth in the map's own unit: they were "
        "read in the project's. Check one point against the site's control before anything is marked.",
    )


def _names(target: Any) -> tuple[str, str, str]:
    found = (getattr(target, key, None) for key in ("Name", "GeodeticDatum", "Description"))
    name, datum, words = (str(text or "") for text in found)
    return name, datum, words


def _context_notes(context: Any) -> tuple[str, ...]:
    """A coordinate system of the context that is not at the model's origin is not gone by."""
    axes = context.WorldCoordinateSystem
    if axes is None or not any(axes.Location.Coordinates):
        return ()
    return (
        "The model's context has a coordinate system of its own away from the origin, which was not gone by: "
        "check one point against the site's control.",
    )
