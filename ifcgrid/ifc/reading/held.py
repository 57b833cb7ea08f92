"""Reads back what holds a ceiling: hangers, trapezes, braces, device wires, bars, joints, free walls.

Everything with a body is measured from it, so what somebody moved, cut or deleted by hand
since is seen as it is; only what a body cannot show (what carries it, whether it may hang
slack) is taken from the property sets.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import ifcopenshell.util.element
import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.bracing import PerimeterWall, SeparationJoint, Stabilisers
from ifcgrid.domain.frame import Frame
from ifcgrid.domain.hanging import Braces, HangerKind, Trapezes, Wires
from ifcgrid.ifc.geometry import Kernel, Mesh
from ifcgrid.ifc.writing.grid_sets import PERIMETER_SET
from ifcgrid.ifc.writing.hanging_rows import UNKNOWN
from ifcgrid.ifc.writing.joint_rows import JOINT_SET

__all__ = ["Rod", "Rods", "read_joints", "read_perimeter"]

_KINDS = {kind.name.lower(): kind for kind in HangerKind}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rod:
    """One rod, wire, post or bar: its tag's words, its ends in (u, v, model z), what its sets say."""

    words: tuple[str, ...]
    start: NDArray[np.float64]
    end: NDArray[np.float64]
    told: Mapping[str, Any]

    @property
    def support(self) -> str:
        """What carries it or leaves it no room, "" where the model had nothing above."""
        support = str(self.told.get("Support", ""))
        return "" if support == UNKNOWN else support

    @property
    def top(self) -> NDArray[np.float64]:
        """Its upper end (3,); z is NaN where that was drawn without room or anything above."""
        return (
            self.end
            if self.told.get("IsSoffitKnown") is True
            else np.array([self.end[0], self.end[1], np.nan])
        )

    @property
    def kind(self) -> HangerKind:
        """How a hanger goes: whether it leans is measured, for what it leans is told."""
        told = _KINDS.get(str(self.told.get("Kind", "")), HangerKind.STRAIGHT)
        leans = np.hypot(*(self.end - self.start)[:2]) > tolerance.SHORTEST_EDGE
        if leans:
            return told if told in (HangerKind.SPLAYED, HangerKind.COUNTER) else HangerKind.SPLAYED
        return told if told is HangerKind.TRAPEZE else HangerKind.STRAIGHT


class Rods:
    """All rods and bars of one assembly, measured."""

    def __init__(
        self, parts: Sequence[Any], meshes: Mapping[str, Mesh], frame: Frame, kernel: Kernel
    ) -> None:
        self.by_first: dict[str, list[Rod]] = {}
        self.known: set[str] = set()
        for part in parts:
            words = tuple(str(getattr(part, "Tag", None) or "").split("/"))
            if words[0] not in _FIRST or len(words) < 2 or part.GlobalId not in meshes:
                continue
            self.known.add(part.GlobalId)
            if words[0] == "anchor":
                continue
            is_bar = words[0] == "stabiliser" or (words[0] == "trapeze" and len(words) == 2)
            start, end = _measure(meshes[part.GlobalId], kernel.placement(part), 0 if is_bar else 2)
            local = [np.array([*frame.to_local([p[:2]])[0], p[2]]) for p in (start, end)]
            told: dict[str, Any] = {}
            for values in ifcopenshell.util.element.get_psets(part, psets_only=True).values():
                told |= values
            rod = Rod(words=words, start=local[0], end=local[1], told=told)
            self.by_first.setdefault(words[0], []).append(rod)

    def hangers(self) -> list[tuple[int, int, Rod]]:
        """Line, index and rod of each hanger, sorted."""
        found = []
        for rod in self.by_first.get("hanger", ()):
            numbers = _numbers(rod.words[1:])
            if len(numbers) == 2:
                found.append((*numbers, rod))
        return sorted(found, key=lambda f: f[:2])

    def trapezes(self, hangers: Sequence[str]) -> Trapezes | None:
        """Bars with their rods; `hangers` are the keys of the hangers in their order."""
        rods = self.by_first.get("trapeze", ())
        bars = sorted((r for r in rods if len(r.words) == 2), key=lambda r: _numbers(r.words[1:]))
        if not bars:
            return None
        place = {key: k for k, key in enumerate(hangers)}
        carries = [
            tuple(place[h] for h in str(b.told.get("Hangers", "")).split() if h in place) for b in bars
        ]
        kept = [k for k, carried in enumerate(carries) if carried]
        sides = [[_find(rods, (*bars[k].words, "rod", str(s))) for s in (0, 1)] for k in kept]
        return Trapezes(
            hanger=np.array([carries[k][0] for k in kept], dtype=np.int32),
            ends=np.array([(bars[k].start[:2], bars[k].end[:2]) for k in kept]).reshape(-1, 2, 2),
            z=np.array([bars[k].start[2] for k in kept]),
            top=np.array([[np.nan if r is None else r.top[2] for r in s] for s in sides]).reshape(-1, 2),
            support=tuple(("" if a is None else a.support, "" if b is None else b.support) for a, b in sides),
            spans=tuple(tuple(str(bars[k].told.get("Spans", "")).split()) for k in kept),
            carries=tuple(carries[k] for k in kept),
        )

    def braces(self) -> Braces | None:
        """Sets of a post and up to four wires; what is not there is NaN."""
        rods = self.by_first.get("brace", ())
        keys = sorted({n for r in rods if len(n := _numbers(r.words[1:3])) == 2})
        if not keys:
            return None
        point, post_top, wire_top, support = [], [], [], []
        for line, column in keys:
            base = ("brace", str(line), str(column))
            post = _find(rods, (*base, "post"))
            wires = [_find(rods, (*base, "wire", str(w))) for w in range(4)]
            there = [r for r in (post, *wires) if r is not None]
            point.append(there[0].start[:2])
            post_top.append(np.nan if post is None else post.top[2])
            wire_top.append([np.full(3, np.nan) if w is None else w.top for w in wires])
            support.append(tuple("" if r is None else r.support for r in (post, *wires)))
        return Braces(
            line=np.array([k[0] for k in keys], dtype=np.int32),
            column=np.array([k[1] for k in keys], dtype=np.int32),
            point=np.array(point),
            post_top=np.array(post_top),
            wire_top=np.array(wire_top),
            support=tuple(support),
        )

    def wires(self) -> Wires | None:
        """Wires of devices."""
        rods = [r for r in self.by_first.get("wire", ()) if len(r.words) == 3]
        rods = sorted(
            (r for r in rods if r.words[2].isdecimal()), key=lambda r: (r.words[1], int(r.words[2]))
        )
        if not rods:
            return None
        return Wires(
            device=tuple(r.words[1] for r in rods),
            number=np.array([int(r.words[2]) for r in rods], dtype=np.int32),
            point=np.array([r.start[:2] for r in rods]),
            bottom=np.array([r.start[2] for r in rods]),
            top=np.array([r.top[2] for r in rods]),
            is_slack=np.array([r.told.get("IsSlack") is True for r in rods], dtype=bool),
            support=tuple(r.support for r in rods),
            is_assumed=np.array([r.told.get("IsWeightAssumed") is True for r in rods], dtype=bool),
        )

    def stabilisers(self) -> Stabilisers | None:
        """Bars that tie runners at free walls."""
        rods = {_numbers(r.words[1:]): r for r in self.by_first.get("stabiliser", ())}
        keys = sorted(k for k in rods if len(k) == 3)
        if not keys:
            return None
        return Stabilisers(
            ring=np.array([k[0] for k in keys], dtype=np.int32),
            edge=np.array([k[1] for k in keys], dtype=np.int32),
            number=np.array([k[2] for k in keys], dtype=np.int32),
            start=np.array([rods[k].start[:2] for k in keys]),
            end=np.array([rods[k].end[:2] for k in keys]),
        )


