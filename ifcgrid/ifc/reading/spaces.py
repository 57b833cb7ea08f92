"""The rooms of a model: which spaces may get a ceiling, and what the model says of each."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

import ifcopenshell

from ifcgrid.domain.errors import ModelError, RoomError
from ifcgrid.domain.room import SkippedRoom
from ifcgrid.ifc.geometry import Kernel, Mesh
from ifcgrid.ifc.project import ModelFile, quantity_area_m2
from ifcgrid.ifc.reading.boundaries import read_open_sides
from ifcgrid.ifc.reading.duplicates import merge_duplicates, note_overlaps
from ifcgrid.ifc.reading.purpose import THROUGH_FLOORS, Purpose, find_purpose
from ifcgrid.ifc.reading.space import (
    SAME_AREA,
    SLIVER,
    Body,
    Space,
    is_sliver,
    outline_and_notes,
    outline_at,
    read_body,
)

__all__ = ["AREA_WORDS", "Space", "merge_duplicates", "outline_and_notes", "outline_at", "read_spaces"]

AREA_WORDS = ("NetFloorArea", "GrossFloorArea", "NetCeilingArea", "GrossCeilingArea")
"""Areas of a space by their names in ISO 16739-1, Qto_SpaceBaseQuantities, the first preferred."""

_NESTING = 16

_GLOBAL_ID = re.compile(r"[0-9A-Za-z_$]{22}")
"""A GlobalId as ISO 16739-1, IfcGloballyUniqueId, has it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Label:
    """How a space is called: what a room and a skipped room have in common."""

    key: str
    name: str
    number: str
    storey: str
    storey_key: str

    def skipped(self, reason: str, status: str = "skipped") -> SkippedRoom:
        return SkippedRoom(
            key=self.key,
            name=self.name,
            number=self.number,
            storey=self.storey,
            status=status,
            reason=reason,
        )


def read_spaces(
    model: ModelFile, kernel: Kernel, keep: Collection[str] = ()
) -> tuple[tuple[Space, ...], tuple[SkippedRoom, ...]]:
    """All spaces of a model, in the order of their storeys' names, their numbers and keys.

    Every space is in exactly one of the two: those that may get a ceiling, and those that
    do not (on purpose or because their data cannot be used), each with one reason. `keep`
    holds keys of spaces that are wanted whatever they are called; spaces made of spaces and
    spaces that are the same room are still told apart.
    """
    file = model.file
    homes = _containers(file)
    entities = sorted(file.by_type("IfcSpace"), key=lambda e: e.id())
    parts = kernel.parts(entities)
    open_sides = read_open_sides(file, kernel)
    spaces: list[Space] = []
    skipped: list[SkippedRoom] = []
    through: list[tuple[str, Body]] = []
    seen: set[str] = set()
    for entity in entities:
        label = _label(entity, homes)
        purpose = None if label.key in keep else find_purpose(entity)
        found = _read(entity, label, parts, file, seen, purpose)
        seen.add(label.key)
        if isinstance(found, Space):
            spaces.append(replace(found, open_to=open_sides.get(label.key, ())))
            continue
        skipped.append(found)
        if purpose is not None and purpose.kind in THROUGH_FLOORS and entity.id() in parts:
            through.extend(_through(f"{purpose.kind} {label.number or label.key}", parts[entity.id()]))
    kept, doubles = merge_duplicates(sorted(spaces, key=_order))
    return note_overlaps(kept, through), tuple(sorted((*skipped, *doubles), key=_order))


def _through(name: str, parts: tuple[Mesh, ...]) -> Iterator[tuple[str, Body]]:
    try:
        yield name, read_body(parts, "")
    except Exception:  # a shaft that cannot be cut can be in nobody's way
        return


def _order(room: Space | SkippedRoom) -> tuple[str, list[tuple[int, str]], str]:
    """By storey and number, where 2 comes before 10."""
    pieces = re.findall(r"\d+|\D+", room.number)
    return room.storey, [(int(p), "") if p.isdecimal() else (-1, p) for p in pieces], room.key


