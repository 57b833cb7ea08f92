"""Who we are in a model: GlobalIds that stay the same, and the mark that says "ours".

Every root that ifcgrid writes gets a GlobalId made from the GlobalId of the space (or zone,
or project) it belongs to and from its own key, so that a second run gives the same ids.
Every ceiling that ifcgrid writes carries the property set `MARKER_SET`.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import Any

import ifcopenshell.guid

__all__ = [
    "ADOPTED",
    "MARKER_SET",
    "NAMESPACE",
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

MARKER_SET = "IfcGrid_Provenance"
"""The property set on everything that we wrote or took over."""

ADOPTED = "Adopted"
"""The property of `MARKER_SET` that is TRUE where we took over somebody else's ceiling."""


def global_id(owner: str, key: str) -> str:
    """The GlobalId (22 characters) of the part `key` of the thing whose GlobalId or key is `owner`.

    >>> global_id("2O2Fr$t4X7Zf8NOew3FL9r", "main_runner/2/0")
    '3rc4_IJg9PzfY_B56lUHUf'
    """
    compressed: str = ifcopenshell.guid.compress(uuid.uuid5(NAMESPACE, f"{owner}/{key}").hex)
    return compressed


def global_ids(owner: str, keys: Iterable[str]) -> list[str]:
    """One GlobalId a key, in order."""
    return [global_id(owner, key) for key in keys]


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


def is_ours(element: Any) -> bool:
    """Whether ifcgrid wrote an element or type in an earlier run.

    True for what carries our marker without being adopted, and for the parts of and the
    openings in such a thing. Adopted ceilings are the architect's, not ours.
    """
    marker = marker_of(element)
    if marker is not None:
        return not _says_adopted(marker)
    return any(is_ours(whole) for whole in _wholes(element))
