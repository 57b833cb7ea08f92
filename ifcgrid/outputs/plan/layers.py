"""The table of layers: what each part of a plan is called in a drawing file, and how heavy its lines are.

The names that come with it have the form of the US National CAD Standard; `layers.toml`
says where each stands. Users lay their own table over it.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from ifcgrid.domain.errors import SystemDataError
from ifcgrid.outputs.plan.drawing import Part

__all__ = ["LINE_KINDS", "LINE_WEIGHTS", "Layer", "Layers", "read_layers"]

LINE_KINDS = ("continuous", "dashed", "dotted", "dash-dot")
"""How a line may be drawn."""

LINE_WEIGHTS = (
    *(0.0, 0.05, 0.09, 0.13, 0.15, 0.18, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5),
    *(0.53, 0.6, 0.7, 0.8, 0.9, 1.0, 1.06, 1.2, 1.4, 1.58, 2.0, 2.11),
)
"""Line weights in mm that a DXF file can hold (DXF reference, group code 370)."""

_LONGEST = 255
_FORBIDDEN = re.compile(r"[<>/\\\":;?*|=,`\x00-\x1f\x7f]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One layer: its name, colour by index (1 to 255), line weight in mm, line kind, and who says so."""

    layer: str
    colour: int
    weight: float
    line: str
    basis: str


Layers = Mapping[Part, Layer]
"""The layer of every part."""


@cache
def _own_layers() -> Layers:
    text = files(__name__.rpartition(".")[0]).joinpath("layers.toml").read_text(encoding="utf-8")
    rows = tomllib.loads(text)
    return MappingProxyType({part: Layer(**rows[part.value]) for part in Part})


def read_layers(text: str = "", name: str = "layers") -> Layers:
    """Our table of layers with what a user's TOML text changes in it.

    Args:
        text: tables named after parts, each with the entries that differ.
        name: what errors call the text, mostly its file.

    Raises:
        SystemDataError: the text is no TOML, or a part, an entry or a value is wrong.
    """
    own = _own_layers()
    try:
        given = tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError as error:
        raise SystemDataError(f"{name}: {error}") from error
    if unknown := sorted(set(given) - {part.value for part in Part}):
        parts = ", ".join(part.value for part in Part)
        raise SystemDataError(f"{name}: there is no part {unknown[0]!r}; allowed: {parts}")
    changed = {Part(key): _change(own[Part(key)], table, f"{name}: [{key}]") for key, table in given.items()}
    return MappingProxyType({**own, **changed})


def _change(layer: Layer, table: Any, where: str) -> Layer:
    if not isinstance(table, Mapping):
        raise SystemDataError(f'{where} is {table!r}; give a table such as {{layer = "A-CLNG"}}')
    names = [f.name for f in fields(Layer)]
    if unknown := sorted(set(table) - set(names)):
        raise SystemDataError(f"{where} has no entry {unknown[0]!r}; allowed: {', '.join(names)}")
    given: dict[str, Any] = {"basis": "the user's table", **table}
    _check_name(given.get("layer", layer.layer), where)
    _check_colour(given.get("colour", layer.colour), where)
    line = given.get("line", layer.line)
    if line not in LINE_KINDS:
        raise SystemDataError(f"{where}: line is {line!r}; choose one of {', '.join(LINE_KINDS)}")
    weight = given.get("weight", layer.weight)
    if isinstance(weight, bool) or not isinstance(weight, int | float) or float(weight) not in LINE_WEIGHTS:
        allowed = ", ".join(f"{w:g}" for w in LINE_WEIGHTS)
        raise SystemDataError(f"{where}: weight is {weight!r}; choose one of {allowed} (mm)")
    return replace(layer, **{**given, "weight": float(weight)})


def _check_name(name: Any, where: str) -> None:
    if not isinstance(name, str) or not name.strip() or name != name.strip() or len(name) > _LONGEST:
        raise SystemDataError(
            f"{where}: layer is {name!r}; give a name of up to {_LONGEST} characters, no spaces at its ends"
        )
    if found := _FORBIDDEN.search(name):
        raise SystemDataError(f"{where}: layer {name!r} holds {found[0]!r}, which a layer's name may not")


def _check_colour(colour: Any, where: str) -> None:
    if isinstance(colour, bool) or not isinstance(colour, int) or not 1 <= colour <= 255:
        raise SystemDataError(f"{where}: colour is {colour!r}; give a colour index from 1 to 255")
