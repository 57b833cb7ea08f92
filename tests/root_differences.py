"""What of a model's roots differs from another model's, by GlobalId and content and not by ids."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import ifcopenshell


@dataclass(frozen=True)
class Differences:
    """GlobalIds that came, that went, and that stayed with other content."""

    came: frozenset[str]
    went: frozenset[str]
    changed: frozenset[str]

    @property
    def all(self) -> frozenset[str]:
        return self.came | self.went | self.changed


def find_differences(one: ifcopenshell.file, other: ifcopenshell.file) -> Differences:
    """From one model to the other; owner histories do not count."""
    before, after = _roots(one), _roots(other)
    both = before.keys() & after.keys()
    return Differences(
        came=frozenset(after.keys() - both),
        went=frozenset(before.keys() - both),
        changed=frozenset(k for k in both if before[k] != after[k]),
    )


def _roots(file: ifcopenshell.file) -> dict[str, Any]:
    known: dict[int, Any] = {}
    roots = file.by_type("IfcRoot")
    assert len({r.GlobalId for r in roots}) == len(roots)
    return {r.GlobalId: _content(r, known, is_top=True) for r in roots}


def _content(value: Any, known: dict[int, Any], is_top: bool = False) -> Any:
    if isinstance(value, tuple):
        return tuple(_content(v, known) for v in value)
    if isinstance(value, float):
        return round(value, 7)
    if not isinstance(value, ifcopenshell.entity_instance):
        return value
    if value.id() == 0:
        return (value.is_a(), value.wrappedValue)
    if value.is_a("IfcOwnerHistory"):
        return None
    if value.is_a("IfcRoot"):
        if not is_top:
            return value.GlobalId
        content = tuple(_content(v, known) for v in value)
        # The members of a relation are a set: their order tells nothing.
        is_relation = value.is_a("IfcRelationship")
        return (value.is_a(), *[_unordered(v) if is_relation else v for v in content])
    if value.id() not in known:
        known[value.id()] = (value.is_a(), *(_content(v, known) for v in value))
    return known[value.id()]


def _unordered(value: Any) -> Any:
    return frozenset(value) if isinstance(value, tuple) else value
