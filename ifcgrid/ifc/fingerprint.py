"""Short codes of what an element is, equal for rows that are to be written and for entities of a model.

Every element that we write gets one code an aspect: where it stands, what it is called, its
shape, its properties, its type, what is assigned to it, what it belongs to. The codes stand
in the model (see `ifcgrid.ifc.writing.fingerprint_rows`), so that a later run sees what
somebody changed since, and in which aspect. Ids, owner histories and contexts do not count,
nor do differences that are too small to be meant.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from hashlib import blake2b
from math import floor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance

__all__ = [
    "ASPECTS",
    "CODE",
    "ELEMENTS",
    "FINGERPRINT_SET",
    "OWNER",
    "PLACE",
    "STATE",
    "Aspect",
    "Digester",
    "Node",
    "code",
    "digest",
    "is_tagged",
    "name_text",
    "place_codes",
]

FINGERPRINT_SET = "IfcGrid_Fingerprint"
"""The property set with the codes of a zone's elements."""

ELEMENTS = "Elements"
"""Its property with the texts, see `ifcgrid.ifc.writing.fingerprint_rows`."""

OWNER = "Owner"
"""Its property with what the GlobalIds of tagged elements are made from, besides the tag."""

STATE = "State"
"""The property of a type of ours with the codes of what it is called and made of."""

Aspect = str

ASPECTS: tuple[Aspect, ...] = ("name", "shape", "properties", "type", "assigned", "whole")
"""The aspects that equal elements share, in the order of their codes; the place has one besides."""

CODE, PLACE = 6, 5
"""Letters of a code and of a place's code, six bits each: less than one in 10^9 is alike by chance."""

_LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz_$"
_ALPHABET = np.array(list(_LETTERS))
_FINE = 0.01
"""Steps in mm in which sizes are told apart."""

_OFF = 0.137
"""Share of a step by which steps are shifted, for sizes mostly are multiples of one: noise must not
carry them over."""

_TURN = 1e-5
"""Steps in which directions are told apart."""

Node = tuple[str, Sequence[Any]]
"""An entity's class and attributes."""


def digest(text: str) -> int:
    """64 bits of a text."""
    return int.from_bytes(blake2b(text.encode(), digest_size=8).digest(), "little")


def code(number: int) -> str:
    """The letters of 64 bits."""
    return "".join(_LETTERS[number >> 6 * k & 63] for k in range(CODE))


def is_tagged(entity: str) -> bool:
    """Whether instances of a class have a Tag after their Representation."""
    return entity not in ("IfcGrid", "IfcAnnotation")


def _step(value: float) -> int:
    return floor(value + 0.5 + _OFF)


def _steps(values: Any, step: float) -> NDArray[np.int64]:
    scaled = np.asarray(values, dtype=float) / step
    return np.floor(scaled + 0.5 + _OFF).astype(np.int64)


def place_codes(points: Any, z: Any, x: Any) -> list[str]:
    """One code a place: points (n, 3) in mm, directions (n, 3) of Z and X."""
    turns = [_steps(_unit(d), _TURN) for d in (z, x)]
    steps = np.column_stack([_steps(points, tolerance.CUT), *turns]).astype(np.uint64)
    mixed = np.zeros(len(steps), dtype=np.uint64)
    for column in steps.T:
        mixed = _mix(mixed ^ column)
    digits = mixed[:, None] >> (6 * np.arange(PLACE, dtype=np.uint64)) & np.uint64(63)
    letters = np.ascontiguousarray(_ALPHABET[digits.astype(np.intp)])
    codes: list[str] = letters.view(f"<U{PLACE}").ravel().tolist()
    return codes


def _unit(directions: Any) -> NDArray[np.float64]:
    vectors = np.asarray(directions, dtype=float)
    units: NDArray[np.float64] = vectors / np.linalg.norm(vectors, axis=1)[:, None]
    return units


