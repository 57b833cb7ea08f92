"""Ceilings that the model already holds, and which room each of them is the ceiling of.

A covering belongs to a room when the model says so (IfcRelSpaceBoundary, containment in
the space, IfcRelCoversSpaces) or else when it lies over the room in plan. In either case
it must overlap the room, and hang higher above the floor than `LEAST_HEADROOM`. Of the
levels at which coverings lie over a room, the lowest that covers more than `MAJORITY` of
it is the room's ceiling; what lies lower covers a part of the room: a soffit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Any, Protocol

import ifcopenshell
import ifcopenshell.util.element
import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import RoomError
from ifcgrid.domain.room import Covering
from ifcgrid.domain.soffit import undersides
from ifcgrid.ifc.geometry import Kernel, Mesh, silhouette
from ifcgrid.ifc.identity import is_ours
from ifcgrid.ifc.outline import merged
from ifcgrid.ifc.project import ModelFile
from ifcgrid.ifc.reading.replaced import replaced_key
from ifcgrid.ifc.reading.stated import StoreyLevels, read_statements, readable_mm, statements_named, text_of

__all__ = [
    "LEAST_HEADROOM",
    "LEAST_STRIP",
    "MAJORITY",
    "CoveredRoom",
    "ModelCovering",
    "RoomCoverings",
    "match_coverings",
    "read_coverings",
    "survey_coverings",
]

MAJORITY = 0.5
"""A level whose coverings lie over more than this share of a room is the room's ceiling."""

LEAST_HEADROOM = 1500.0
"""A covering nearer than this to the floor, in mm, is no ceiling of the room but below it."""

LEAST_STRIP = 50.0
"""A strip of a covering narrower than this in a room, in mm, is overlap with a wall, no soffit."""

_SAME_AREA = 0.01
"""Two coverings are one when their outlines differ by less than this share of their area."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelCovering:
    """A ceiling covering with what the model says of it.

    `spaces` holds the GlobalIds of spaces that the model relates it to; `level` is the
    model z of the storey it stands in, None where it stands in none; `also` the GlobalIds
    of identical coverings that lie on it; `stated` where and at which model z it says of
    itself that its underside lies; lengths in mm.
    """

    covering: Covering
    spaces: frozenset[str] = frozenset()
    level: float | None = None
    also: tuple[str, ...] = ()
    stated: tuple[tuple[str, float], ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomCoverings:
    """The coverings over one room.

    `ceiling` is the largest piece at the level that covers most of the room, None where no
    level does; `pieces` all pieces at that level; `share` the part of the room that they
    cover, 0 to 1; `local` the coverings that lie lower, clipped to the room, and, where no
    level covers most of it, all of them.
    """

    ceiling: Covering | None = None
    pieces: tuple[ModelCovering, ...] = ()
    share: float = 0.0
    local: tuple[Covering, ...] = ()
    notes: tuple[str, ...] = ()


class CoveredRoom(Protocol):
    """What matching needs to know of a room; heights are model z in mm."""

    @property
    def keys(self) -> frozenset[str]:
        """GlobalIds of the space and of its duplicates."""

    @property
    def floor(self) -> float:
        """Bottom of the body."""

    @property
    def top(self) -> float:
        """Top of the body."""

    @property
    def lid(self) -> float:
        """What closes the room above (see `overhead`), infinite where nothing does."""


_REPLACED = "(replaced by ours)"


def _is_ceiling(element: Any) -> bool:
    kind = ifcopenshell.util.element.get_type(element)
    return any(getattr(e, "PredefinedType", None) == "CEILING" for e in (element, kind) if e is not None)


def _meshes_of(elements: Sequence[Any], kernel: Kernel) -> dict[str, Mesh]:
    """The bodies of coverings by GlobalId; of one that has none, those of its parts."""
    meshes = kernel.meshes(elements)
    for element in elements:
        if element.GlobalId not in meshes:
            parts = list(kernel.meshes(ifcopenshell.util.element.get_parts(element)).values())
            if parts:
                meshes[element.GlobalId] = np.concatenate(parts)
    return meshes


def _underside(mesh: Mesh, plan_area: float) -> tuple[float, str]:
    """Model z of a ceiling's underside: where most of it lies; else its lowest point, and a note."""
    faces = undersides(mesh)
    if len(faces) == 0:
        return float(mesh[:, :, 2].min()), "has no underside but vertical faces"
    low, high = faces[:, :, 2].min(axis=1), faces[:, :, 2].max(axis=1)
    sides = faces[:, 1:, :2] - faces[:, :1, :2]
    area = np.abs(sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0]) / 2
    order = np.argsort(high, kind="stable")
    level = high - low <= tolerance.HEIGHT
    flat = np.where(level, area, 0.0)[order]
    heights, total = high[order], np.concatenate([[0.0], np.cumsum(flat)])
    within = total[np.searchsorted(heights, heights + tolerance.HEIGHT, side="right")] - total[:-1]
    best = int(np.argmax(within))
    if within[best] > MAJORITY * plan_area:
        chosen = order[best:][heights[best:] <= heights[best] + tolerance.HEIGHT]
        return float(low[chosen][level[chosen]].min()), ""
    return float(low.min()), f"is not level: its underside runs from z {low.min():.0f} to {high.max():.0f} mm"


