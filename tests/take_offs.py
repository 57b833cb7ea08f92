"""A small take-off of a real layout, shared by the tests of what is made of it."""

from __future__ import annotations

from dataclasses import replace

from handmade_lattices import make_layout, make_room, make_zone
from shapely import Polygon, box

from ifcgrid.design.framing import place_members
from ifcgrid.design.panels import cut_panels
from ifcgrid.design.stock import cut_pieces
from ifcgrid.design.suspension import place_hangers
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.quantity import TakeOff
from ifcgrid.pipeline.takeoff import take_off
from ifcgrid.systems import read_system

ROOM = box(0, 0, 6100, 4270)


def a_ceiling(
    name: str = "R1", outline: Polygon = ROOM, system: str = "lay-in-600x600", storey: str = "Ground"
) -> Ceiling:
    grid = read_system(system)
    room = make_room(outline, name, storey=storey)
    zone = replace(make_zone(outline, room), key=name)
    layout = make_layout(outline, grid.along, grid.across, node=(350, 335), main_every=grid.main_every)
    members = place_members(zone, grid, layout)
    cut = cut_pieces(grid, layout, members)
    return Ceiling(
        zone=zone,
        system=grid,
        layout=layout,
        panels=cut_panels(zone, layout),
        members=members,
        hangers=place_hangers(zone, grid, layout, members),
        pieces=cut.pieces if cut else None,
    )


def a_take_off(*ceilings: Ceiling, **how: object) -> TakeOff:
    source = {"model": "house.ifc", "sha256": "0", "library": "ifcgrid"}
    return take_off(ceilings or (a_ceiling(),), source=source, **how)  # type: ignore[arg-type]
