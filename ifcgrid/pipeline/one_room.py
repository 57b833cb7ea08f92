"""One room without a model: a size or an outline in, a whole ceiling out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from ifcgrid.design.preferred_wall import start_at_wall
from ifcgrid.design.setting_out import Start
from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import RoomError, UnitError
from ifcgrid.domain.plan import DEFAULT_SYSTEM
from ifcgrid.domain.policy import DEFAULT_POLICY
from ifcgrid.domain.room import Room, Zone
from ifcgrid.domain.system import GridSystem
from ifcgrid.domain.units import parse_size
from ifcgrid.domain.version import __version__
from ifcgrid.outputs.files import write_bytes
from ifcgrid.outputs.paper.pdf import write_pdf
from ifcgrid.outputs.record import record_room
from ifcgrid.outputs.setout import setout_pages
from ifcgrid.pipeline.explaining import explain_ceiling, write_picture
from ifcgrid.pipeline.flow import hang_ceiling
from ifcgrid.pipeline.room_sheets import SheetStyle, page_files
from ifcgrid.pipeline.targets import check_targets
from ifcgrid.policies import read_policy
from ifcgrid.systems import list_systems, read_system

__all__ = ["find_system", "lay_out_one", "room_zone"]

GREATEST_MAIN_SPACING = 1250.0
"""A derived system's mains stand at most this far apart, in mm (600 to 625 mm modules: every second line)."""


def find_system(module: tuple[float, float] | None, system_id: str | None) -> GridSystem:
    """The system of that id, or the one that fits a module (along, across) in mm.

    A module that no system of the library has is laid on the sections of the default
    system, with mains on as many lines as keeps them within GREATEST_MAIN_SPACING.

    Raises:
        SystemDataError: there is no system of that id.
    """
    if system_id is not None or module is None:
        return read_system(system_id or DEFAULT_SYSTEM)
    along, across = sorted(module)
    for candidate in map(read_system, list_systems()):
        if tolerance.is_equal(candidate.along, along) and tolerance.is_equal(candidate.across, across):
            return candidate
    every = max(1, tolerance.floor_div(GREATEST_MAIN_SPACING, across))
    base = read_system(DEFAULT_SYSTEM)
    tees = (across * every, along)[: min(every, 2)]
    return replace(
        base,
        id="module",
        title=f"lay-in module {along:g} x {across:g} mm, mains at {across * every:g} mm",
        along=along,
        across=across,
        main_every=every,
        cutting=replace(base.cutting, tees=tees) if base.cutting else None,
    )


def _read_outline(wkt: str) -> Polygon:
    try:
        with np.errstate(invalid="ignore"):  # a NaN is refused below, in words
            shape = shapely.from_wkt(wkt)
    except shapely.GEOSException as error:
        reason = str(error).splitlines()[0]
        raise RoomError(f"outline is no WKT ({reason}); write POLYGON ((0 0, 6000 0, ...)) in mm") from error
    if not isinstance(shape, Polygon) or shape.is_empty:
        raise RoomError(f"outline is a {shape.geom_type}; give one POLYGON in mm")
    if not np.isfinite(shapely.get_coordinates(shape)).all():
        raise RoomError("outline holds coordinates that are no numbers; give lengths in mm")
    if not shapely.is_valid(shape):
        raise RoomError(f"outline is not usable: {shapely.is_valid_reason(shape)}; its walls must not cross")
    return shapely.geometry.polygon.orient(shape)


def room_zone(outline: Polygon, name: str = "room") -> Zone:
    """A zone of one room that no model holds; its ceiling level is 0."""
    room = Room(
        key=name,
        name=name,
        number="",
        storey="",
        storey_key="",
        section=outline,
        outline=outline,
        floor=0.0,
        top=0.0,
        height=None,
    )
    return Zone(key=name, rooms=(room,), outline=outline, level=0.0)


def _is_imperial(*texts: str | None) -> bool:
    return any(mark in text for text in texts if text for mark in ("'", '"', "′", "″", "ft", "in"))


def lay_out_one(
    *,
    room: str | None = None,
    outline: str | None = None,
    module: str | None = None,
    system: str | None = None,
    policy: str | None = None,
    sheet: str | Path | None = None,
    picture: str | Path | None = None,
    has_reasons: bool = False,
    units: str = "auto",
    style: SheetStyle | None = None,
) -> dict[str, Any]:
    """The ceiling of one room as a record, given `room` as LENGTH x WIDTH or `outline` as WKT in mm.

    With `has_reasons` or a `picture` the record holds an `explanation` for people as well.

    Raises:
        UnitError: the size or the module cannot be read.
        RoomError: the outline cannot be used.
        SystemDataError: there is no such system or policy.
        NoLayoutError: no layout exists for the outline.
    """
    if (room is None) == (outline is None):
        raise UnitError("give either a room size such as 9.6 m x 4.2 m or an outline, not both")
    check_targets([sheet, picture])
    shape = _read_outline(outline) if outline else shapely.box(0, 0, *parse_size(room or ""))
    grid = find_system(parse_size(module) if module else None, system)
    rules = read_policy(policy or DEFAULT_POLICY)
    zone = room_zone(shapely.geometry.polygon.orient(shape))
    start = start_at_wall(Start(), zone, rules)
    ceiling = hang_ceiling(zone, grid, rules, start=start)
    told = explain_ceiling(ceiling, start) if has_reasons or picture else None
    record = told.record if told else record_room(ceiling, 0)
    if told:
        record["explanation"] = told.text
    shown = ("ft-in" if _is_imperial(room, module) else "mm") if units == "auto" else units
    record |= {"given": room or f"outline of {len(shape.exterior.coords) - 1} corners", "units": shown}
    outputs = []
    if picture:
        outputs.append(write_picture(picture, ceiling, {"room": room or "outline"}))
    if sheet:
        stamp = {"library": f"ifcgrid {__version__}", "room": room or "outline"}
        outputs += _write_sheet(Path(sheet), ceiling, shown, stamp, style or SheetStyle())
    if outputs:
        record["outputs"] = outputs
    return record


def _write_sheet(
    path: Path, ceiling: Ceiling, units: str, stamp: dict[str, str], style: SheetStyle
) -> list[str]:
    """The room's set-out sheet, as PDF where the name ends so, else as SVG with a file for each page."""
    pages = setout_pages(ceiling, units=style.units(units), stamp=stamp, wish=style.wish, laser=style.laser)
    if path.suffix.lower() == ".pdf":
        write_bytes(path, write_pdf(pages))
        return [str(path)]
    written = []
    for end, data in page_files(pages, ("svg",)):
        target = (
            path if end == ".svg" else path.with_name(f"{path.stem}{end.removesuffix('.svg')}{path.suffix}")
        )
        write_bytes(target, data)
        written.append(str(target))
    return written