def _related_spaces(element: Any) -> frozenset[str]:
    spaces = [r.RelatingSpace for r in getattr(element, "ProvidesBoundaries", None) or ()]
    for relation in getattr(element, "CoversSpaces", None) or ():
        # IFC2X3 calls the same end RelatedSpace.
        spaces.append(getattr(relation, "RelatingSpace", None) or getattr(relation, "RelatedSpace", None))
    spaces.append(ifcopenshell.util.element.get_container(element))
    return frozenset(s.GlobalId for s in spaces if s is not None and s.is_a("IfcSpace"))


def _storey_level(element: Any, levels: StoreyLevels) -> float | None:
    storey = ifcopenshell.util.element.get_container(element, ifc_class="IfcBuildingStorey")
    return None if storey is None else levels.of(storey.GlobalId)


def _stated_levels(
    element: Any, file: ifcopenshell.file, levels: StoreyLevels
) -> tuple[tuple[tuple[str, float], ...], list[str]]:
    """Model z of the underside by "Height Offset From Level", which counts from "Level" or the storey."""
    notes: list[str] = []
    found = []
    statements = read_statements(element)
    names = statements_named(statements, "level")
    for statement in statements_named(statements, "heightoffsetfromlevel"):
        offset = readable_mm(statement, file, notes)
        group = statement.where.rpartition(".")[0]
        named = [text_of(s) for s in names if s.where.rpartition(".")[0] == group]
        level = levels.named(named[0]) if named else None
        if level is None:
            level = _storey_level(element, levels)
        if offset is not None and level is not None:
            found.append((statement.where, level + offset))
    return tuple(found), notes


def _survey(element: Any, mesh: Mesh, file: ifcopenshell.file, levels: StoreyLevels) -> ModelCovering:
    outline = silhouette(mesh)
    underside, fault = _underside(mesh, outline.area)
    stated, notes = _stated_levels(element, file, levels)
    return ModelCovering(
        covering=Covering(
            key=element.GlobalId,
            name=element.Name or "",
            outline=outline,
            underside=underside,
            top=float(mesh[:, :, 2].max()),
        ),
        spaces=_related_spaces(element),
        level=_storey_level(element, levels),
        stated=stated,
        notes=(*notes, *([fault] if fault else [])),
    )


def _is_same(one: Covering, other: Covering) -> bool:
    if not (
        tolerance.is_equal(one.underside, other.underside, tolerance.HEIGHT)
        and tolerance.is_equal(one.top, other.top, tolerance.HEIGHT)
    ):
        return False
    different = one.outline.symmetric_difference(other.outline).area
    return bool(different <= _SAME_AREA * max(one.outline.area, other.outline.area))


