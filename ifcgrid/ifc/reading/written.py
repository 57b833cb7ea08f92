"""Reads back the ceilings that an earlier run wrote, as they stand in the model now.

Members and hangers are measured from their bodies, so what somebody moved, cut or deleted
by hand since is seen as it is. The lattice is taken from the provenance set.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import ifcopenshell.util.element
import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.bracing import PerimeterWall, SeparationJoint, Stabilisers
from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.errors import ModelError, SystemDataError
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.hanging import Braces, Trapezes, Wires
from ifcgrid.domain.system import GridSystem, system_from_table
from ifcgrid.ifc.geometry import Kernel, Mesh
from ifcgrid.ifc.identity import MARKER_SET, is_ours
from ifcgrid.ifc.reading.held import Rods, read_joints, read_perimeter
from ifcgrid.ifc.writing.provenance import KEY, MEASURED, ROOMS, SYSTEM_SIZES

__all__ = ["WrittenCeiling", "read_written"]

_ROLES = {role.word: role for role in Role}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WrittenCeiling:
    """One zone's grid as it stands in a model; arrays as in `Members` and `Hangers`.

    What holds it is in the types of the domain, local to `frame`; None where there is none.

    `rooms` are the keys of the zone's rooms; `frame` is local to all (n, 2) arrays; `level`
    and z are model heights in mm. `strays` names parts of the assembly without a key of ours.
    `measured` is the text of what was measured on site, "" where nothing was.
    """

    key: str
    rooms: tuple[str, ...]
    system: GridSystem
    policy: str
    frame: Frame
    level: float
    main_phase: int
    members: Mapping[str, NDArray[Any]]
    hangers: Mapping[str, NDArray[Any]]
    support: tuple[str, ...]
    fixing: tuple[str, ...]
    trapezes: Trapezes | None
    braces: Braces | None
    wires: Wires | None
    stabilisers: Stabilisers | None
    joints: tuple[SeparationJoint, ...]
    perimeter: tuple[PerimeterWall, ...]
    strays: tuple[str, ...]
    measured: str = ""


def read_written(file: ifcopenshell.file, kernel: Kernel | None = None) -> tuple[WrittenCeiling, ...]:
    """The grids that ifcgrid wrote into a model, sorted by key.

    Raises:
        ModelError: a grid's provenance lacks what is needed to measure it.
    """
    kernel = kernel or Kernel(file)
    assemblies = [a for a in file.by_type("IfcElementAssembly") if is_ours(a)]
    annotations: dict[str, list[Any]] = {}
    for annotation in (a for a in file.by_type("IfcAnnotation") if is_ours(a)):
        told = ifcopenshell.util.element.get_psets(annotation).get(MARKER_SET, {})
        annotations.setdefault(str(told.get(KEY)), []).append(annotation)
    return tuple(sorted((_read_assembly(a, kernel, annotations) for a in assemblies), key=lambda w: w.key))


def _read_assembly(assembly: Any, kernel: Kernel, annotations: Mapping[str, Sequence[Any]]) -> WrittenCeiling:
    told = ifcopenshell.util.element.get_psets(assembly).get(MARKER_SET, {})
    try:
        key, policy, rooms = str(told[KEY]), str(told["Policy"]), tuple(str(told[ROOMS]).split())
        system = system_from_table(json.loads(told[SYSTEM_SIZES]))
        angle, phase = float(told["AngleDegrees"]), int(told["MainPhase"])
    except (KeyError, TypeError, ValueError, SystemDataError) as error:
        raise ModelError(
            f"the grid {assembly.GlobalId} has no usable {MARKER_SET} ({error}); build its ceiling again"
        ) from error
    x, y, level = kernel.placement(assembly)[:3, 3].tolist()
    frame = Frame(x=x, y=y, angle_deg=angle)
    parts = sorted(ifcopenshell.util.element.get_parts(assembly), key=lambda p: str(p.GlobalId))
    meshes = kernel.meshes(parts)
    members = [p for p in parts if _member_key(p) and p.GlobalId in meshes]
    rods = Rods(parts, meshes, frame, kernel)
    found = rods.hangers()
    known = {p.GlobalId for p in members} | rods.known
    angles = {(k[1], k[2]): p for p in members if (k := _member_key(p)) and k[0] == Role.WALL_ANGLE}
    return WrittenCeiling(
        key=key,
        rooms=rooms,
        system=system,
        policy=policy,
        frame=frame,
        level=level,
        main_phase=phase,
        members=_measure_members(members, meshes, frame, kernel),
        hangers=_gather_hangers(rods),
        support=tuple(rod.support for *_, rod in found),
        fixing=tuple(str(rod.told.get("Fixing", "")) for *_, rod in found),
        trapezes=rods.trapezes([f"hanger/{line}/{index}" for line, index, _ in found]),
        braces=rods.braces(),
        wires=rods.wires(),
        stabilisers=rods.stabilisers(),
        joints=read_joints(annotations.get(key, ()), frame, kernel),
        perimeter=read_perimeter(angles, kernel.scale),
        strays=tuple(f"{p.is_a()} {p.GlobalId}" for p in parts if p.GlobalId not in known),
        measured=str(told.get(MEASURED) or ""),
    )


def _member_key(part: Any) -> tuple[int, int, int] | None:
    """Role, line and index of a member from its tag `role/line/index`."""
    words = str(getattr(part, "Tag", None) or "").split("/")
    if len(words) != 3 or words[0] not in _ROLES:
        return None
    numbers = _whole_numbers(words[1:])
    return (int(_ROLES[words[0]]), *numbers) if numbers else None


def _whole_numbers(words: Sequence[str]) -> tuple[int, int] | None:
    try:
        first, second = (int(word) for word in words)
    except ValueError:
        return None
    return first, second


def _measure_members(
    members: Sequence[Any], meshes: Mapping[str, Mesh], frame: Frame, kernel: Kernel
) -> dict[str, NDArray[Any]]:
    """Start and end of each member: how far its body reaches along its own axis."""
    members = sorted(members, key=lambda m: _member_key(m) or (0, 0, 0))
    keys = np.array([_member_key(m) for m in members], dtype=np.int32).reshape(-1, 3)
    ends = np.zeros((len(members), 2, 2))
    for k, member in enumerate(members):
        matrix = kernel.placement(member)
        origin, axis = matrix[:3, 3], matrix[:3, 0]
        reach = (meshes[member.GlobalId].reshape(-1, 3) - origin) @ axis
        ends[k] = [(origin + axis * r)[:2] for r in (reach.min(), reach.max())]
    local = frame.to_local(ends.reshape(-1, 2)).reshape(-1, 2, 2)
    return {
        "role": keys[:, 0],
        "line": keys[:, 1],
        "index": keys[:, 2],
        "start": local[:, 0],
        "end": local[:, 1],
    }


def _gather_hangers(rods: Rods) -> dict[str, NDArray[Any]]:
    """Hangers as they hang now: a leaning one from its lower end to its upper one."""
    found = rods.hangers()
    starts = np.array([rod.start for *_, rod in found]).reshape(-1, 3)
    tops = np.array([rod.top for *_, rod in found]).reshape(-1, 3)
    return {
        "line": np.array([line for line, *_ in found], dtype=np.int32),
        "index": np.array([index for _, index, _ in found], dtype=np.int32),
        "point": starts[:, :2],
        "bottom": starts[:, 2],
        "top": tops[:, 2],
        "top_point": tops[:, :2],
        "kind": np.array([rod.kind for *_, rod in found], dtype=np.int32),
    }
