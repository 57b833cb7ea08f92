"""Storeys drawn by hand for tests of plans and drawing files: rooms of many shapes, devices, findings."""

from __future__ import annotations

from dataclasses import replace

from handmade_ceilings import ROUND_ENDED, TP1, build_ceiling, rectangle
from shapely import box

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.outputs.plan import OmittedRoom

STAMP = {"model": "library.ifc", "sha256": "3f2a9c"}


def keyed(ceiling: Ceiling, key: str) -> Ceiling:
    room = replace(ceiling.zone.rooms[0], key=key)
    return replace(ceiling, zone=replace(ceiling.zone, key=key, rooms=(room,)))


def storey() -> list[Ceiling]:
    return [
        keyed(build_ceiling(rectangle(6100, 4270), (350, 335), number="101", name="Reading room"), "a"),
        keyed(build_ceiling(TP1, (212.5, 300), number="102", name="Loans", at=(6300, 0)), "b"),
        keyed(build_ceiling(ROUND_ENDED, (300, 600), number="103", name="Story room", at=(12700, 0)), "c"),
        keyed(
            build_ceiling(rectangle(20500, 1500), (550, 450), number="104", name="Corridor", at=(0, 5000)),
            "d",
        ),
        keyed(
            build_ceiling(
                rectangle(7310, 5200), (355, 500), angle_deg=17, number="106", name="Wing", at=(12000, 7500)
            ),
            "e",
        ),
        keyed(build_ceiling(rectangle(500, 600), (500, 600), number="107", name="Duct", at=(0, 7000)), "f"),
    ]


def device(kind: Kind, x: float, y: float, size: float = 600.0) -> Obstacle:
    outline = box(x, y, x + size, y + size)
    return Obstacle(key=f"{kind}{x}", kind=kind, name="", outline=outline, bottom=2700, top=2800)


DEVICES = [
    device(kind, 950 + 600 * place, 2135, size)
    for place, (kind, size) in enumerate(
        [
            (Kind.LIGHT, 600.0),
            (Kind.AIR_TERMINAL, 600.0),
            (Kind.SPRINKLER, 120.0),
            (Kind.DETECTOR, 120.0),
            (Kind.DEVICE, 200.0),
        ]
    )
]
WALLS = [device(Kind.WALL, 6100, 0, 190), device(Kind.COLUMN, 3000, 3000, 300)]
OMITTED = [
    OmittedRoom(number="108", name="Shaft", reason="a shaft", outline=box(2400, 6700, 3900, 8200)),
    OmittedRoom(number="109", name="Stair", reason="no body"),
]


def finding(message: str, verdict: Verdict = Verdict.FAIL, x: float = 3000.0) -> Finding:
    return Finding(
        rule="duct_clearance_min",
        source="common practice, no source",
        clause="",
        verdict=verdict,
        room="a",
        subjects=(),
        message=message,
        point=(x, 2000.0, 2700.0),
    )
