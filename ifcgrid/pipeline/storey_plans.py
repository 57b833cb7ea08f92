"""Reflected ceiling plans of a floor: one drawing a storey, as SVG, PDF or DXF."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import shapely
from shapely import MultiPolygon, Polygon

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import DEVICES, Obstacle
from ifcgrid.domain.room import Zone
from ifcgrid.ifc.reading.footprints import read_footprints
from ifcgrid.ifc.reading.grids import read_axes
from ifcgrid.outputs.dxf import check_dxf, write_storey_dxf
from ifcgrid.outputs.paper.pdf import write_pdf
from ifcgrid.outputs.paper.svg import write_svg
from ifcgrid.outputs.plan import Layers, OmittedRoom, StoreySheet, lay_out_storey, read_layers
from ifcgrid.pipeline.flow import Build, Nearby

__all__ = [
    "HANG",
    "PLAN_FORMATS",
    "PlanFiles",
    "StoreyPlan",
    "check_plans",
    "find_by_zone",
    "is_beside",
    "lay_out_plans",
]

HANG = 300.0
"""Devices whose lowest point is at most this far above the highest ceiling, in mm, are drawn in its plan."""

PLAN_FORMATS = ("svg", "pdf", "dxf")
"""Kinds of file in which a plan can be had; all but the first need the extra `drawings`."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StoreyPlan:
    """A storey's plan, before it is a file."""

    storey: str
    storey_key: str
    sheet: StoreySheet

    def data(self, form: str) -> bytes:
        """The plan as a file of one of `PLAN_FORMATS`.

        Raises:
            OutputError: the format is none of them, or the extra `drawings` is not installed.
        """
        if form == "svg":
            return write_svg([self.sheet.page]).encode("utf-8")
        if form == "pdf":
            return write_pdf([self.sheet.page])
        if form == "dxf":
            return write_storey_dxf(self.sheet)
        raise OutputError(f"plans can be written as {', '.join(PLAN_FORMATS)}, not as {form!r}")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFiles:
    """Which files a plan becomes, and the table of layers, ours where there is none."""

    formats: tuple[str, ...] = ("svg",)
    layers: Layers | None = None


def check_plans(
    has_dxf_files: bool, layers: str | Path | None = None, *, not_drawn_because: str = ""
) -> PlanFiles:
    """What is asked for of plans, looked at before the long work.

    Args:
        has_dxf_files: whether DXF files are wanted beside the SVG ones.
        layers: a user's table of layers (TOML), laid over ours.
        not_drawn_because: why no plans will be drawn, "" when they will.

    Raises:
        OutputError: something is asked for of plans that are not drawn, the table cannot be
            read, or the extra `drawings` is not installed.
        SystemDataError: an entry of the table is wrong.
    """
    if not_drawn_because and (has_dxf_files or layers is not None):
        raise OutputError(f"no storey plans are drawn {not_drawn_because}")
    if has_dxf_files:
        check_dxf()
    forms = ("svg", "dxf") if has_dxf_files else ("svg",)
    return PlanFiles(formats=forms, layers=_read_layer_file(layers))


def _read_layer_file(path: str | Path | None) -> Layers:
    if path is None:
        return read_layers()
    try:
        text = Path(path).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is no UTF-8 text"
        raise OutputError(f"table of layers {path} cannot be read: {reason}") from error
    return read_layers(text, str(path))


def lay_out_plans(
    done: Build,
    units: str,
    *,
    findings: Mapping[str, Sequence[Finding]],
    stamp: Mapping[str, str],
    north_deg: float | None = None,
    layers: Layers | None = None,
) -> Iterator[StoreyPlan]:
    """One plan for each storey that has ceilings, in their order; findings by the key of their ceiling."""
    storeys: dict[str, list[Ceiling]] = {}
    for ceiling in done.ceilings:  # two buildings may each have a "Level 1"
        storeys.setdefault(ceiling.zone.rooms[0].storey_key, []).append(ceiling)
    nearby = Nearby(done.intake.obstacles)
    axes = read_axes(done.intake.model.file)
    shapes = read_footprints(done.intake.model.file, [room.key for room in done.skipped])
    for key, ceilings in storeys.items():
        storey = ceilings[0].zone.rooms[0].storey
        sheet = lay_out_storey(
            storey,
            ceilings,
            _omitted(storey, done, ceilings, shapes),
            obstacles=_around(ceilings, nearby),
            findings=[f for c in ceilings for f in findings.get(c.key, ())],
            stamp=stamp,
            units=units,
            north_deg=north_deg,
            axes=axes,
            layers=layers,
        )
        yield StoreyPlan(storey=storey, storey_key=key, sheet=sheet)


def _omitted(
    storey: str,
    done: Build,
    ceilings: Sequence[Ceiling],
    shapes: Mapping[str, Polygon | MultiPolygon],
) -> list[OmittedRoom]:
    """The storey's rooms without a ceiling, with their outlines where no room with one lies there."""
    taken = shapely.union_all([room.section for c in ceilings for room in c.zone.rooms])
    rooms = []
    for room in done.skipped:
        if room.storey == storey:
            shape = shapes.get(room.key)
            is_apart = shape is not None and shape.intersection(taken).area < shape.area / 2
            outline = shape if is_apart else None
            rooms.append(OmittedRoom(number=room.number, name=room.name, reason=room.reason, outline=outline))
    return rooms


def find_by_zone(done: Build) -> dict[str, list[Finding]]:
    """The findings of each ceiling by its key, in their order."""
    zone_of: dict[str, str] = {}
    for ceiling in done.ceilings:
        for room in ceiling.zone.rooms:
            zone_of.setdefault(room.key, ceiling.key)  # a soffit of the room comes after it
    found: dict[str, list[Finding]] = {}
    for finding in done.findings:
        found.setdefault(zone_of.get(finding.room, finding.room), []).append(finding)
    return found


def is_beside(obstacle: Obstacle, zone: Zone) -> bool:
    """Whether an obstacle stands in the room's storey: from the floor up to above the ceiling."""
    return obstacle.bottom < zone.level and obstacle.top > min(room.floor for room in zone.rooms)


def _around(ceilings: Sequence[Ceiling], nearby: Nearby) -> list[Obstacle]:
    """Walls and columns of the storey, and what may sit in its ceilings."""
    around = {
        (o.source, o.key): o
        for c in ceilings
        for o in nearby.find(c.zone)
        if is_beside(o, c.zone) or o.kind in DEVICES
    }
    low = min(min(r.floor for r in c.zone.rooms) for c in ceilings)
    high = max(c.zone.level for c in ceilings)
    return [o for _, o in sorted(around.items()) if low < o.top and o.bottom < high + HANG]