def _merge_doubles(found: Sequence[ModelCovering]) -> tuple[ModelCovering, ...]:
    """Identical coverings become one, that of the least GlobalId, related to the rooms of all."""
    found = sorted(found, key=lambda c: c.covering.key)
    tree = shapely.STRtree([c.covering.outline for c in found])
    kept: dict[int, ModelCovering] = {}
    for i, covering in enumerate(found):
        near = np.sort(tree.query(covering.covering.outline, predicate="intersects")).tolist()
        double = next((k for k in near if k in kept and _is_same(kept[k].covering, covering.covering)), None)
        if double is None:
            kept[i] = covering
            continue
        first = kept[double]
        kept[double] = replace(
            first,
            spaces=first.spaces | covering.spaces,
            also=(*first.also, covering.covering.key),
            notes=(*first.notes, f"lies doubled: {covering.covering.key} is identical; one ceiling is read"),
        )
    return tuple(kept.values())


def survey_coverings(model: ModelFile, kernel: Kernel | None = None) -> tuple[ModelCovering, ...]:
    """All ceiling coverings with what the model says of them, sorted by GlobalId.

    Ceilings that ifcgrid wrote are left out, those that it adopted are the model's own.
    Those of ours that took the place of one stand for it, under its GlobalId: it can no
    longer tell its height itself. One without a body is left out too.
    """
    kernel = kernel or Kernel(model.file)
    levels = StoreyLevels(model.file)
    ceilings = {e: replaced_key(e) for e in model.file.by_type("IfcCovering") if _is_ceiling(e)}
    ceilings = {e: key for e, key in ceilings.items() if key or not is_ours(e)}
    meshes = _meshes_of(list(ceilings), kernel)
    found: list[ModelCovering] = []
    standing: dict[str, list[ModelCovering]] = {}
    for element, key in ceilings.items():
        if element.GlobalId in meshes:
            one = _survey(element, meshes[element.GlobalId], model.file, levels)
            (standing.setdefault(key, []) if key else found).append(one)
    known = {f.covering.key for f in found}
    found += [_in_place_of(key, ours) for key, ours in sorted(standing.items()) if key not in known]
    return _merge_doubles([f for f in found if not f.covering.outline.is_empty])


def _in_place_of(key: str, ours: Sequence[ModelCovering]) -> ModelCovering:
    """The architect's ceiling as far as those of ours that replaced it, one a room, can tell."""
    first = min(ours, key=lambda o: o.covering.key)
    covering = replace(
        first.covering, key=key, outline=merged([o.covering.outline for o in ours]), name=_REPLACED
    )
    return replace(first, covering=covering, spaces=frozenset[str]().union(*(o.spaces for o in ours)))


def read_coverings(model: ModelFile, kernel: Kernel | None = None) -> tuple[Covering, ...]:
    """The ceilings that the model holds, sorted by GlobalId; identical ones lying on each other once."""
    return tuple(found.covering for found in survey_coverings(model, kernel))


def _is_plausible(found: ModelCovering, room: CoveredRoom) -> bool:
    """Whether a covering can hang in the room, going by heights alone.

    It may hang above the body (bodies are often modelled lower than the hall they stand
    for), but not above what closes the room; and where the model holds nothing that does,
    not in a storey that begins above the body.
    """
    z = found.covering.underside
    if z < room.floor + LEAST_HEADROOM:
        return False
    if room.keys & found.spaces or z <= room.top + tolerance.HEIGHT:
        return True
    if room.lid < inf:
        return z < room.lid
    return found.level is None or found.level < room.top - tolerance.HEIGHT


def _without_slivers(shape: Any) -> Any:
    """A shape without its parts that are narrower than `LEAST_STRIP`."""
    half = LEAST_STRIP / 2
    core = shape.buffer(-half, join_style="mitre")
    return shape.intersection(core.buffer(half + tolerance.LENGTH, join_style="mitre")) if core.area else core