_FIRST = frozenset({"hanger", "trapeze", "brace", "wire", "stabiliser", "anchor"})


def _find(rods: Sequence[Rod], words: tuple[str, ...]) -> Rod | None:
    return next((r for r in rods if r.words == words), None)


def _numbers(words: Sequence[str]) -> tuple[int, ...]:
    try:
        return tuple(int(word) for word in words)
    except ValueError:
        return ()


def _measure(
    mesh: Mesh, matrix: NDArray[np.float64], axis: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far a body reaches along an axis of its own; the ends of a bar lie on its underside."""
    origin, along = matrix[:3, 3], matrix[:3, axis]
    points = mesh.reshape(-1, 3)
    reach = (points - origin) @ along
    start, end = origin + along * reach.min(), origin + along * reach.max()
    if axis == 0:
        low = points[:, 2].min()
        start, end = np.array([*start[:2], low]), np.array([*end[:2], low])
    return start, end


def read_perimeter(angles: Mapping[tuple[int, int], Any], scale: float) -> tuple[PerimeterWall, ...]:
    """How the grid ends at each wall, from the sets of wall angles by (ring, edge); mm in a file unit."""
    walls = []
    for (ring, edge), angle in angles.items():
        told = ifcopenshell.util.element.get_psets(angle).get(PERIMETER_SET)
        if not told:
            continue
        facts = zip(told["Part"], told["IsAttached"], told["FreeGap"], strict=False)
        walls += [
            PerimeterWall(part=int(p), ring=ring, edge=edge, is_attached=bool(a), gap=float(g) * scale)
            for p, a, g in facts
        ]
    return tuple(sorted(walls, key=lambda w: (w.part, w.ring, w.edge)))


def read_joints(annotations: Sequence[Any], frame: Frame, kernel: Kernel) -> tuple[SeparationJoint, ...]:
    """The joints of one ceiling, from the curves of its annotations."""
    joints = []
    for annotation in annotations:
        told = ifcopenshell.util.element.get_psets(annotation).get(JOINT_SET)
        curve = _curve(annotation)
        if not told or curve is None:
            continue
        matrix = kernel.placement(annotation)
        corners = np.array([(*p.Coordinates, 0.0)[:3] for p in curve.Points]) * kernel.scale
        world = corners @ matrix[:3, :3].T + matrix[:3, 3]
        (u0, v0), *_, (u1, v1) = frame.to_local(world[:, :2]).tolist()
        joints.append(
            SeparationJoint(
                axis=str(told["Axis"]),
                line=int(told["Line"]),
                number=int(told["Number"]),
                start=(u0, v0),
                end=(u1, v1),
                gap=float(told["Gap"]) * kernel.scale,
            )
        )
    return tuple(sorted(joints, key=lambda j: (j.axis, j.line, j.number)))


def _curve(annotation: Any) -> Any | None:
    shape = annotation.Representation
    items = [i for r in (shape.Representations if shape else ()) for i in r.Items]
    curves = [e for i in items if i.is_a("IfcGeometricSet") for e in i.Elements]
    return next((c for c in curves if c.is_a("IfcPolyline")), None)
