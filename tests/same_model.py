"""Whether two models are the same whatever their STEP ids: a comparison of labelled graphs.

Every entity is labelled by its class and its attributes, references by the labels of what
they refer to; then by who refers to it and where. Two models are equal when they hold the
same labels equally often. So neither values nor order in lists may differ, nor what is
shared by whom.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator
from typing import Any

import ifcopenshell

__all__ = ["differences", "header_of"]


def header_of(file: ifcopenshell.file) -> dict[str, Any]:
    """What the header says, without the time."""
    header = file.header
    names = ("name", "author", "organization", "preprocessor_version", "originating_system", "authorization")
    said = {name: getattr(header.file_name, name) for name in names}
    said["description"] = header.file_description.description
    said["schema"] = header.file_schema.schema_identifiers
    return said


def differences(one: ifcopenshell.file, other: ifcopenshell.file, most: int = 10) -> list[str]:
    """What only one of two models has, in words; empty when they are equal."""
    labelled = [_labelled(file) for file in (one, other)]
    counts = [Counter(label for label, _ in entities) for entities in labelled]
    told = []
    for side, mine, yours in (("one", *counts), ("other", *reversed(counts))):
        extra = mine - yours
        entities = labelled[0] if side == "one" else labelled[1]
        texts = {label: str(entity) for label, entity in entities if label in extra}
        told += [f"only in the {side}, {n} times: {texts[label]}" for label, n in extra.most_common(most)]
    return told


def _labelled(file: ifcopenshell.file) -> list[tuple[str, Any]]:
    entities = {i: file.by_id(i) for i in sorted(file.entity_names())}
    values = {i: tuple(entity) for i, entity in entities.items()}
    own: dict[int, str] = {}
    for start in entities:
        stack = [start]
        while stack:
            key = stack[-1]
            missing = [c for _, c in _references(values[key]) if c not in own]
            if key in own or not missing:
                stack.pop()
                own.setdefault(key, _digest(f"{entities[key].is_a()}{_text(values[key], own)}"))
            else:
                assert len(stack) <= len(entities), "references go round"
                stack += missing
    users: dict[int, list[str]] = {i: [] for i in entities}
    for key, held in values.items():
        for place, child in _references(held):
            users[child].append(f"{own[key]}/{place}")
    return [(_digest(own[i] + "|".join(sorted(users[i]))), e) for i, e in entities.items()]


def _references(values: Any, place: str = "") -> Iterator[tuple[str, int]]:
    for at, value in enumerate(values):
        if isinstance(value, ifcopenshell.entity_instance):
            if value.id():
                yield f"{place}{at}", value.id()
        elif isinstance(value, tuple):
            yield from _references(value, f"{place}{at}.")


def _text(value: Any, own: dict[int, str]) -> str:
    if isinstance(value, tuple):
        return f"({','.join(_text(v, own) for v in value)})"
    if isinstance(value, ifcopenshell.entity_instance):
        if value.id():
            return own[value.id()]
        return f"{value.is_a()}={type(value[0]).__name__}:{value[0]!r}"
    return f"{type(value).__name__}:{value!r}"


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
