"""Zones and layouts made by hand, so that these tests need no solver."""

from __future__ import annotations

import math

from shapely import Polygon

from ifcgrid.domain.frame import Frame
from ifcgrid.domain.layout import Certificate, Layout
from ifcgrid.domain.room import CeilingHeight, HeightEvidence, HeightSource, Room, Zone

LEVEL = 2700.0


def make_room(outline: Polygon, key: str = "R1", **changes: object) -> Room:
    evidence = HeightEvidence(source=HeightSource.PLAN, value=LEVEL, where="test")
    values: dict[str, object] = {
        "key": key,
        "name": key,
        "number": key,
        "storey": "Ground",
        "storey_key": "S",
        "section": outline,
        "outline": outline,
        "floor": 0.0,
        "top": 3500.0,
        "height": CeilingHeight(value=LEVEL, source=HeightSource.PLAN, candidates=(evidence,)),
    }
    return Room(**(values | changes))  # type: ignore[arg-type]


def make_zone(outline: Polygon, *rooms: Room) -> Zone:
    return Zone(key="R1", rooms=rooms or (make_room(outline),), outline=outline, level=LEVEL)


def make_layout(
    outline: Polygon,
    along: float,
    across: float,
    *,
    node: tuple[float, float] = (0.0, 0.0),
    angle: float = 0.0,
    main_every: int = 1,
    main_phase: int = 0,
) -> Layout:
    """A layout one of whose nodes is at `node` (model coordinates) and on a main."""
    turned = Frame(x=node[0], y=node[1], angle_deg=angle)
    left, low, right, high = turned.shape_to_local(outline).bounds
    column, row = math.floor((left + 0.01) / along), math.floor((low + 0.01) / across)
    ((x, y),) = turned.to_world([(column * along, row * across)])
    return Layout(
        frame=Frame(x=float(x), y=float(y), angle_deg=angle),
        along=along,
        across=across,
        main_every=main_every,
        main_phase=(main_phase - row) % main_every,
        columns=math.ceil((right - 0.01) / along) - column,
        rows=math.ceil((high - 0.01) / across) - row,
        borders=(),
        scores=(),
        meets_minimum=True,
        reason="made by hand",
        policy="half-module",
        certificate=Certificate(method="exact", tried=0, resolution=0.0, statement="", best=()),
    )
