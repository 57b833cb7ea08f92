"""Points as CSV in the order point, northing, easting, elevation, description; written and read.

One line of names, then one line a point: what else must be known stands beside the table
in a text of its own, since programs take every further line for a point. Names hold no
comma, no blank and nothing that a spreadsheet takes for a formula.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.coordinates import PointUnit
from ifcgrid.domain.errors import ModelError
from ifcgrid.domain.points import SetPoint
from ifcgrid.outputs.points.pair import CheckDistance

__all__ = ["format_number", "format_points", "read_points", "round_site"]

HEAD = ("point", "northing", "easting", "elevation", "description")

LONGEST_NOTE = 96

LARGEST = 1e12
"""A coordinate beyond this many units is no place on earth."""


def format_number(value: float, decimals: int) -> str:
    """A number with so many decimals, never -0."""
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def round_site(site: NDArray[np.float64], unit: PointUnit, decimals: int) -> NDArray[np.float64]:
    """Northing, easting, elevation (n, 3) in mm as the file gives them."""
    return np.array(
        [[float(f"{value / unit.size:.{decimals}f}") * unit.size for value in row] for row in site.tolist()]
    ).reshape(-1, 3)


def _described(text: str) -> str:
    """A description that needs no quotes and starts no formula."""
    plain = re.sub(r"[\s,;\"']+", " ", "".join(c if c.isprintable() else " " for c in text)).strip()
    return plain.lstrip("=+-@")[:LONGEST_NOTE]


def format_points(
    points: Sequence[SetPoint],
    site: NDArray[np.float64],
    checks: Sequence[CheckDistance],
    unit: PointUnit,
    decimals: int,
    *,
    has_head: bool = True,
) -> str:
    """The table. Check points carry their distances to the others in the description.

    Args:
        points: the points in order.
        site: northing, easting, elevation (n, 3) in mm.
        checks: distances between some of them.
        unit: of all numbers.
        decimals: of all numbers.
        has_head: whether the first line names the columns.
    """
    lengths: dict[int, list[str]] = {}
    for check in checks:
        for one, other in ((check.first, check.second), (check.second, check.first)):
            name = points[other].name.rpartition("-")[2]
            text = format_number(check.distance / unit.size, decimals)
            lengths.setdefault(one, []).append(f"{name}={text}")
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    if has_head:
        writer.writerow(HEAD)
    for k, (point, place) in enumerate(zip(points, site.tolist(), strict=True)):
        note = point.note
        if k in lengths:
            note = f"{note.split(' at ')[0]} in {unit.value} to {' '.join(lengths[k])}"
        numbers = (format_number(value / unit.size, decimals) for value in place)
        writer.writerow([point.name, *numbers, _described(note)])
    return stream.getvalue()


def read_points(
    text: str, where: str = "the table"
) -> tuple[dict[str, tuple[float, float, float]], list[str]]:
    """Northing, easting, elevation by point name as they stand in a table, and what is to be told of it.

    Columns are parted by commas, semicolons, tabs or blanks; a first line of names and
    lines that begin with # are passed over; with semicolons or tabs a comma may part
    decimals. An elevation may be missing: it is NaN.

    Raises:
        ModelError: a line has no numbers, or there are none.
    """
    found: dict[str, tuple[float, float, float]] = {}
    notes: list[str] = []
    lines = text.removeprefix("\ufeff").splitlines()
    mark = _separator(lines)
    first = True
    for number, line in enumerate(lines, start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        cells = line.split() if mark == " " else next(csv.reader([line], delimiter=mark))
        cells = [cell.strip() for cell in cells]
        values = [_value(cell, mark) for cell in cells[1:4]]
        is_head, first = first and _is_head(cells, values), False
        if is_head:
            continue
        north, east, *rest = [*values, None, None]
        if not cells[0] or north is None or east is None:
            raise ModelError(
                f"{where}, line {number}: {line.strip()[:60]!r} has no northing and easting; each line holds "
                "point, northing, easting, elevation, description"
            )
        if cells[0] in found:
            notes.append(f"{cells[0]} stands there twice; the last one counts")
        found[cells[0]] = (north, east, math.nan if rest[0] is None else rest[0])
    if not found:
        raise ModelError(f"{where} holds no point")
    return found, notes


def _is_head(cells: Sequence[str], values: Sequence[float | None]) -> bool:
    return len(cells) > 1 and all(value is None for value in values)


def _separator(lines: Sequence[str]) -> str:
    sample = [line for line in lines if line.strip() and not line.lstrip().startswith("#")][:20]
    for mark in ("\t", ";", ","):
        if sample and all(line.count(mark) >= 2 for line in sample):
            return mark
    return " "


def _value(cell: str, mark: str) -> float | None:
    try:
        value = float(cell.replace(",", ".") if mark != "," else cell)
    except ValueError:
        return None
    return value if math.isfinite(value) and abs(value) < LARGEST else None
