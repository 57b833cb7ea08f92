"""Points of a model's ceilings: written to be set out, and measured points compared with them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from ifcgrid.checks.survey import compare_points
from ifcgrid.domain.coordinates import PROJECT, Coordinates, PointUnit
from ifcgrid.domain.errors import ModelError, OutputError, RoomError, UnitError
from ifcgrid.domain.points import PointRole, SetPoint
from ifcgrid.domain.units import parse_length
from ifcgrid.domain.version import __version__
from ifcgrid.ifc.project import ModelFile, open_model
from ifcgrid.ifc.reading.map_conversion import read_map
from ifcgrid.ifc.reading.north import find_north
from ifcgrid.outputs.files import write_bytes, write_text
from ifcgrid.outputs.points import (
    PointFile,
    find_checks,
    find_points,
    format_landxml,
    format_points,
    format_statement,
    format_survey,
    read_points,
    record_survey,
    round_site,
)
from ifcgrid.pipeline.flow import Build, Nearby
from ifcgrid.pipeline.targets import check_targets
from ifcgrid.pipeline.written import read_back

__all__ = ["Wanted", "compare_points_file", "format_point_summary", "points_file"]

PathLike = str | Path

MOST_DECIMALS = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which points, and how: `rooms` and `roles` empty for all; `decimals` None for the unit's own."""

    rooms: Sequence[str] = ()
    roles: Collection[str] = ()
    coordinates: str = "project"
    unit: str = "mm"
    decimals: int | None = None


def points_file(
    path: PathLike,
    outputs: Sequence[PathLike],
    *,
    others: Sequence[PathLike] = (),
    wanted: Wanted | None = None,
    has_head: bool = True,
) -> dict[str, Any]:
    """Writes the points of the ceilings in a model as CSV and LandXML; returns the record.

    Beside each CSV a text of the same name and `.txt` says what the table cannot: system,
    base point, turn, unit, check distances, cautions.

    Raises:
        ModelError: the model is none, holds no ceilings of ours, or lacks the map that is asked for.
        RoomError: a wanted room is not among them.
        OutputError: a target's name ends otherwise, or it cannot be written.
    """
    targets = [Path(output) for output in outputs]
    for target in targets:
        if target.suffix.lower() not in (".csv", ".xml"):
            raise OutputError(f"{target}: points are written as .csv or LandXML .xml; give such a name")
    beside = [t.with_suffix(".txt") for t in targets if t.suffix.lower() == ".csv"]
    check_targets([*targets, *beside], inputs=[path, *others])
    file = _collect(path, others, wanted or Wanted())
    written = []
    for target in targets:
        if target.suffix.lower() == ".csv":
            table = format_points(
                file.points, file.site, file.checks, file.unit, file.decimals, has_head=has_head
            )
            write_bytes(target, table.encode("ascii"))
            write_text(target.with_suffix(".txt"), format_statement(file))
            written += [str(target), str(target.with_suffix(".txt"))]
        else:
            now = datetime.now(UTC)
            text = format_landxml(file, date=f"{now:%Y-%m-%d}", time=f"{now:%H:%M:%S}")
            write_text(target, text)
            written.append(str(target))
    return {**_record(file), "outputs": written}


def compare_points_file(
    path: PathLike,
    measured: PathLike,
    *,
    others: Sequence[PathLike] = (),
    wanted: Wanted | None = None,
    within: str | float = "5 mm",
) -> dict[str, Any]:
    """Compares a table of measured points with those of a model; returns the record of the survey.

    Raises:
        ModelError: the model is none or holds no ceilings, or the table cannot be read.
        RoomError: a wanted room is not among them.
        UnitError: `within` is no length above zero.
    """
    limit = parse_length(within)
    if limit <= 0:
        raise UnitError(f"the tolerance is {within!r}; it must be greater than zero")
    try:
        text = Path(measured).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise ModelError(f"measured points {measured} cannot be read: {reason}") from error
    found, says = read_points(text, str(measured))
    file = _collect(path, others, wanted or Wanted())
    # What was set out are the printed numbers, not those behind them.
    printed = round_site(file.site, file.unit, file.decimals)
    size = file.unit.size
    survey = compare_points(
        {point.name: (n, e, z) for point, (n, e, z) in zip(file.points, printed.tolist(), strict=True)},
        {name: (n * size, e * size, z * size) for name, (n, e, z) in found.items()},
        limit,
        says,
    )
    return {**_record(file), "measured": str(measured), "survey": record_survey(survey)}


