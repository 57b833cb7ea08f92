"""A ceiling with one of everything that can hold it, made by hand for tests of writing and reading."""

from __future__ import annotations

from dataclasses import replace

import ifcopenshell
import numpy as np
from ceilings import LEVEL, SOFFIT, guid, make_ceiling, make_model, make_room
from shapely import Polygon, box
from shapely.affinity import rotate
from written import LAMP

from ifcgrid.domain.bracing import PerimeterWall, SeparationJoint, Stabilisers
from ifcgrid.domain.ceiling import Ceiling, Hangers, Role
from ifcgrid.domain.hanging import Braces, HangerKind, Pieces, Trapezes, Wires

SLAB = guid("slab")
ROOM = rotate(box(13000, 0, 18000, 4200), 17.0, origin=(13000, 0))


def held(outline: Polygon = ROOM, angle: float = 17.0) -> Ceiling:
    """A ceiling with one of everything that can hold it; by hand, for the writer alone."""
    ceiling = make_ceiling([make_room("held", outline)], angle=angle)
    bottom = LEVEL + ceiling.system.main.height
    return replace(
        ceiling,
        hangers=_leaning(ceiling),
        trapezes=Trapezes(
            hanger=np.array([3], dtype=np.int32),
            ends=np.array([[(1800.0, 1000.0), (1800.0, 1900.0)]]),
            z=np.array([LEVEL + 200.0]),
            top=np.array([[SOFFIT, SOFFIT - 50.0]]),
            support=((SLAB, guid("beam")),),
            spans=((guid("duct"),),),
            carries=((3,),),
        ),
        braces=_braces(bottom),
        wires=Wires(
            device=(LAMP, LAMP, guid("spot")),
            number=np.array([0, 1, 0], dtype=np.int32),
            point=np.array([(1300.0, 1300.0), (1700.0, 1700.0), (2800.0, 1500.0)]),
            bottom=np.array([LEVEL + 80.0, LEVEL + 80.0, LEVEL + 60.0]),
            top=np.array([SOFFIT, SOFFIT, np.nan]),
            is_slack=np.array([True, True, False]),
            support=(SLAB, SLAB, ""),
            is_assumed=np.array([False, False, True]),
        ),
        stabilisers=Stabilisers(
            ring=np.array([0, 0], dtype=np.int32),
            edge=np.array([1, 1], dtype=np.int32),
            number=np.array([0, 1], dtype=np.int32),
            start=np.array([(5000.0, 1200.0), (5000.0, 2400.0)]),
            end=np.array([(5000.0, 2400.0), (5000.0, 3600.0)]),
        ),
        joints=(
            SeparationJoint(
                axis="u", line=4, number=0, start=(2400.0, 150.0), end=(2400.0, 4350.0), gap=19.05
            ),
        ),
        perimeter=tuple(
            PerimeterWall(part=p, ring=0, edge=e, is_attached=e < 2, gap=0.0 if e < 2 else 19.05)
            for p in (0, 1)
            for e in range(4)
            if not (p == 1 and e == 3)
        ),
        pieces=_pieces(ceiling),
    )


def _leaning(ceiling: Ceiling) -> Hangers:
    hangers = ceiling.hangers
    kind = np.zeros(len(hangers), dtype=np.int32)
    kind[:4] = (HangerKind.SPLAYED, HangerKind.COUNTER, HangerKind.STRAIGHT, HangerKind.TRAPEZE)
    top_point = hangers.point.copy()
    top_point[0] += (60.0, -30.0)
    top_point[1] += (-60.0, 30.0)
    top = hangers.top.copy()
    top[3] = LEVEL + 200.0
    return replace(hangers, kind=kind, top_point=top_point, top=top, fixing=("slab",) * len(hangers))


def _braces(bottom: float) -> Braces:
    rise = SOFFIT - bottom
    point = np.array([(1800.0, 1200.0), (3600.0, 2400.0), (3600.0, 3600.0)])
    run = np.array([(rise, 0), (0, rise), (-rise, 0), (0, -rise)])
    wire_top = np.dstack([point[:, None] + run[None], np.full((3, 4, 1), SOFFIT)])
    wire_top[1, 2] = np.nan
    wire_top[2] = np.nan
    return Braces(
        line=np.array([2, 4, 6], dtype=np.int32),
        column=np.array([3, 6, 6], dtype=np.int32),
        point=point,
        post_top=np.array([SOFFIT, SOFFIT, np.nan]),
        wire_top=wire_top,
        support=((SLAB,) * 5, (SLAB, SLAB, SLAB, "", SLAB), ("",) * 5),
    )


def _pieces(ceiling: Ceiling) -> Pieces:
    """Mains in two pieces, tees in one; mains of equal length are cut alike."""
    members, rows = ceiling.members, []
    for k in np.flatnonzero(members.role != Role.WALL_ANGLE).tolist():
        length = float(members.length[k])
        if members.role[k] == Role.MAIN_RUNNER:
            rows += [(k, 0, 0.0, 3600.0, 75.0, "M1", 0.0, 3600.0)]
            rows += [(k, 1, 3600.0, length, 75.0, "M2", 0.0, 3600.0)]
        else:
            rows.append((k, 0, 0.0, length, np.nan, f"T{length:.0f}", 10.0, 1200.0))
    member, number, start, end, hole, mark, begin, stock = zip(*rows, strict=True)
    return Pieces(
        member=np.array(member, dtype=np.int32),
        number=np.array(number, dtype=np.int32),
        start=np.array(start),
        end=np.array(end),
        first_hole=np.array(hole),
        is_factory=np.tile([True, False], (len(rows), 1)),
        mark=mark,
        stock=np.arange(len(rows), dtype=np.int32),
        stock_start=np.array(begin),
        stock_length=np.array(stock),
    )


def a_model(schema: str, ceiling: Ceiling, **how) -> ifcopenshell.file:
    return make_model(schema, list(ceiling.zone.rooms), devices=("lamp", "spot"), **how)