def _read(
    entity: ifcopenshell.entity_instance,
    label: _Label,
    parts: dict[int, tuple[Mesh, ...]],
    file: ifcopenshell.file,
    seen: set[str],
    purpose: Purpose | None,
) -> Space | SkippedRoom:
    if label.key in seen:
        return label.skipped(
            f"the GlobalId {label.key} occurs twice in the model; it must be unique", "failed"
        )
    if not _GLOBAL_ID.fullmatch(label.key):  # "" where there is none
        return label.skipped(
            f"its GlobalId is {label.key!r}; 22 of the characters 0-9 A-Z a-z _ $ are wanted", "failed"
        )
    if group := _group_reason(entity, parts):
        return label.skipped(group)
    if purpose is not None:
        return label.skipped(purpose.reason)
    if entity.id() not in parts:
        return label.skipped(_why_no_body(entity), "failed")
    try:
        body = read_body(parts[entity.id()], label.key)
    except RoomError as error:
        return label.skipped(str(error), "failed")
    except Exception as error:  # one bad room must not stop a floor
        return label.skipped(f"its body cannot be cut: {error}", "failed")
    if is_sliver(body.plan):
        return label.skipped(f"sliver: the space is nowhere wider than {SLIVER:.0f} mm")
    stated, notes = _stated_area(entity, file, body.plan.area / 1e6)
    return Space(
        entity=entity,
        key=label.key,
        name=label.name,
        number=label.number,
        storey=label.storey,
        storey_key=label.storey_key,
        body=body,
        stated_area_m2=stated,
        notes=notes,
    )


def _label(entity: ifcopenshell.entity_instance, homes: dict[int, ifcopenshell.entity_instance]) -> _Label:
    storey = _storey(entity, homes)
    return _Label(
        key=entity.GlobalId or "",
        name=entity.LongName or entity.Name or "",
        number=entity.Name or "",
        storey="" if storey is None else storey.Name or storey.LongName or "",
        storey_key="" if storey is None else storey.GlobalId,
    )


def _containers(file: ifcopenshell.file) -> dict[int, ifcopenshell.entity_instance]:
    """By entity id what a space is contained in: some exporters contain spaces like elements."""
    return {
        element.id(): relation.RelatingStructure
        for relation in file.by_type("IfcRelContainedInSpatialStructure")
        for element in relation.RelatedElements
        if element.is_a("IfcSpace")
    }


def _storey(
    entity: ifcopenshell.entity_instance, homes: dict[int, ifcopenshell.entity_instance]
) -> ifcopenshell.entity_instance | None:
    place: ifcopenshell.entity_instance | None = entity
    for _ in range(_NESTING):
        if place is None or place.is_a("IfcBuildingStorey"):
            return place
        place = _whole(place) or homes.get(place.id())
    return None


def _whole(entity: ifcopenshell.entity_instance) -> ifcopenshell.entity_instance | None:
    for relation in getattr(entity, "Decomposes", ()):
        return relation.RelatingObject
    return None


def _group_reason(entity: ifcopenshell.entity_instance, parts: dict[int, tuple[Mesh, ...]]) -> str:
    """A space made of spaces and its parts hold the same floor twice: one of the two goes."""
    inner = [
        part
        for relation in entity.IsDecomposedBy
        for part in relation.RelatedObjects
        if part.is_a("IfcSpace") and part.id() in parts and part.CompositionType != "PARTIAL"
    ]
    if inner:
        return f"a group of {len(inner)} spaces, which are rooms themselves"
    whole = _whole(entity)
    if entity.CompositionType == "PARTIAL" and whole is not None and whole.id() in parts:
        return f"a part of the space {whole.Name or whole.GlobalId}, which is the room"
    return ""


def _why_no_body(entity: ifcopenshell.entity_instance) -> str:
    shape = entity.Representation
    if shape is None:
        return "the space has no shape; it needs a body"
    kinds = sorted({r.RepresentationIdentifier or r.RepresentationType or "?" for r in shape.Representations})
    return f"the space has no usable body, only {', '.join(kinds)}"


def _stated_area(
    entity: ifcopenshell.entity_instance, file: ifcopenshell.file, plan_m2: float
) -> tuple[float | None, tuple[str, ...]]:
    """The area that the model states, in m², and a note when none that it states fits the body."""
    found = dict(sorted(_areas(entity, file), key=lambda a: AREA_WORDS.index(a[0]), reverse=True))
    if not found:
        return None, ()
    for area in reversed(found.values()):
        if math.isclose(area, plan_m2, rel_tol=SAME_AREA):
            return area, ()
    word, area = next(reversed(found.items()))
    return area, (f"the model states {area:.2f} m² ({word}), the space's body measures {plan_m2:.2f} m²",)


def _areas(entity: ifcopenshell.entity_instance, file: ifcopenshell.file) -> Iterator[tuple[str, float]]:
    for relation in entity.IsDefinedBy:
        if not relation.is_a("IfcRelDefinesByProperties"):
            continue
        definition = relation.RelatingPropertyDefinition
        if not definition.is_a("IfcElementQuantity"):
            continue
        for quantity in definition.Quantities:
            if quantity.Name in AREA_WORDS and quantity.is_a("IfcQuantityArea"):
                try:
                    area = quantity_area_m2(quantity, file)
                except ModelError:  # an area that cannot be read states nothing
                    continue
                if area > 0.0:
                    yield quantity.Name, area