def _mix(values: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """The finishing steps of SplitMix64 (Steele, Lea and Flood, 2014): every bit decides on every other."""
    values = values + np.uint64(0x9E3779B97F4A7C15)
    values = (values ^ values >> np.uint64(30)) * np.uint64(0xBF58476D1CE4E5B9)
    values = (values ^ values >> np.uint64(27)) * np.uint64(0x94D049BB133111EB)
    return values ^ values >> np.uint64(31)


class Digester:
    """Digests of entities by content, each worked out once.

    Args:
        open_up: gives an entity's class and attributes.
        is_entity: tells references from other values.
        key: gives what a reference is known by.
        typed: gives name and value of a value that names its type, None for others.
        scale: mm in one length unit.
        reference: the one type of references, where that is all they are; it is only for speed.
    """

    def __init__(
        self,
        open_up: Callable[[Any], Node],
        is_entity: Callable[[Any], bool],
        key: Callable[[Any], int],
        typed: Callable[[Any], tuple[str, Any] | None],
        scale: float,
        reference: type | None = None,
    ) -> None:
        self._open_up, self._is_entity, self._key, self._typed = open_up, is_entity, key, typed
        self._scale = scale
        self._reference = reference
        self._known: tuple[dict[int, int], dict[int, int]] = ({}, {})
        self._alike: dict[tuple[str, bool, tuple[Any, ...]], int] = {}

    def of(self, entity: Any, *, is_shape: bool = False) -> int:
        """The digest of an entity with all that it refers to; in shapes numbers are sizes."""
        known, key = self._known[is_shape], self._key(entity)
        found = known.get(key)
        if found is None:
            name, attributes = self._open_up(entity)
            found = known[key] = self._by_content(name, attributes, is_shape)
        return found

    def _by_content(self, name: str, attributes: Sequence[Any], is_shape: bool) -> int:
        if self._reference is None:
            return digest(name + self.text(_told(name, attributes), is_shape=is_shape, entity=name))
        # What is equal to the last reference need not be gone through again: rooms are much alike.
        content = (name, is_shape, tuple(attributes))
        found = self._alike.get(content)
        if found is None:
            found = digest(name + self.text(_told(name, attributes), is_shape=is_shape, entity=name))
            self._alike[content] = found
        return found

    def shape(self, representations: Iterable[Any]) -> int:
        """The digest of a product's representations."""
        return digest(" ".join(str(self.of(r, is_shape=True)) for r in representations))

    def set(self, definition: Any) -> int:
        """The digest of a set, whatever its GlobalId; 0 for the one that holds such digests."""
        name, attributes = self._open_up(definition)
        if attributes[2] == FINGERPRINT_SET:
            return 0
        return digest(name + self.text(tuple(attributes)[2:]))

    def text(self, values: Sequence[Any], *, is_shape: bool = False, entity: str = "") -> str:
        """Values as text; absent ones at the end do not count."""
        end = len(values)
        while end and values[end - 1] is None:
            end -= 1
        texts = []
        # The commonest kinds are told here and not one by one: a floor of a building has a million values.
        for value in values[:end]:
            kind = type(value)
            if value is None:
                texts.append("$")
            elif kind is str:
                texts.append(repr(value))
            elif kind is self._reference:
                texts.append(f"#{self.of(value, is_shape=is_shape)}")
            else:
                texts.append(self._value(value, is_shape, entity))
        return f"({','.join(texts)})"

    def _value(self, value: Any, is_shape: bool, entity: str) -> str:
        kind = type(value)
        if kind is float:
            return self._number(value, is_shape, entity)
        if kind is str:
            return repr(value)
        if value is None:
            return "$"
        return self._rare(value, is_shape, entity)

    def _rare(self, value: Any, is_shape: bool, entity: str) -> str:
        kind = type(value)
        if kind is tuple or kind is list:
            return self.text(value, is_shape=is_shape, entity=entity)
        if kind is bool:
            return ".T." if value else ".F."
        if (named := self._typed(value)) is not None:
            return f"{named[0].upper()}({self._value(named[1], False, '')})"
        if self._is_entity(value):
            return f"#{self.of(value, is_shape=is_shape)}"
        if isinstance(value, int | float):
            return self._number(float(value), is_shape, entity)
        if isinstance(value, str):
            return repr(str(value))
        return self.text(value, is_shape=is_shape, entity=entity)

    def _number(self, value: float, is_shape: bool, entity: str) -> str:
        if not is_shape:
            return f"{value:.9g}"
        if entity == "IfcDirection":
            return str(_step(value / _TURN))
        return str(_step(value * self._scale / _FINE))


_LEFT_OUT = {"IfcShapeRepresentation": (0,), "IfcSIUnit": (0,)}
"""Attributes that tell nothing: contexts, and what is derived."""


def _told(entity: str, attributes: Sequence[Any]) -> Sequence[Any]:
    left_out = _LEFT_OUT.get(entity)
    if left_out is None:
        return attributes
    return [None if k in left_out else v for k, v in enumerate(attributes)]


def name_text(digester: Digester, entity: str, attributes: Sequence[Any], *, has_tag: bool) -> str:
    """What an element is called: all but its GlobalId, owner, place and shape, and its Tag if asked."""
    told = list(attributes)
    told[:2], told[5:7] = [None, None], [None] * len(told[5:7])
    if not has_tag and is_tagged(entity) and len(told) > 7:
        told[7] = None
    return entity + digester.text(told, is_shape=entity == "IfcGrid")
