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

from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.errors import ModelError, SystemDataError
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.system import GridSystem, system_from_table
from ifcgrid.ifc.geometry import Kernel, Mesh
from ifcgrid.ifc.identity import MARKER_SET, is_ours
from ifcgrid.ifc.writing.provenance import KEY, ROOMS, SYSTEM_SIZES

__all__ = ["WrittenCeiling", "read_written"]

_ROLES = {role.word: role for role in Role}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WrittenCeiling:
    """One zone's grid as it stands in a model; arrays as in `Members` and `Hangers`.

    `rooms` are the keys of the zone's rooms; `frame` is local to all (n, 2) arrays; `level`
    and z are model heights in mm. `strays` names parts of the assembly without a key of ours.
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
    strays: tuple[str, ...]


def read_written(file: ifcopenshell.file, kernel: Kernel | None = None) -> tuple[WrittenCeiling, ...]:
    """The grids that ifcgrid wrote into a model, sorted by key.

    Raises:
        ModelError: a grid's provenance lacks what is needed to measure it.
    """
    kernel = kernel or Kernel(file)
    assemblies = [a for a in file.by_type("IfcElementAssembly") if is_ours(a)]
    return tuple(sorted((_read_assembly(a, kernel) for a in assemblies), key=lambda w: w.key))


def _read_assembly(assembly: Any, kernel: Kernel) -> WrittenCeiling:
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
    hangers = [p for p in parts if _hanger_key(p) and p.GlobalId in meshes]
    known = {p.GlobalId for p in (*members, *hangers)}
    return WrittenCeiling(
        key=key,
        rooms=rooms,
        system=system,
        policy=policy,
        frame=frame,
        level=level,
        main_phase=phase,
        members=_measure_members(members, meshes, frame, kernel),
        hangers=_measure_hangers(hangers, meshes, frame),
        support=tuple(_support_of(h) for h in sorted(hangers, key=lambda h: _hanger_key(h) or (0, 0))),
        strays=tuple(f"{p.is_a()} {p.GlobalId}" for p in parts if p.GlobalId not in known),
    )


def _member_key(part: Any) -> tuple[int, int, int] | None:
    """Role, line and index of a member from its tag `role/line/index`."""
    words = str(getattr(part, "Tag", None) or "").split("/")
    if len(words) != 3 or words[0] not in _ROLES:
        return None
    numbers = _whole_numbers(words[1:])
    return (int(_ROLES[words[0]]), *numbers) if numbers else None


def _hanger_key(part: Any) -> tuple[int, int] | None:
    """Line and index of a hanger from its tag `hanger/line/index`."""
    words = str(getattr(part, "Tag", None) or "").split("/")
    return _whole_numbers(words[1:]) if len(words) == 3 and words[0] == "hanger" else None


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


def _measure_hangers(
    hangers: Sequence[Any], meshes: Mapping[str, Mesh], frame: Frame
) -> dict[str, NDArray[Any]]:
    hangers = sorted(hangers, key=lambda h: _hanger_key(h) or (0, 0))
    keys = np.array([_hanger_key(h) for h in hangers], dtype=np.int32).reshape(-1, 2)
    boxes = np.array(
        [[f(meshes[h.GlobalId].reshape(-1, 3), axis=0) for f in (np.min, np.max)] for h in hangers]
    ).reshape(-1, 2, 3)
    is_known = np.array([_support_of(h) != "" for h in hangers], dtype=bool)
    return {
        "line": keys[:, 0],
        "index": keys[:, 1],
        "point": frame.to_local(boxes[:, :, :2].mean(axis=1)),
        "bottom": boxes[:, 0, 2],
        "top": np.where(is_known, boxes[:, 1, 2], np.nan),
    }


def _support_of(hanger: Any) -> str:
    told = ifcopenshell.util.element.get_psets(hanger).get("IfcGrid_Hanger", {})
    return str(told.get("Support", "")) if told.get("IsSoffitKnown") is True else ""
