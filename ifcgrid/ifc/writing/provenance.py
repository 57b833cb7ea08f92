"""Where a ceiling comes from: the properties of `MARKER_SET` on everything we wrote or took over."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.layout import Border
from ifcgrid.domain.system import GridSystem
from ifcgrid.ifc.identity import ADOPTED, KEY
from ifcgrid.ifc.lineage import ROOM_FACTS, facts_text
from ifcgrid.ifc.measured_text import to_text
from ifcgrid.ifc.writing.context import WriteContext
from ifcgrid.ifc.writing.plenum_rows import plenum_values
from ifcgrid.ifc.writing.rows import Typed

__all__ = [
    "DIGEST",
    "INPUT_PREFIX",
    "KEY",
    "MEASURED",
    "NOTHING",
    "REPLACES",
    "ROOMS",
    "SYSTEM_SIZES",
    "digest",
    "provenance_values",
]

ROOMS = "Rooms"
"""The property with the keys of the zone's rooms, blanks between."""

REPLACES = "Replaces"
"""The property with the GlobalIds of the architect's ceilings that ours took the place of, one a room
in the order of `ROOMS`, `NOTHING` where there was none. By it ours counts as that ceiling in a later
run: what was replaced can no longer say how high it hung and over which rooms."""

NOTHING = "-"

SYSTEM_SIZES = "SystemSizes"
"""The property with the grid system as JSON in mm: a ceiling can be measured again without its plan file."""

MEASURED = "AsMeasured"
"""The property with what was measured on site and the outline that follows, as JSON; only where it was."""

DIGEST = "Digest"
"""The property with the digest of the ceiling, by which a later run sees that nothing changed."""

INPUT_PREFIX = "Input"
"""Entries of the caller whose name begins so tell of the file that was read (its name, its SHA-256).

A run over its own output reads another file but finds the same ceiling. Then what the
earlier run said of its input still holds and is kept; else the file would change with
every run. So these entries say in which file the ceiling's grounds were first found.
"""


def digest(ceiling: Ceiling) -> str:
    """SHA-256 over all that is written of a ceiling, lengths to a thousandth of a mm."""
    layout, zone = ceiling.layout, ceiling.zone
    state = hashlib.sha256(
        repr(
            [
                *(zone.key, [r.key for r in zone.rooms], ceiling.system, layout.policy, layout.reason),
                layout.set_out_from,
                *(layout.columns, layout.rows, layout.main_every, layout.main_phase),
                *(layout.certificate.method, layout.certificate.statement, ceiling.hangers.support),
                [(o.key, o.room, o.is_lay_in, o.cells) for o in ceiling.openings],
                _hold_texts(ceiling),
            ]
        ).encode()
    )
    frame, panels, members, hangers = layout.frame, ceiling.panels, ceiling.members, ceiling.hangers
    for array in (
        *(panels.column, panels.row, panels.piece, panels.room, panels.is_full, panels.bounds),
        *(members.role, members.line, members.index, members.room, members.start, members.end),
        *(hangers.line, hangers.index, hangers.room, hangers.point, hangers.bottom, hangers.top),
        np.array([frame.x, frame.y, frame.angle_deg, zone.level, layout.along, layout.across]),
        *(np.asarray(ring.coords) for ring in (zone.outline.exterior, *zone.outline.interiors)),
        *_hold_arrays(ceiling),
        *(np.asarray(o.outline.exterior.coords) for o in ceiling.openings),
        *(np.asarray(panels.outlines[i].exterior.coords) for i in sorted(panels.outlines)),
    ):
        numbers = np.array(array, dtype=float)
        numbers[np.isnan(numbers)] = -1e9
        thousandths = np.rint(numbers * 1000.0)
        state.update(np.asarray(numbers.shape, dtype="<i8").tobytes())
        state.update(thousandths.astype("<i8").tobytes())
    return state.hexdigest()


def _sizes_text(system: GridSystem) -> str:
    return json.dumps(_stated(asdict(system)), sort_keys=True)


def _stated(table: Mapping[str, Any]) -> dict[str, Any]:
    """A table without the entries that say nothing, as a plan file would give it."""
    return {name: value for name, value in table.items() if value is not None}


def _hold_texts(ceiling: Ceiling) -> list[object]:
    """What is written of how a ceiling is cut, hung and held, as far as it is words."""
    pieces, trapezes, braces, wires = ceiling.pieces, ceiling.trapezes, ceiling.braces, ceiling.wires
    return [
        ceiling.hangers.fixing,
        None if pieces is None else pieces.mark,
        None if trapezes is None else (trapezes.support, trapezes.spans, trapezes.carries),
        None if braces is None else braces.support,
        None if wires is None else (wires.device, wires.support),
        ceiling.joints,
        ceiling.perimeter,
        ceiling.classification,
        [
            (line.number, line.runs, [(place, round(a), round(b)) for place, a, b in line.ties])
            for line in ceiling.control_lines
        ],
        *_measured(ceiling).values(),
    ]