def _collect(path: PathLike, others: Sequence[PathLike], wanted: Wanted) -> PointFile:
    unit = PointUnit(wanted.unit)
    decimals = unit.decimals if wanted.decimals is None else wanted.decimals
    if not 0 <= decimals <= MOST_DECIMALS:
        raise UnitError(f"decimals are {decimals}; give 0 to {MOST_DECIMALS}")
    model = open_model(path)
    system = _system(model, wanted.coordinates)
    done = read_back(model, [open_model(other) for other in others])
    points = _chosen(done, wanted)
    site = system.to_site(np.array([[p.x, p.y, p.z] for p in points], dtype=float).reshape(-1, 3))
    return PointFile(
        points=points,
        site=site,
        checks=find_checks(points, site),
        coordinates=system,
        unit=unit,
        decimals=decimals,
        project=str(model.file.by_type("IfcProject")[0].Name or Path(model.path).stem),
        north_deg=find_north(model.file),
        stamp={
            "model": Path(model.path).name,
            "sha256": model.sha256[:16],
            "library": f"ifcgrid {__version__}",
        },
    )


def _system(model: ModelFile, name: str) -> Coordinates:
    return read_map(model) if name == "map" else PROJECT


def _chosen(done: Build, wanted: Wanted) -> tuple[SetPoint, ...]:
    """The points of the wanted rooms and roles; check points always, that the rest can be tied to."""
    nearby = Nearby(done.intake.obstacles)
    every = find_points(done.ceilings, [nearby.find(ceiling.zone) for ceiling in done.ceilings])
    if wanted.rooms:
        rooms = [room for ceiling in done.ceilings for room in ceiling.zone.rooms]
        known = {name for room in rooms for name in (room.number, room.name, room.key) if name}
        for name in wanted.rooms:
            if name not in known:
                numbers = ", ".join(sorted({room.number or room.name for room in rooms}))
                raise RoomError(f"no ceiling in a room {name!r}; there are {numbers}")
        zones = [
            {room.key for room in c.zone.rooms}
            for c in done.ceilings
            if any({room.number, room.name, room.key} & set(wanted.rooms) for room in c.zone.rooms)
        ]
        keys = set().union(*zones)
        every = tuple(point for point in every if point.room in keys)
    if wanted.roles:
        every = tuple(p for p in every if p.role is PointRole.CHECK or p.role.word in wanted.roles)
    return every


def _record(file: PointFile) -> dict[str, Any]:
    counts = {role.word: sum(p.role is role for p in file.points) for role in PointRole}
    system = file.coordinates
    return {
        "coordinates": {
            "kind": system.kind,
            "name": system.name,
            "epsg": system.epsg,
            "base_mm": [round(x, 6) for x in system.base],
            "turn_deg": round(system.turn_deg, 9),
            "scale": list(system.scale),
            "notes": list(system.notes),
        },
        "unit": file.unit.value,
        "decimals": file.decimals,
        "points": counts,
        "checks": [
            {
                "from": file.points[c.first].name,
                "to": file.points[c.second].name,
                "distance_mm": round(c.distance, 3),
                "north_mm": round(c.north, 3),
                "east_mm": round(c.east, 3),
            }
            for c in file.checks
        ],
    }


def format_point_summary(record: dict[str, Any]) -> str:
    """The record of points for people."""
    if "survey" in record:
        return format_survey(record["survey"])
    system = record["coordinates"]
    total = sum(record["points"].values())
    unit = PointUnit(record["unit"])
    example = ""
    if record["checks"]:
        check = record["checks"][0]
        length = f"{check['distance_mm'] / unit.size:.{record['decimals']}f} {unit.value}"
        example = f", for example {check['from']} to {check['to']} {length}"
    lines = [
        f"{total} points: " + ", ".join(f"{n} {word}" for word, n in record["points"].items() if n),
        f"In {system['name']}, {unit.words}, order northing, easting, elevation",
        f"Check distances: {len(record['checks'])}{example}",
        *system["notes"],
        "Written",
        *(f"  {path}" for path in record["outputs"]),
        "",
        "Mark nothing before the check distances agree on site; the .txt beside the table says the rest.",
    ]
    return "\n".join(lines)
