"""Reads parts of BCF files as strictly as the models allow that bcf-client made of the published schemas.

The schemas of BCF 3.0 are in no package of the registries; the models were generated from them
and carry what they demand: names, order, how often, required attributes, lengths and patterns.
"""

from __future__ import annotations

import dataclasses
import re
import types
import typing
from collections.abc import Iterator
from typing import Any
from xml.etree import ElementTree as Tree

from xsdata.exceptions import ParserError
from xsdata.formats.dataclass.parsers import XmlParser
from xsdata.formats.dataclass.parsers.config import ParserConfig

_PARSER = XmlParser(config=ParserConfig(fail_on_unknown_properties=True, fail_on_unknown_attributes=True))


def faults(data: bytes, model: type) -> list[str]:
    """What of an XML part is not as its model demands."""
    try:
        _PARSER.from_bytes(data, model)
    except (TypeError, ParserError) as error:
        return [str(error)]
    return list(_faults(Tree.fromstring(data), model, model.__name__))


def _inner(kind: Any) -> Any:
    """The type of one value: of Optional[X] and list[X] the X."""
    if isinstance(kind, types.UnionType) or typing.get_origin(kind) is typing.Union:
        (kind,) = (k for k in typing.get_args(kind) if k is not type(None))
    return typing.get_args(kind)[0] if typing.get_origin(kind) is list else kind


def _fields(model: type, kind: str) -> dict[str, tuple[int, Any, Any]]:
    """The attributes or elements of a model by name: rank, metadata, type."""
    hints = typing.get_type_hints(model)
    return {
        f.metadata.get("name", f.name): (rank, f.metadata, hints[f.name])
        for rank, f in enumerate(dataclasses.fields(model))
        if f.metadata.get("type", "Element") == kind
    }


def _faults(element: Tree.Element, model: type, path: str) -> Iterator[str]:
    yield from _attribute_faults(element, _fields(model, "Attribute"), path)
    known, ranks = _fields(model, "Element"), []
    for child in element:
        if child.tag not in known:
            yield f"{path}: {child.tag} is not known"
            continue
        rank, metadata, hint = known[child.tag]
        ranks.append(rank)
        inner, place = _inner(hint), f"{path}/{child.tag}"
        is_nested = dataclasses.is_dataclass(inner)
        yield from _faults(child, inner, place) if is_nested else _values(child.text or "", metadata, place)
    if ranks != sorted(ranks):
        yield f"{path}: elements are not in their order"
    for name, (rank, metadata, hint) in known.items():
        count = ranks.count(rank)
        least = metadata.get("min_occurs", 1 if metadata.get("required") else 0)
        if count < least or (count > 1 and typing.get_origin(hint) is not list):
            yield f"{path}: {count} of {name}"


def _attribute_faults(
    element: Tree.Element, known: dict[str, tuple[int, Any, Any]], path: str
) -> Iterator[str]:
    for name, text in element.attrib.items():
        if name not in known:
            yield f"{path}: attribute {name} is not known"
        else:
            yield from _values(text, known[name][1], f"{path}@{name}")
    for name, (_, metadata, _) in known.items():
        if metadata.get("required") and name not in element.attrib:
            yield f"{path}: attribute {name} is missing"


def _values(text: str, metadata: Any, path: str) -> Iterator[str]:
    if len(text.strip()) < metadata.get("min_length", 0):
        yield f"{path}: {text!r} is too short"
    if "length" in metadata and len(text) != metadata["length"]:
        yield f"{path}: {text!r} is not {metadata['length']} long"
    if "pattern" in metadata and not re.fullmatch(metadata["pattern"], text):
        yield f"{path}: {text!r} does not match"
