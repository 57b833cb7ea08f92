"""The ceilings of a model as a 3D model for viewers and browsers: glTF 2.0, in its binary form."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.geom

from ifcgrid.domain.errors import ModelError
from ifcgrid.ifc.geometry import LIBRARIES
from ifcgrid.ifc.identity import is_ours

__all__ = ["gltf_bytes"]

_CLASSES = ("IfcElementAssembly", "IfcCovering")


def gltf_bytes(file: ifcopenshell.file) -> bytes:
    """Every ceiling, member and hanger of ours in a model as one .glb file, written by the geometry kernel.

    Coordinates are the model's in metres; each part bears its GlobalId as its name.

    Raises:
        ModelError: the model holds no ceilings of ours, or none with a body.
    """
    elements = list(_parts(file))
    if not elements:
        raise ModelError("the model holds no ceilings of ifcgrid, so there is nothing to show in 3D")
    with tempfile.TemporaryDirectory() as folder:
        # The kernel writes files alone, and by their name it knows the binary form.
        target = Path(folder) / "ceilings.glb"
        _write(file, elements, target)
        return target.read_bytes()


def _parts(file: ifcopenshell.file) -> Iterator[Any]:
    """Ours that have bodies: coverings themselves, of grids their parts."""
    seen: set[int] = set()
    for whole in (e for name in _CLASSES for e in file.by_type(name) if is_ours(e)):
        below = [part for relation in whole.IsDecomposedBy for part in relation.RelatedObjects]
        for element in (whole, *below):
            if element.id() not in seen and getattr(element, "Representation", None) is not None:
                seen.add(element.id())
                yield element


def _write(file: ifcopenshell.file, elements: list[Any], target: Path) -> None:
    settings = ifcopenshell.geom.settings()
    names = ifcopenshell.geom.serializers
    serializer = names.gltf(str(target), settings)
    iterator = ifcopenshell.geom.iterator(settings, file, 1, include=elements, geometry_library=LIBRARIES[0])
    if not iterator.initialize():
        raise ModelError("the ceilings in the model have no bodies that could be shown in 3D")
    serializer.setFile(file)
    serializer.writeHeader()
    serializer.write(iterator.get())
    while iterator.next():
        serializer.write(iterator.get())
    serializer.finalize()
