"""What the compiler must know of the model it writes into: ids, units and placements, no entities."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field
from typing import Any

import ifcopenshell
import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import ModelError
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.room import Room
from ifcgrid.ifc.lineage import RoomFacts, find_owners
from ifcgrid.ifc.placement import is_chain_of_axes, placement_matrix
from ifcgrid.ifc.project import area_scale, length_scale, mass_scale, volume_scale
from ifcgrid.ifc.writing.mapping import ELEMENT_CLASHES
from ifcgrid.ifc.writing.rows import Ref

__all__ = ["Container", "WriteContext", "read_context"]

TARGET_VIEWS = {"Body": "MODEL_VIEW", "FootPrint": "PLAN_VIEW", "Annotation": "PLAN_VIEW"}
"""The sub-contexts that are written to, and the view each belongs to."""

_DECIMALS_OF_MM = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Container:
    """A space: its id, its placement's id (None: place absolutely) and matrix (4, 4), moves in mm."""

    id: Ref
    placement: Ref | None
    matrix: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WriteContext:
    """A model as the compiler sees it.

    `scale` is the mm in one length unit, `area_scale` the m² in one area unit; `volume_scale`
    (m³) and `mass_scale` (kg) are None where the project names no such unit; `units` are the
    SI units that the model has, by type, prefix and name; `classes` its classification
    references, by system and code; `owners` what GlobalIds are made from, where that is not
    the key. `first` is the
    first free STEP id. `views` are the sub-contexts that exist, by identifier, and
    `model` their parent. `elements` maps GlobalIds that ceilings and findings mention to
    the model's elements; `fillable` are those of them that fill no opening yet; `places` the
    matrices (4, 4), moves in mm, of those that a relation of ours may begin at.
    """

    schema: str
    scale: float
    area_scale: float
    volume_scale: float | None
    mass_scale: float | None
    units: Mapping[tuple[str, str | None, str], Ref]
    classes: Mapping[tuple[str, str], Ref]
    owners: Mapping[str, str]
    first: int
    project: str
    owner: Ref | None
    model: Ref
    views: Mapping[str, Ref]
    spaces: Mapping[str, Container]
    elements: Mapping[str, Ref]
    fillable: frozenset[str]
    places: Mapping[str, NDArray[np.float64]] = field(default_factory=dict)

    @property
    def decimals(self) -> int:
        """Decimals that keep a millionth of a mm in the file's unit."""
        return _DECIMALS_OF_MM + math.floor(math.log10(self.scale))

    def identity(self, key: str) -> str:
        """What GlobalIds of a room's or zone's parts are made from: its key, or an earlier one."""
        return self.owners.get(key, key)

    def length(self, value: float) -> float:
        """A length in mm, in the file's unit."""
        return round(float(value) / self.scale, self.decimals) + 0.0

    def points(self, values: Any) -> list[tuple[float, ...]]:
        """Points (n, 2) or (n, 3) in mm, in the file's unit."""
        return list(map(tuple, self.coordinates(values).tolist()))

    def coordinates(self, values: Any) -> NDArray[np.float64]:
        """The same as an array."""
        scaled: NDArray[np.float64] = np.round(np.asarray(values, dtype=float) / self.scale, self.decimals)
        return scaled + 0.0

    def area(self, value: float) -> float:
        """An area in mm², in the file's unit."""
        return float(f"{value / 1e6 / self.area_scale:.12g}")

    def volume(self, value: float) -> float:
        """A volume in mm³, in the file's unit, or in m³ where it has none."""
        return float(f"{value / 1e9 / (self.volume_scale or 1.0):.12g}")

    def mass(self, value: float) -> float:
        """A mass in kg, in the file's unit, or in kg where it has none."""
        return float(f"{value / (self.mass_scale or 1.0):.12g}")


def read_context(
    file: ifcopenshell.file,
    ceilings: Sequence[Ceiling],
    findings: Sequence[Finding],
    gone: Set[int] = frozenset(),
    known: Sequence[RoomFacts] = (),
) -> WriteContext:
    """Reads what is needed to write these ceilings into a model.

    `gone` are ids that count as removed already; `known` is what earlier runs knew of rooms.

    Raises:
        ModelError: a room's space is not in the model, or the model has no 3D context.
    """
    project = file.by_type("IfcProject")[0]
    parent = _model_context(project)
    mentioned = _elements(file, _mentioned(ceilings, findings))
    elements = {guid: e for guid, e in mentioned.items() if e.id() not in gone}
    histories = file.by_type("IfcOwnerHistory")
    owner = project.OwnerHistory or next(iter(histories), None)
    scale = length_scale(file)
    return WriteContext(
        schema=file.schema,
        scale=scale,
        area_scale=area_scale(file),
        volume_scale=volume_scale(file),
        mass_scale=mass_scale(file),
        units=_units(file, gone),
        classes=_classes(file, gone),
        owners=_owners(file, ceilings, known),
        first=max(set(file.entity_names()) - gone, default=0) + 1,
        project=project.GlobalId,
        owner=None if owner is None else Ref(owner.id()),
        model=Ref(parent.id()),
        views=_views(parent, gone),
        spaces=_containers(file, [room for c in ceilings for room in c.zone.rooms], scale),
        elements={guid: Ref(e.id()) for guid, e in elements.items()},
        fillable=frozenset(guid for guid, e in elements.items() if not _is_filling(e, gone)),
        places=_places(elements, ceilings, findings, scale),
    )


