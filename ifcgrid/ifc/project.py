"""Models as files: opening them, and the units in which they speak. The only place that converts."""

from __future__ import annotations

import hashlib
import math
import re
import tempfile
import zipfile
import zlib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from os import PathLike, fspath
from pathlib import Path

import ifcopenshell

from ifcgrid.domain.errors import ModelError

__all__ = [
    "SCHEMAS",
    "ModelFile",
    "area_scale",
    "as_model",
    "length_scale",
    "mass_scale",
    "model_from_file",
    "open_model",
    "property_in_mm",
    "quantity_area_m2",
    "quantity_in_mm",
    "read_text",
    "refuse_unread",
    "unit_in_mm",
    "volume_scale",
]

SCHEMAS = ("IFC2X3", "IFC4", "IFC4X3")
"""Schema families that are read and written; IFC4X3 with all its corrections."""

_PREFIXES = {
    "EXA": 1e18,
    "PETA": 1e15,
    "TERA": 1e12,
    "GIGA": 1e9,
    "MEGA": 1e6,
    "KILO": 1e3,
    "HECTO": 1e2,
    "DECA": 1e1,
    "DECI": 1e-1,
    "CENTI": 1e-2,
    "MILLI": 1e-3,
    "MICRO": 1e-6,
    "NANO": 1e-9,
    "PICO": 1e-12,
    "FEMTO": 1e-15,
    "ATTO": 1e-18,
}
_SAID_METRES = {"INCH": 0.0254, "FOOT": 0.3048, "YARD": 0.9144, "MILE": 1609.344}
_SI_NAMES = {
    "LENGTHUNIT": ("METRE", 1),
    "AREAUNIT": ("SQUARE_METRE", 2),
    "VOLUMEUNIT": ("CUBIC_METRE", 3),
    "MASSUNIT": ("GRAM", 1),
}
_NESTING = 8
_BOM = b"\xef\xbb\xbf"
_DATA = re.compile(rb"DATA\s*[;(]")
_NO_NUMBER = re.compile(rb"[(,]\s*[-+]?(?:nan|inf|\d+\.#)", re.IGNORECASE)
"""How programs write numbers that are none (C99 7.21.6.1; `1.#QNAN`); within a text it costs only time."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModelFile:
    """An open model and where it came from.

    `sha256` is that of the file's bytes, "" for a model that was not read from a file;
    `schema` one of `SCHEMAS`; `unit` the project's length unit in words ("millimetre");
    `is_lazy` when its instances are parsed only as they are read, see `refuse_unread`.
    """

    path: str
    sha256: str
    schema: str
    unit: str
    file: ifcopenshell.file
    is_lazy: bool = False


def open_model(path: str | PathLike[str], *, is_lazy: bool = False) -> ModelFile:
    """Opens an IFC model: STEP text, or one such text in a zip archive.

    With `is_lazy` instances are parsed as they are read, which opens a large model three
    times as fast; what cannot be read is then only known after reading (`refuse_unread`),
    and the file stays open.

    Raises:
        ModelError: there is no such file, it is no IFC model, it breaks off, its schema is
            not supported, or it has no usable length unit.
    """
    where = Path(fspath(path))
    if where.is_dir():
        raise ModelError(f"{where} is a folder; give an IFC file")
    if not where.exists():
        raise ModelError(f"{where} does not exist; give an IFC file")
    try:
        content = where.read_bytes()
    except OSError as error:
        raise ModelError(f"{where} cannot be read: {error.strerror or error}") from error
    file, was_lazy = _parse(content, where, is_lazy)
    model = replace(_described(file, str(where), hashlib.sha256(content).hexdigest()), is_lazy=was_lazy)
    refuse_unread([model])
    return model


def refuse_unread(models: Iterable[ModelFile]) -> None:
    """Raises what opening at once would have raised, if reading lazy models met what cannot be read.

    Raises:
        ModelError: a model holds values that cannot be read.
    """
    lazy = [model for model in models if model.is_lazy]
    if lazy and _parse_errors():
        for model in lazy:
            open_model(model.path)


def as_model(model: ModelFile | ifcopenshell.file) -> ModelFile:
    """A model as it is, or one that a host program holds open, wrapped.

    Raises:
        ModelError: its schema is not supported, or it has no usable length unit.
    """
    return model if isinstance(model, ModelFile) else model_from_file(model)


def model_from_file(file: ifcopenshell.file, path: str = "") -> ModelFile:
    """Wraps a model that a host program holds open; nothing is hashed.

    Raises:
        ModelError: its schema is not supported, or it has no usable length unit.
    """
    return _described(file, path, "")


def _described(file: ifcopenshell.file, path: str, sha256: str) -> ModelFile:
    name = path or "the model"
    count = len(file.by_type("IfcProject"))
    if count != 1:
        raise ModelError(f"{name} holds {count or 'no'} IfcProject; a building model has one")
    if file.schema not in SCHEMAS:
        raise ModelError(f"{name}: schema {file.schema} is not supported; use {', '.join(SCHEMAS)}")
    try:
        length_scale(file)
    except ModelError as error:
        raise ModelError(f"{name}: {error}") from error
    unit = _unit_name(_project_unit(file, "LENGTHUNIT"))
    return ModelFile(path=path, sha256=sha256, schema=file.schema, unit=unit, file=file)


def read_text(model: ModelFile) -> bytes | None:
    """The STEP text that a model was read from; None when it was not read from a file that is still the same.

    Raises:
        ModelError: the file is a damaged archive.
    """
    try:
        content = Path(model.path).read_bytes() if model.sha256 else b""
    except OSError:
        return None
    if not content or hashlib.sha256(content).hexdigest() != model.sha256:
        return None
    return _unzipped(Path(model.path)) if content.startswith(b"PK") else content


def _parse(content: bytes, where: Path, is_lazy: bool) -> tuple[ifcopenshell.file, bool]:
    is_archive = content.startswith(b"PK")
    text = _unzipped(where) if is_archive else content
    _judge_text(text, where)
    # The lazy parser of ifcopenshell 0.9.0 loses all DATA sections but the first, without a word;
    # and what is no number reaches the geometry kernel, which may never come back from it.
    is_lazy = is_lazy and len(_DATA.findall(text)) == 1 and _NO_NUMBER.search(text) is None
    if not is_archive and not text.startswith(_BOM):
        return _opened(where, where, is_lazy), is_lazy
    text = text.removeprefix(_BOM)  # no STEP file should begin with one; the parser stops at it
    # Through a file and not through a str: names in broken encodings must survive byte for byte.
    with tempfile.TemporaryDirectory() as folder:
        inner = Path(folder) / "model.ifc"
        inner.write_bytes(text)
        return _opened(inner, where), False


def _judge_text(content: bytes, where: Path) -> None:
    if not content.strip():
        raise ModelError(f"{where} is empty; give an IFC file")
    if not content[:4096].lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"ISO-10303-21"):
        raise ModelError(f"{where} is no IFC model: it does not begin with ISO-10303-21")
    if b"END-ISO-10303-21" not in content[-4096:]:
        raise ModelError(f"{where} breaks off before END-ISO-10303-21; get a complete copy")


def _opened(path: Path, where: Path, is_lazy: bool = False) -> ifcopenshell.file:
    ifcopenshell.get_log()  # reading it empties it of what was said before
    try:
        file = ifcopenshell.open(str(path), format=".ifc", lazy=is_lazy)
    except ifcopenshell.SchemaError as error:
        raise ModelError(f"{where}: {error}; supported are {', '.join(SCHEMAS)}") from error
    except Exception as error:  # the parser raises bare C++ errors too
        said = _parse_errors()
        raise ModelError(f"{where} is no readable IFC model: {said[0] if said else error}") from error
    if said := _parse_errors():
        # Such values are dropped without a word: rooms would change, and the copy would lack them.
        raise ModelError(
            f"{where} holds {len(said)} values that cannot be read, first: {said[0]}; have it written anew"
        )
    return file


def _parse_errors() -> list[str]:
    """What the parser could not read since it was last asked, without its marks and times."""
    lines = ifcopenshell.get_log().splitlines()
    return [re.sub(r"^(\s*\[[^\]]*\])+\s*", "", line) for line in lines if "[error]" in line.lower()]


def _unzipped(where: Path) -> bytes:
    try:
        with zipfile.ZipFile(where) as archive:
            names = sorted(n for n in archive.namelist() if n.lower().endswith(".ifc"))
            if len(names) != 1:
                raise ModelError(f"{where} is an archive with {len(names)} .ifc files; it must hold one")
            return archive.read(names[0])
    except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, OSError) as error:
        raise ModelError(f"{where} is a damaged archive: {error}") from error


def length_scale(file: ifcopenshell.file) -> float:
    """Millimetres in one length unit of the project.

    Raises:
        ModelError: the project names no length unit or one that cannot be.
    """
    unit = _project_unit(file, "LENGTHUNIT")
    if unit is None:
        raise ModelError("the project names no length unit; IfcProject.UnitsInContext needs a LENGTHUNIT")
    return _factor(unit, "LENGTHUNIT") * 1000.0


def area_scale(file: ifcopenshell.file) -> float:
    """Square metres in one area unit of the project; without one, the square of its length unit.

    Raises:
        ModelError: the unit cannot be.
    """
    unit = _project_unit(file, "AREAUNIT")
    return (length_scale(file) / 1000.0) ** 2 if unit is None else _factor(unit, "AREAUNIT")


def volume_scale(file: ifcopenshell.file) -> float | None:
    """Cubic metres in one volume unit of the project, None where it names none that has a size."""
    return _scale_or_none(file, "VOLUMEUNIT")


def mass_scale(file: ifcopenshell.file) -> float | None:
    """Kilograms in one mass unit of the project, None where it names none that has a size."""
    grams = _scale_or_none(file, "MASSUNIT")
    return None if grams is None else grams / 1000.0


def _scale_or_none(file: ifcopenshell.file, kind: str) -> float | None:
    unit = _project_unit(file, kind)
    try:
        return None if unit is None else _factor(unit, kind)
    except ModelError:
        return None


def quantity_in_mm(quantity: ifcopenshell.entity_instance, file: ifcopenshell.file) -> float:
    """An IfcQuantityLength in mm: in its own unit where it names one, else in the project's.

    Raises:
        ModelError: the quantity is no length, has no finite value, or its unit cannot be.
    """
    if not quantity.is_a("IfcQuantityLength"):
        raise ModelError(f"quantity {quantity.Name!r} is {quantity.is_a()}; a length was wanted")
    unit = quantity.Unit
    scale = length_scale(file) if unit is None else _factor(unit, "LENGTHUNIT") * 1000.0
    return _finite(quantity.LengthValue, quantity.Name) * scale


def quantity_area_m2(quantity: ifcopenshell.entity_instance, file: ifcopenshell.file) -> float:
    """An IfcQuantityArea in m²: in its own unit where it names one, else in the project's.

    Raises:
        ModelError: the quantity is no area, has no finite value, or its unit cannot be.
    """
    if not quantity.is_a("IfcQuantityArea"):
        raise ModelError(f"quantity {quantity.Name!r} is {quantity.is_a()}; an area was wanted")
    scale = area_scale(file) if quantity.Unit is None else _factor(quantity.Unit, "AREAUNIT")
    return _finite(quantity.AreaValue, quantity.Name) * scale


def property_in_mm(prop: ifcopenshell.entity_instance, file: ifcopenshell.file) -> float:
    """A numeric IfcPropertySingleValue in mm: in its own unit where it names one, else in the project's.

    Whether the number is meant as a length is the caller's knowledge: exporters also write
    lengths as IfcReal.

    Raises:
        ModelError: the value is no finite number, or its unit cannot be.
    """
    value = prop.NominalValue
    number = None if value is None else value.wrappedValue
    scale = length_scale(file) if prop.Unit is None else _factor(prop.Unit, "LENGTHUNIT") * 1000.0
    return _finite(number, prop.Name) * scale


def unit_in_mm(unit: ifcopenshell.entity_instance) -> float:
    """Millimetres in a length unit that stands beside the project's, as that of a map.

    Raises:
        ModelError: it is no length unit, or has no size in metres.
    """
    return _factor(unit, "LENGTHUNIT") * 1000.0


def _finite(value: object, name: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ModelError(f"{name!r} is {value!r}; a finite number was wanted")
    return float(value)


def _project_unit(file: ifcopenshell.file, kind: str) -> ifcopenshell.entity_instance | None:
    for project in file.by_type("IfcProject"):
        assignment = project.UnitsInContext
        for unit in assignment.Units if assignment is not None else ():
            if getattr(unit, "UnitType", None) == kind:
                return unit
    return None


def _unit_name(unit: ifcopenshell.entity_instance | None) -> str:
    if unit is None:
        return ""
    return f"{getattr(unit, 'Prefix', None) or ''}{unit.Name or ''}".lower().replace("_", " ")


def _factor(unit: ifcopenshell.entity_instance, kind: str, depth: int = 0) -> float:
    """SI units (metre, square metre) in one of this unit."""
    if getattr(unit, "UnitType", None) != kind:
        raise ModelError(f"unit {unit} is no {kind}")
    if unit.is_a("IfcSIUnit"):
        name, power = _SI_NAMES[kind]
        if unit.Name != name:
            raise ModelError(f"the {kind} is {unit.Name}; {name} was expected")
        return float(_PREFIXES.get(unit.Prefix or "", 1.0) ** power)
    if not unit.is_a("IfcConversionBasedUnit") or depth > _NESTING:
        raise ModelError(f"the {kind} is {_unit_name(unit) or unit.is_a()!r}, which has no size in metres")
    return _conversion(unit, kind, depth)


def _conversion(unit: ifcopenshell.entity_instance, kind: str, depth: int) -> float:
    measure = unit.ConversionFactor
    value = getattr(getattr(measure, "ValueComponent", None), "wrappedValue", None)
    base = getattr(measure, "UnitComponent", None)
    if isinstance(value, bool) or not isinstance(value, int | float) or base is None:
        raise ModelError(f"the {kind} {unit.Name!r} has no conversion factor")
    if not (math.isfinite(value) and value > 0.0):
        raise ModelError(f"the {kind} {unit.Name!r} is declared as {value} times another; it must be above 0")
    factor = float(value) * _factor(base, kind, depth + 1)
    meant = _SAID_METRES.get(str(unit.Name).upper()) if kind == "LENGTHUNIT" else None
    if meant is not None and abs(factor / meant - 1.0) > 1e-3:
        raise ModelError(f"the {kind} {unit.Name!r} is declared as {factor:g} m; it is {meant:g} m")
    return factor
