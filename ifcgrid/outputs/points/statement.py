"""What must be known of a point file: its system, base point, turn, unit, check distances and cautions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.coordinates import Coordinates, PointUnit
from ifcgrid.domain.points import SetPoint
from ifcgrid.outputs.cautions import caution_texts
from ifcgrid.outputs.points.pair import CheckDistance
from ifcgrid.outputs.points.table import format_number

__all__ = ["PointFile", "format_statement", "statement_lines"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PointFile:
    """Points as they go into a file: `site` is northing, easting, elevation (n, 3) in mm.

    `north_deg` is true north in degrees counter-clockwise from the model's X axis, None
    where the model does not say; `stamp` the provenance.
    """

    points: tuple[SetPoint, ...]
    site: NDArray[np.float64]
    checks: tuple[CheckDistance, ...]
    coordinates: Coordinates
    unit: PointUnit
    decimals: int
    project: str = ""
    north_deg: float | None = None
    stamp: Mapping[str, str] = field(default_factory=dict)

    def number(self, length: float) -> str:
        """A length in mm as the file prints it."""
        return format_number(length / self.unit.size, self.decimals)


def statement_lines(file: PointFile) -> list[str]:
    """System, base point, turn, unit and decimals, a line each."""
    system, unit = file.coordinates, file.unit
    east, north, height = system.base
    lines = [
        f"Coordinate system: {system.name}" + (f" (EPSG:{system.epsg})" if system.epsg else ""),
        f"Base point: the model's origin is at northing {file.number(north)}, easting {file.number(east)}, "
        f"elevation {file.number(height)}",
        f"Rotation: the model's X axis points {_degrees(system.turn_deg)} degrees counter-clockwise "
        "from east",
        f"Units: {unit.words}; {file.decimals} decimals; order northing, easting, elevation",
    ]
    if system.datum:
        lines.insert(1, f"Datum: {system.datum}")
    if any(abs(s - 1.0) > 0.0 for s in system.scale):
        plain = sorted({f"{s:.10g}" for s in system.scale})
        lines.append(f"Scale: a model length times {' and '.join(plain)} is a length in the map's plane")
    if file.north_deg is not None:
        turn = (file.north_deg + system.turn_deg - 90.0 + 180.0) % 360.0 - 180.0
        lines.append(
            f"True north as the model states it: {abs(turn):.6g} degrees "
            f"{'counter-clockwise' if turn > 0 else 'clockwise'} from this file's north"
            if abs(turn) > tolerance.RELATIVE
            else "True north as the model states it: this file's north"
        )
    return [*lines, *system.notes]


def _degrees(angle: float) -> str:
    return f"{angle:.9f}".rstrip("0").rstrip(".")


def check_lines(file: PointFile) -> list[str]:
    """A table of check distances: from, to, distance, and its parts north and east."""
    rows: list[tuple[str, ...]] = [("from", "to", "distance", "north", "east")]
    rows += [
        (
            file.points[c.first].name,
            file.points[c.second].name,
            *(file.number(length) for length in (c.distance, c.north, c.east)),
        )
        for c in file.checks
    ]
    widths = [max(len(row[k]) for row in rows) for k in range(5)]
    return [
        "  ".join(
            cell.ljust(width) if k < 2 else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


CODES: Sequence[tuple[str, str]] = (
    ("CK", "check point: a corner of the room at ceiling level, by the letters of its two walls"),
    ("GR", "grid: S1A, S1B, S2A, S2B ends of strings, S12 their crossing, MT first main on first tee line, "
     "F1 to F4 corners of the largest field of full panels; all at the level of the grid's underside"),
    ("HG", "hanger as numbered on the sheet: its fixing above, else where it meets the main (as noted)"),
    ("TZ", "rod of a trapeze: its fixing above"),
    ("BR", "brace set: foot on the grid, P top of the post, W1 to W4 fixings of the wires"),
    ("DV", "middle of a device at the level of the grid's underside"),
    ("WR", "fixing of a device's wire"),
)  # fmt: skip


def format_statement(file: PointFile) -> str:
    """The text that goes with a point file."""
    lines = [f"Points of {file.project or 'the model'}: {len(file.points)}", ""]
    lines += statement_lines(file)
    lines += ["", "Check distances in plan, before anything is marked:", *check_lines(file)]
    lines += [
        "",
        "A distance that differs by a factor tells of units; parts north and east that changed places, or",
        "have the other sign, tell of axes. Read measured points back to have it told.",
        "",
        "Codes:",
        *(f"{code}  {words}" for code, words in CODES),
        "",
        "Cautions:",
        *caution_texts(),
        "",
        *(f"{name}: {text}" for name, text in file.stamp.items()),
    ]
    return "\n".join("".join(c if c.isprintable() else "?" for c in line) for line in lines) + "\n"