def _units(file: ifcopenshell.file, gone: Set[int]) -> dict[tuple[str, str | None, str], Ref]:
    staying = sorted((u for u in file.by_type("IfcSIUnit") if u.id() not in gone), key=lambda u: -u.id())
    return {(str(u.UnitType), u.Prefix, str(u.Name)): Ref(u.id()) for u in staying}


def _classes(file: ifcopenshell.file, gone: Set[int]) -> dict[tuple[str, str], Ref]:
    """Classes that the model has, by the names of system and code; systems by an empty code."""
    staying = [c for c in file.by_type("IfcClassification") if c.id() not in gone]
    found = {(str(c.Name), ""): Ref(c.id()) for c in sorted(staying, key=lambda c: -c.id())}
    for reference in sorted(file.by_type("IfcClassificationReference"), key=lambda r: -r.id()):
        source = reference.ReferencedSource
        while source is not None and source.is_a("IfcClassificationReference"):
            source = source.ReferencedSource
        # The code is called ItemReference in IFC2X3 and Identification since.
        if source is not None and reference.id() not in gone and reference[1]:
            found[str(source.Name), str(reference[1])] = Ref(reference.id())
    return found


def _owners(
    file: ifcopenshell.file, ceilings: Sequence[Ceiling], known: Sequence[RoomFacts]
) -> dict[str, str]:
    if not known:
        return {}
    rooms = {room.key: room for ceiling in ceilings for room in ceiling.zone.rooms}
    return find_owners(list(rooms.values()), known, [s.GlobalId for s in file.by_type("IfcSpace")])


def _model_context(project: Any) -> Any:
    contexts = [c for c in project.RepresentationContexts or () if _is_top(c)]
    solid = [c for c in contexts if c.CoordinateSpaceDimension == 3]
    named = [c for c in solid if c.ContextType == "Model"]
    for found in (named, solid):
        if found:
            return min(found, key=lambda c: c.id())
    raise ModelError(
        f"project {project.GlobalId} has no 3D geometric context; IfcProject.RepresentationContexts needs one"
    )


def _is_top(context: Any) -> bool:
    return context.is_a("IfcGeometricRepresentationContext") and not context.is_a(
        "IfcGeometricRepresentationSubContext"
    )


def _is_filling(element: Any, gone: Set[int]) -> bool:
    """Whether an element fills an opening; things that cannot count as if they did."""
    filled = getattr(element, "FillsVoids", None)
    return filled is None or any(relation.id() not in gone for relation in filled)


def _views(parent: Any, gone: Set[int]) -> dict[str, Ref]:
    found = {}
    left = [s for s in parent.HasSubContexts if s.id() not in gone]
    for identifier, view in TARGET_VIEWS.items():
        same = [s for s in left if s.ContextIdentifier == identifier]
        if same:
            found[identifier] = Ref(min(same, key=lambda s: (s.TargetView != view, s.id())).id())
    return found


def _mentioned(ceilings: Sequence[Ceiling], findings: Sequence[Finding]) -> set[str]:
    keys = {s for f in findings for s in f.subjects if "/" not in s}
    for ceiling in ceilings:
        keys |= {o.key for o in ceiling.openings}
        keys |= {r.covering.key for r in ceiling.zone.rooms if r.covering is not None}
    return keys


def _places(
    elements: Mapping[str, Any], ceilings: Sequence[Ceiling], findings: Sequence[Finding], scale: float
) -> dict[str, NDArray[np.float64]]:
    """Where elements of others stand at which a relation of ours may begin."""
    keys = {s for f in findings if f.rule in ELEMENT_CLASHES for s in f.subjects}
    keys |= {r.covering.key for c in ceilings for r in c.zone.rooms if r.covering is not None}
    found = {}
    for key in sorted(keys & set(elements)):
        placement = elements[key].ObjectPlacement
        if placement is not None and is_chain_of_axes(placement):
            found[key] = placement_matrix(placement)
            found[key][:3, 3] *= scale
    return found


def _elements(file: ifcopenshell.file, keys: Iterable[str]) -> dict[str, Any]:
    found = {}
    for key in sorted(keys):
        try:
            entity = file.by_guid(key)
        except RuntimeError:
            continue
        if entity.is_a("IfcElement"):
            found[key] = entity
    return found


def _containers(file: ifcopenshell.file, rooms: Iterable[Room], scale: float) -> dict[str, Container]:
    # Not by_guid, which gives any one of several things under the same GlobalId, and no ill-formed one.
    spaces = {s.GlobalId: s for s in sorted(file.by_type("IfcSpace"), key=lambda s: -s.id())}
    found = {}
    for room in rooms:
        if room.key not in spaces:
            raise ModelError(f"room {room.number}: the model has no space with GlobalId {room.key}")
        found[room.key] = _container(spaces[room.key], scale)
    return found


def _container(space: Any, scale: float) -> Container:
    placement = space.ObjectPlacement
    if placement is None or not is_chain_of_axes(placement):
        return Container(id=Ref(space.id()), placement=None, matrix=np.eye(4))
    matrix = placement_matrix(placement)
    matrix[:3, 3] *= scale
    return Container(id=Ref(space.id()), placement=Ref(placement.id()), matrix=matrix)
