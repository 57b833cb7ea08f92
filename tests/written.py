"""Models with written ceilings, and what a kernel sees of them; shared by the tests of writing."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import numpy as np
from ceilings import LEVEL, add_covering, guid, make_ceiling, make_model, make_room
from ifcopenshell import validate
from shapely import Polygon, box
from shapely.affinity import rotate

from ifcgrid.domain.ceiling import Ceiling, Opening, Role
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.room import Covering, Room
from ifcgrid.ifc.identity import is_ours

SCHEMAS = ("IFC2X3", "IFC4", "IFC4X3")
DETAILS = ("ceiling", "grid", "panels")
NEAR = 1e-3
"""mm; pieces of equal length share one shape to a thousandth of a mm."""

LAMP, SPOT = guid("lamp"), guid("spot")


def rectangle(x: float, y: float, width: float, depth: float) -> Polygon:
    return box(x, y, x + width, y + depth)


def an_l_with_a_hole() -> Polygon:
    shell = [(6000, 0), (11000, 0), (11000, 2500), (8500, 2500), (8500, 4000), (6000, 4000)]
    return Polygon(shell, [[(6800, 800), (6800, 1300), (7400, 1300), (7400, 800)]])


def four_ceilings() -> list[Ceiling]:
    """A rectangle with openings, an L with a hole, a room turned by 17 degrees, two rooms in one zone."""
    openings = (
        Opening(
            key=LAMP, outline=rectangle(1200, 1200, 600, 600), room=0, is_lay_in=True, cells=(2, 2, 1, 1)
        ),
        Opening(
            key=SPOT, outline=Polygon(rotate(rectangle(2750, 1400, 100, 100), 45)), room=0, is_lay_in=False
        ),
        Opening(
            key="a device of another file", outline=rectangle(2950, 1950, 100, 100), room=0, is_lay_in=False
        ),
    )
    turned = rotate(rectangle(13000, 0, 4100, 3300), 17.0, origin=(13000, 0))
    left, right = rectangle(0, 6000, 2500, 3000), rectangle(2503, 6000, 2500, 3000)
    return [
        make_ceiling([make_room("rectangle", rectangle(0, 0, 5000, 4200))], openings=openings),
        make_ceiling([make_room("L", an_l_with_a_hole())], soffit=None),
        make_ceiling([make_room("turned", turned)], angle=17.0),
        make_ceiling([make_room("left", left), make_room("right", right)], rectangle(0, 6000, 5003, 3000)),
    ]


def rooms_of(all_ceilings: list[Ceiling]) -> list[Room]:
    return [r for c in all_ceilings for r in c.zone.rooms]


def a_model(schema: str, all_ceilings: list[Ceiling], **how: Any) -> ifcopenshell.file:
    return make_model(schema, rooms_of(all_ceilings), devices=("lamp", "spot"), **how)


def data(file: ifcopenshell.file) -> str:
    return file.to_string().split("DATA;")[1]


def messages(file: ifcopenshell.file) -> list[str]:
    log = validate.json_logger()
    validate.validate(file, log, express_rules=True)
    return [json.dumps(s, default=str) for s in log.statements]


def ours(file: ifcopenshell.file, entity: str) -> list[Any]:
    return [e for e in file.by_type(entity) if is_ours(e)]


def meshes(file: ifcopenshell.file, elements: list[Any]) -> dict[str, np.ndarray]:
    """GlobalId to the corner points (n, 3) in mm that the kernel gives."""
    settings = ifcopenshell.geom.settings()
    settings.set("use-world-coords", True)
    found = {}
    for shape in ifcopenshell.geom.iterator(settings, file, 1, include=elements):
        found[shape.guid] = np.array(shape.geometry.verts).reshape(-1, 3) * 1000.0
    return found


def member_boxes(ceiling: Ceiling) -> dict[str, np.ndarray]:
    """Tag to the box (2, 3) of a member in model coordinates, from the domain alone."""
    members, system, found = ceiling.members, ceiling.system, {}
    for key, role, a, b in zip(members.keys(), members.role, members.start, members.end, strict=True):
        along = (b - a) / np.hypot(*(b - a))
        left = np.array([-along[1], along[0]])
        section = {0: system.main, 3: system.angle}.get(int(role), system.tee)
        sides = (0.0, section.face) if role == Role.WALL_ANGLE else (-section.face / 2, section.face / 2)
        plan = ceiling.layout.frame.to_world([p + left * s for p in (a, b) for s in sides])
        found[key] = np.array([[*plan.min(axis=0), LEVEL], [*plan.max(axis=0), LEVEL + section.height]])
    return found


def extent(points: np.ndarray) -> np.ndarray:
    return np.array([points.min(axis=0), points.max(axis=0)])


def clash(ceiling: Ceiling, part: str, with_key: str = LAMP) -> Finding:
    x0, y0, x1, y1 = ceiling.zone.outline.bounds
    return Finding(
        rule="light-in-member",
        source="test",
        clause="",
        verdict=Verdict.FAIL,
        room=ceiling.zone.rooms[0].key,
        subjects=(f"{ceiling.key}/{part}", with_key),
        message="a light meets a main runner",
        point=((x0 + x1) / 2, (y0 + y1) / 2, LEVEL),
        extents=((with_key, (x0, y0, LEVEL, x1, y1, LEVEL + 60.0)),),
    )


def adopted_model(
    schema: str, corner: tuple[float, float] = (0.0, 0.0), others: Sequence[Ceiling] = ()
) -> tuple[ifcopenshell.file, Ceiling]:
    """A room whose architect modelled a ceiling, contained in the storey; other rooms beside it."""
    outline = rectangle(*corner, 5000, 4200)
    covering = Covering(key=guid("architect"), name="A", outline=outline, underside=LEVEL, top=LEVEL + 50.0)
    ceiling = make_ceiling([make_room("adopted", outline, covering)])
    file = a_model(schema, [ceiling, *others], has_views=False)
    add_covering(file, covering.key, outline)
    return file, ceiling
