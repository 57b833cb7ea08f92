"""From a layout to all that carries it: members, restraint, stock pieces, hangers, device wires."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ifcgrid.design.framing import place_members
from ifcgrid.design.restraint import Restraint, restrain_ceiling
from ifcgrid.design.stock import cut_pieces
from ifcgrid.design.suspension import Hanging, hang
from ifcgrid.design.wires import place_wires
from ifcgrid.domain.ceiling import Opening
from ifcgrid.domain.hanging import Pieces, Wires
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import DEVICES, SERVICES, STRUCTURE, Obstacle
from ifcgrid.domain.restraint_plan import RestraintSettings
from ifcgrid.domain.room import Zone
from ifcgrid.domain.system import GridSystem

__all__ = ["Holding", "cut_as_it_stands", "hold_up"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Holding:
    """What carries a ceiling; `restraint` holds its members, `notes` what people should know."""

    restraint: Restraint
    pieces: Pieces | None
    hanging: Hanging
    wires: Wires | None
    notes: tuple[str, ...]


def hold_up(
    zone: Zone,
    system: GridSystem,
    layout: Layout,
    openings: Sequence[Opening],
    obstacles: Sequence[Obstacle],
    wanted: RestraintSettings | None = None,
) -> Holding:
    """What carries a zone's ceiling, past everything in the way.

    Where earthquakes are to be borne, members end at joints and short of free walls before
    they are cut from stock, and the end hangers come nearer to the walls.
    """
    bracing = wanted.bracing if wanted else None
    whole = place_members(zone, system, layout, openings)
    restraint = restrain_ceiling(zone, system, layout, whole, bracing, obstacles)
    cut = cut_pieces(cut_as_it_stands(system) if bracing else system, layout, restraint.members)
    end = min(system.hanger_end, bracing.hanger_end) if bracing else system.hanger_end
    hanging = hang(
        zone,
        replace(system, hanger_end=end),
        layout,
        restraint.members,
        [o for o in obstacles if o.kind in STRUCTURE],
        pieces=cut.pieces if cut else None,
        services=[o for o in obstacles if o.kind in SERVICES],
        devices=openings,
    )
    wires = None
    if wanted is not None and wanted.wires is not None:
        devices = [o for o in obstacles if o.kind in DEVICES]
        wires = place_wires(zone, layout, openings, devices, wanted.wires, obstacles)
    return Holding(
        restraint=restraint,
        pieces=cut.pieces if cut else None,
        hanging=hanging,
        wires=wires,
        notes=(*(cut.notes if cut else ()), *hanging.notes),
    )


def cut_as_it_stands(system: GridSystem) -> GridSystem:
    """The system without a gap at cut ends: restraint has already ended members short of walls and joints."""
    return replace(system, cutting=replace(system.cutting, end_gap=0.0)) if system.cutting else system