def _measured(ceiling: Ceiling) -> dict[str, str]:
    """What was measured on site, where it was."""
    zone = ceiling.zone
    return {} if zone.measured is None else {MEASURED: to_text(zone.measured, zone.outline)}


def _hold_arrays(ceiling: Ceiling) -> list[NDArray[Any]]:
    """The same, as far as it is numbers."""
    hangers, bars = ceiling.hangers, ceiling.stabilisers
    found: list[NDArray[Any] | None] = [hangers.kinds, hangers.top_points]
    if (p := ceiling.pieces) is not None:
        found += [
            p.member,
            p.number,
            p.start,
            p.end,
            p.first_hole,
            p.is_factory,
            p.stock_start,
            p.stock_length,
        ]
    if (t := ceiling.trapezes) is not None:
        found += [t.hanger, t.ends, t.z, t.top]
    if (b := ceiling.braces) is not None:
        found += [b.line, b.column, b.point, b.post_top, b.wire_top]
    if (w := ceiling.wires) is not None:
        found += [w.number, w.point, w.bottom, w.top, w.is_slack, w.is_assumed]
    if bars is not None:
        found += [bars.ring, bars.edge, bars.number, bars.start, bars.end]
    return [array for array in found if array is not None]


def provenance_values(
    ceiling: Ceiling,
    context: WriteContext,
    provenance: Mapping[str, str],
    earlier: Mapping[str, str],
    is_adopted: bool,
    replaced: Sequence[str | None] = (),
) -> dict[str, Typed]:
    """The properties by name.

    `earlier` is what an earlier run said of the same ceiling; `replaced` holds for each room
    the GlobalId of the architect's ceiling that ours took the place of, or None.
    """
    layout = ceiling.layout
    now = digest(ceiling)
    values = {name: Typed("IfcText", text) for name, text in sorted(provenance.items())}
    if earlier.get(DIGEST) == now:
        kept = {n: t for n, t in earlier.items() if n.startswith(INPUT_PREFIX) and n in values}
        values |= {name: Typed("IfcText", text) for name, text in sorted(kept.items())}
    if any(replaced):
        values[REPLACES] = Typed("IfcText", " ".join(key or NOTHING for key in replaced))
    full = int(np.count_nonzero(ceiling.panels.is_full))
    return values | {
        "Along": Typed("IfcLengthMeasure", context.length(layout.along)),
        "Across": Typed("IfcLengthMeasure", context.length(layout.across)),
        "MainEvery": Typed("IfcInteger", layout.main_every),
        "MainPhase": Typed("IfcInteger", layout.main_phase),
        SYSTEM_SIZES: Typed("IfcText", _sizes_text(ceiling.system)),
        KEY: Typed("IfcText", ceiling.key),
        ROOMS: Typed("IfcText", " ".join(room.key for room in ceiling.zone.rooms)),
        ROOM_FACTS: Typed("IfcText", facts_text(ceiling.zone.rooms, context.owners)),
        ADOPTED: Typed("IfcBoolean", is_adopted),
        "System": Typed("IfcText", f"{ceiling.system.id}: {ceiling.system.title}"),
        "Policy": Typed("IfcText", layout.policy),
        "Reason": Typed("IfcText", layout.reason),
        **({"SetOutFrom": Typed("IfcText", layout.set_out_from)} if layout.set_out_from else {}),
        "Certificate": Typed("IfcText", f"{layout.certificate.method}: {layout.certificate.statement}"),
        **_height_values(ceiling, context),
        **plenum_values(ceiling, context),
        **{name: Typed("IfcText", text) for name, text in _measured(ceiling).items()},
        "AngleDegrees": Typed("IfcReal", round(layout.frame.angle_deg, 9)),
        "OriginX": Typed("IfcLengthMeasure", context.length(layout.frame.x)),
        "OriginY": Typed("IfcLengthMeasure", context.length(layout.frame.y)),
        "Borders": Typed("IfcText", "; ".join(map(_border_text, layout.borders))),
        "PanelsFull": Typed("IfcInteger", full),
        "PanelsCut": Typed("IfcInteger", len(ceiling.panels) - full),
        DIGEST: Typed("IfcText", now),
    }


def _height_values(ceiling: Ceiling, context: WriteContext) -> dict[str, Typed]:
    values = {"Level": Typed("IfcLengthMeasure", context.length(ceiling.zone.level))}
    height = ceiling.zone.rooms[0].height
    if height is None:
        return values
    found = "; ".join(f"{c.source.value} {c.value:.0f} mm: {c.where}" for c in height.candidates)
    return values | {
        "HeightValue": Typed("IfcLengthMeasure", context.length(height.value)),
        "HeightSource": Typed("IfcText", height.source.value),
        "HeightEvidence": Typed("IfcText", found),
    }


def _border_text(border: Border) -> str:
    return f"{border.ring}/{border.edge} {border.axis} {border.least:.1f} to {border.greatest:.1f} mm"
