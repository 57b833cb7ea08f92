"""Panels and openings as they stand in a model that an earlier run wrote, also after edits by hand."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import ifcopenshell
import ifcopenshell.util.element

from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.ifc.geometry import Kernel, silhouette
from ifcgrid.ifc.identity import is_ours

__all__ = ["read_openings", "read_panel_keys"]


def read_panel_keys(file: ifcopenshell.file) -> Mapping[str, frozenset[str]]:
    """The keys of the panels that each space's ceiling has as parts, by the space's GlobalId.

    Spaces whose ceiling was written without parts are left out: their panels follow from
    the grid alone.
    """
    found: dict[str, frozenset[str]] = {}
    for covering in file.by_type("IfcCovering"):
        if not is_ours(covering):
            continue
        parts = ifcopenshell.util.element.get_parts(covering)
        tags = [str(getattr(part, "Tag", None) or "") for part in parts]
        panels = frozenset(tag for tag in tags if tag.startswith("panel/"))
        space = ifcopenshell.util.element.get_container(covering)
        if panels and space is not None:
            found[str(space.GlobalId)] = found.get(str(space.GlobalId), frozenset()) | panels
    return found


def _device(opening: Any) -> str:
    """The key of the device that an opening of ours is for: its tag is `opening/key[/panel]`."""
    words = str(getattr(opening, "Tag", None) or "").split("/")
    return words[1] if len(words) > 1 and words[0] == "opening" else ""


def read_openings(file: ifcopenshell.file, kernel: Kernel | None = None) -> tuple[Obstacle, ...]:
    """What our openings leave free, one a device, as devices whose outline is the opening's."""
    kernel = kernel or Kernel(file)
    openings: dict[str, Any] = {}
    for opening in sorted(file.by_type("IfcOpeningElement"), key=lambda o: str(o.GlobalId)):
        if key := _device(opening):
            openings.setdefault(key, opening)
    meshes = kernel.meshes(openings.values())
    return tuple(
        Obstacle(
            key=key,
            kind=Kind.DEVICE,
            name="opening",
            outline=silhouette(meshes[opening.GlobalId]),
            bottom=float(meshes[opening.GlobalId][..., 2].min()),
            top=float(meshes[opening.GlobalId][..., 2].max()),
        )
        for key, opening in sorted(openings.items())
        if opening.GlobalId in meshes
    )