def _polygons(shape: Any) -> Polygon | MultiPolygon:
    parts = [
        p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > tolerance.PIECE_AREA
    ]
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


@dataclass(frozen=True, slots=True)
class _Piece:
    found: ModelCovering
    clipped: Any


def _levels(pieces: Iterable[_Piece]) -> list[list[_Piece]]:
    """Pieces grouped by level, the lowest first."""
    levels: list[list[_Piece]] = []
    for piece in sorted(pieces, key=lambda p: (p.found.covering.underside, p.found.covering.key)):
        z = piece.found.covering.underside
        if levels and z - levels[-1][0].found.covering.underside <= tolerance.HEIGHT:
            levels[-1].append(piece)
        else:
            levels.append([piece])
    return levels


def _clipped(piece: _Piece) -> Covering | None:
    outline = _polygons(_without_slivers(piece.clipped))
    return replace(piece.found.covering, outline=outline) if outline.area > tolerance.PIECE_AREA else None


def match_coverings(
    room: CoveredRoom, section_at: Callable[[float], Polygon], coverings: Sequence[ModelCovering]
) -> RoomCoverings:
    """The room's own ceiling and the local lower ones.

    Args:
        room: heights and keys of the room.
        section_at: the room's horizontal section at a model z in mm.
        coverings: all of the model.
    """
    pieces: list[_Piece] = []
    sections: dict[float, Polygon] = {}
    for found in coverings:
        if _is_plausible(found, room):
            z = min(found.covering.underside, room.top)
            if z not in sections:
                try:
                    sections[z] = section_at(z)
                except RoomError:
                    continue  # near the ridge of a sloped body there is no room left to cover
            section = sections[z]
            clipped = found.covering.outline.intersection(section)
            if clipped.area > tolerance.PIECE_AREA:
                pieces.append(_Piece(found, clipped))
    levels = _levels(pieces)
    shares = []
    for level in levels:
        z = min(level[0].found.covering.underside, room.top)
        shares.append(shapely.union_all([p.clipped for p in level]).area / sections[z].area)
    chosen = next((i for i, share in enumerate(shares) if share > MAJORITY), None)
    if chosen is None:
        local = [c for level in levels for p in level if (c := _clipped(p)) is not None]
        return RoomCoverings(local=tuple(local), notes=_no_ceiling_notes(levels, shares))
    own = sorted(levels[chosen], key=lambda p: (-p.clipped.area, p.found.covering.key))
    along = [p for p in own[1:] if p.clipped.area > MAJORITY * p.found.covering.outline.area]
    also = [key for p in (own[0], *along) for key in (p.found.covering.key, *p.found.also)]
    local = [c for level in levels[:chosen] for p in level if (c := _clipped(p)) is not None]
    return RoomCoverings(
        ceiling=replace(own[0].found.covering, also=tuple(also[1:])),
        pieces=tuple(p.found for p in own),
        share=min(shares[chosen], 1.0),
        local=tuple(local),
        notes=_own_notes(own),
    )


def _own_notes(own: Sequence[_Piece]) -> tuple[str, ...]:
    notes = [f"ceiling {p.found.covering.key} {note}" for p in own for note in p.found.notes]
    real = [p for p in own if _clipped(p) is not None]
    if len(real) > 1:
        keys = ", ".join(p.found.covering.key for p in real[1:])
        notes.append(
            f"{len(real)} ceilings of the model lie at one level over this room; "
            f"the largest, {own[0].found.covering.key}, stands for it; the others: {keys}"
        )
    return tuple(notes)


def _no_ceiling_notes(levels: Sequence[Sequence[_Piece]], shares: Sequence[float]) -> tuple[str, ...]:
    return tuple(
        f"a ceiling of the model at z {level[0].found.covering.underside:.0f} mm lies over {share:.0%} "
        f"of the room; the room's own would cover more than {MAJORITY:.0%}, so it counts as a local one"
        for level, share in zip(levels, shares, strict=True)
        if any(_clipped(p) is not None for p in level)
    )
