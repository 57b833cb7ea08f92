"""Who we are in a model: GlobalIds that stay the same, and the mark that says "ours".

Every root that ifcgrid writes gets a GlobalId made from the GlobalId of the space (or zone,
or project) it belongs to and from its own key, so that a second run gives the same ids.
Every ceiling that ifcgrid writes carries the property set `MARKER_SET`.
"""

from __future__ import annotations

import base64
import hashlib
import re
import uuid
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "ADOPTED",
    "KEY",
    "MARKER_SET",
    "NAMESPACE",
    "OUR_TAG",
    "find_ours",
    "global_id",
    "global_ids",
    "interference_key",
    "is_adopted",
    "is_our_interference",
    "is_ours",
    "marker_of",
]

NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "ifcgrid:ceiling")
"""The name space of all our GlobalIds. Changing it would change every one of them."""

_HASHED = hashlib.sha1(NAMESPACE.bytes, usedforsecurity=False)
_ALPHABET = bytes.maketrans(
    b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/",
    b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz_$",
)
"""From base 64 to the digits of a GlobalId (ISO 16739-1, IfcGloballyUniqueId): 22 of 6 bits hold a UUID."""

MARKER_SET = "IfcGrid_Provenance"
"""The property set on everything that we wrote or took over."""

KEY = "Key"
"""The property of `MARKER_SET` with the zone's key."""

ADOPTED = "Adopted"
"""The property of `MARKER_SET` that is TRUE where we took over somebody else's ceiling."""


OUR_TAG = re.compile(
    r"(main_runner|cross_tee|second_tee|wall_angle|panel"
    r"|hanger|trapeze|brace|wire|stabiliser|anchor)(/[^/]+)+"
)
"""The tags of parts that we make; of the last row some name what they belong to."""


def global_id(owner: str, key: str) -> str:
    """The GlobalId (22 characters) of the part `key` of the thing whose GlobalId or key is `owner`.

    >>> global_id("2O2Fr$t4X7Zf8NOew3FL9r", "main_runner/2/0")
    '3rc4_IJg9PzfY_B56lUHUf'
    """
    digest = bytearray(_digest(f"{owner}/{key}"))
    digest[6] = digest[6] & 0x0F | 0x50
    digest[8] = digest[8] & 0x3F | 0x80
    return base64.b64encode(b"\0\0" + digest).translate(_ALPHABET)[2:].decode("ascii")


def global_ids(owner: str, keys: Sequence[str]) -> NDArray[np.bytes_]:
    """One GlobalId a key, in order, as 22 bytes each."""
    names = [_digest(f"{owner}/{key}") for key in keys]
    padded = np.zeros((len(names), 18), dtype=np.uint8)
    padded[:, 2:] = np.frombuffer(b"".join(names), dtype=np.uint8).reshape(-1, 16)
    padded[:, 8] = padded[:, 8] & 0x0F | 0x50
    padded[:, 10] = padded[:, 10] & 0x3F | 0x80
    text = base64.b64encode(padded.tobytes()).translate(_ALPHABET)
    digits = np.frombuffer(text, dtype=np.uint8).reshape(-1, 24)[:, 2:]
    return np.ascontiguousarray(digits).view("S22").reshape(-1)


def _digest(name: str) -> bytes:
    """The first 16 bytes of the hash of a name in `NAMESPACE`, as a UUID of version 5 has it (RFC 9562)."""
    hashed = _HASHED.copy()
    hashed.update(name.encode())
    return hashed.digest()[:16]


def interference_key(one: str, other: str) -> str:
    """The key of our relation between two that clash; its owner is the project."""
    return f"interferes/{one}/{other}"


def is_our_interference(relation: Any, project: str) -> bool:
    """Whether we wrote a relation between two elements of others; `project` is its GlobalId.

    Such a relation has no end that is ours, so it is known by its own GlobalId.
    """
    one, other = relation.RelatingElement, relation.RelatedElement
    if one is None or other is None:
        return False
    key = interference_key(one.GlobalId, other.GlobalId)
    return bool(relation.GlobalId == global_id(project, key))


def marker_of(element: Any) -> Any | None:
    """Our property set on an element or type, or None."""
    if element.is_a("IfcTypeObject"):
        definitions = element.HasPropertySets or ()
    else:
        relations = getattr(element, "IsDefinedBy", None) or ()
        definitions = [r.RelatingPropertyDefinition for r in relations if r.is_a("IfcRelDefinesByProperties")]
    return next((d for d in definitions if d.is_a("IfcPropertySet") and d.Name == MARKER_SET), None)


def _says_adopted(marker: Any) -> bool:
    return any(
        p.Name == ADOPTED and p.NominalValue is not None and p.NominalValue.wrappedValue is True
        for p in marker.HasProperties
        if p.is_a("IfcPropertySingleValue")
    )


def is_adopted(element: Any) -> bool:
    """Whether an element is somebody else's ceiling that an earlier run took over."""
    marker = marker_of(element)
    return marker is not None and _says_adopted(marker)


def _wholes(element: Any) -> list[Any]:
    """What an element is a part, an opening or a panel of."""
    wholes = [
        r.RelatingObject
        for r in getattr(element, "Decomposes", None) or ()
        if r.is_a("IfcRelAggregates") and not r.RelatingObject.is_a("IfcSpatialStructureElement")
    ]
    return wholes + [r.RelatingBuildingElement for r in getattr(element, "VoidsElements", None) or ()]


def find_ours(file: Any) -> frozenset[int]:
    """The ids of all elements of a model of which `is_ours` is true, found from our marks at once."""
    marked: dict[int, Any] = {}
    adopted: set[int] = set()
    for marker in (p for p in file.by_type("IfcPropertySet") if p.Name == MARKER_SET):
        is_foreign = _says_adopted(marker)
        for relation in _all(marker, "DefinesOccurrence", "PropertyDefinitionOf"):
            for thing in relation.RelatedObjects:
                if is_foreign:
                    adopted.add(thing.id())
                else:
                    marked[thing.id()] = thing
    waiting, found = list(marked.values()), set(marked)
    while waiting:
        for part in _parts(waiting.pop()):
            if part.id() not in found and part.id() not in adopted:
                found.add(part.id())
                waiting.append(part)
    return frozenset(found)


def _all(entity: Any, *names: str) -> list[Any]:
    return [relation for name in names for relation in getattr(entity, name, None) or ()]


def _parts(element: Any) -> list[Any]:
    """The parts, openings and panels of an element."""
    parts = [
        p for r in _all(element, "IsDecomposedBy") if r.is_a("IfcRelAggregates") for p in r.RelatedObjects
    ]
    return parts + [r.RelatedOpeningElement for r in _all(element, "HasOpenings")]


def is_ours(element: Any) -> bool:
    """Whether ifcgrid wrote an element or type in an earlier run.

    True for what carries our marker without being adopted, and for the parts of and the
    openings in such a thing. Adopted ceilings are the architect's, not ours.
    """
    marker = marker_of(element)
    if marker is not None:
        return not _says_adopted(marker)
    return any(is_ours(whole) for whole in _wholes(element))
