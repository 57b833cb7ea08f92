"""The ceilings of a model as a 3D model for viewers and browsers: glTF 2.0, in its binary form."""

from __future__ import annotations

import json
import re
import struct
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import ifcopenshell.guid

from ifcgrid.domain.errors import ModelError
from ifcgrid.ifc.geometry import LIBRARIES
from ifcgrid.ifc.identity import is_ours

__all__ = ["gltf_bytes"]

_CLASSES = ("IfcElementAssembly", "IfcCovering")


def gltf_bytes(file: ifcopenshell.file) -> bytes:
    """Every ceiling, member and hanger of ours in a model as one .glb file, written by the geometry kernel.

    Lengths are in metres, Y is up, as the format asks; each part bears its GlobalId as its name.

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
        return _named_by_global_id(target.read_bytes())


def _parts(file: ifcopenshell.file) -> Iterator[Any]:
    """Ours that have bodies: coverings themselves, of grids their parts."""
    seen: set[int] = set()
    for whole in (e for name in _CLASSES for e in file.by_type(name) if is_ours(e)):
        below = [part for relation in whole.IsDecomposedBy for part in relation.RelatedObjects]
        for element in (whole, *below):
            if element.id() not in seen and getattr(element, "Representation", None) is not None:
                seen.add(element.id())
                yield element


_HEAD = struct.Struct("<4sII")
_CHUNK = struct.Struct("<I4s")
_UUID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")


def _named_by_global_id(data: bytes) -> bytes:
    """The file with its nodes named as the model names them: the kernel spells GlobalIds out.

    The first chunk of a .glb file is JSON, padded with spaces to four bytes (glTF 2.0, 4.4).
    """
    size, kind = _CHUNK.unpack_from(data, _HEAD.size)
    begin = _HEAD.size + _CHUNK.size
    told = json.loads(data[begin : begin + size])
    for node in told.get("nodes", ()):
        if found := _UUID.search(node.get("name", "")):
            node["name"] = ifcopenshell.guid.compress(found[0].replace("-", ""))
    text = json.dumps(told, separators=(",", ":")).encode("utf-8")
    text += b" " * (-len(text) % 4)
    rest = data[begin + size :]
    magic, version, _ = _HEAD.unpack_from(data)
    head = _HEAD.pack(magic, version, begin + len(text) + len(rest))
    return head + _CHUNK.pack(len(text), kind) + text + rest


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
