"""Quantities of a whole zone on its assembly, so that a program that only adds up gets the take-off.

The schemas have no standard set for an assembly, and none for accessories and parts; these
are ours, measured as the take-off measures them (`ifcgrid.outputs.takeoff.measure`).
"""

from __future__ import annotations

from math import fsum

import numpy as np

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.hanging import HangerKind
from ifcgrid.ifc.writing.book import Book
from ifcgrid.ifc.writing.room_parts import room_parts
from ifcgrid.ifc.writing.rows import Ref

__all__ = ["ZONE_QUANTITIES", "add_zone_quantities"]

ZONE_QUANTITIES = "IfcGrid_ZoneQuantities"
"""The quantity set of an assembly."""

_COUNTS = {
    Role.MAIN_RUNNER: "MainRunnerCount",
    Role.CROSS_TEE: "CrossTeeCount",
    Role.SECOND_TEE: "SecondTeeCount",
    Role.WALL_ANGLE: "WallAngleCount",
}


def add_zone_quantities(book: Book, ceiling: Ceiling, assembly: Ref) -> None:
    """Areas, perimeter and counts of a zone, net: nothing is added for waste."""
    counts = _count_parts(ceiling) | _count_hung(ceiling)
    values = _measure_areas(ceiling) | {name: ("count", float(n)) for name, n in counts.items()}
    made = book.sets.quantities(ceiling.key, ZONE_QUANTITIES, values)
    book.sets.relate(ceiling.key, ZONE_QUANTITIES, [assembly], made)


def _measure_areas(ceiling: Ceiling) -> dict[str, tuple[str, float]]:
    parts = [part for share in room_parts(ceiling.zone) for part in share]
    local = [ceiling.layout.frame.shape_to_local(part) for part in parts]
    taken = fsum(o.outline.intersection(part).area for o in ceiling.openings for part in local)
    lengths = ceiling.hangers.lengths
    return {
        "CeilingArea": ("area", fsum(part.area for part in parts)),
        "PanelArea": ("area", float(ceiling.panels.area.sum())),
        "OpeningArea": ("area", taken),
        "Perimeter": ("length", ceiling.zone.outline.length),
        "HangerLength": ("length", fsum(lengths[np.isfinite(lengths)].tolist())),
    }


def _count_parts(ceiling: Ceiling) -> dict[str, int]:
    full = int(ceiling.panels.is_full.sum())
    lay_in = sum(o.is_lay_in for o in ceiling.openings)
    return {
        "PanelCount": full,
        "CutPanelCount": len(ceiling.panels) - full,
        **{name: int((ceiling.members.role == role).sum()) for role, name in _COUNTS.items()},
        "LayInOpeningCount": lay_in,
        "CutOpeningCount": len(ceiling.openings) - lay_in,
    }


def _count_hung(ceiling: Ceiling) -> dict[str, int]:
    hangers, trapezes, braces, wires = ceiling.hangers, ceiling.trapezes, ceiling.braces, ceiling.wires
    anchors = int((np.isfinite(hangers.top) & (hangers.kinds != HangerKind.TRAPEZE)).sum())
    counts = {"HangerCount": len(hangers)}
    if trapezes is not None:
        counts["TrapezeCount"] = len(trapezes)
        anchors += int(np.isfinite(trapezes.top).sum())
    if braces is not None:
        counts["BraceCount"] = len(braces)
        anchors += int(np.isfinite(braces.post_top).sum() + np.isfinite(braces.wire_top[:, :, 2]).sum())
    if wires is not None:
        counts["DeviceWireCount"] = len(wires)
        anchors += int(np.isfinite(wires.top).sum())
    return counts | {"AnchorCount": anchors}
