"""Set-out sheets of rooms as files: what was asked for, and the pages of each ceiling as SVG or PDF."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from shapely import MultiPolygon, Polygon

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import DEVICES
from ifcgrid.domain.units import parse_length
from ifcgrid.ifc.reading.north import find_north
from ifcgrid.outputs.measured import measured_sentences
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.columns import Block
from ifcgrid.outputs.paper.dimension import fraction_of, unbroken
from ifcgrid.outputs.paper.pdf import has_pdf, write_pdf
from ifcgrid.outputs.paper.svg import write_svg
from ifcgrid.outputs.setout import Wish, setout_pages
from ifcgrid.pipeline.flow import Build, Nearby
from ifcgrid.pipeline.storey_plans import find_by_zone, is_beside
from ifcgrid.pipeline.takeoff import source_of, with_pieces

__all__ = [
    "SHEET_FORMATS",
    "RoomSheets",
    "SheetStyle",
    "check_sheets",
    "measured_blocks",
    "page_files",
    "provenance_of",
]

SHEET_FORMATS = ("auto", "svg", "pdf", "both")
"""auto: both where the extra `drawings` is installed, else SVG."""

_WITHOUT_PDF = "sheets are SVG only: PDF needs pip install 'ifcgrid[drawings]'"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetStyle:
    """How set-out sheets are printed.

    `fraction` is the denominator of the finest fraction of an inch, 0 for the usual one;
    `laser` mm from the underside of the grid down to the laser's plane, None for the
    default; `note` is a line for the user on what was left out.
    """

    formats: tuple[str, ...] = ("svg",)
    wish: Wish = field(default_factory=Wish)
    laser: float | None = None
    fraction: int = 0
    note: str = ""

    def units(self, units: str) -> str:
        """The units with the chosen fraction, where they have one."""
        chosen = f"{units}/{self.fraction}" if self.fraction and units != "mm" else units
        fraction_of(chosen)
        return chosen


def check_sheets(
    form: str = "auto",
    *,
    paper: str = "auto",
    orientation: str = "auto",
    laser: str | None = None,
    fraction: int = 0,
) -> SheetStyle:
    """What is asked for of set-out sheets, looked at before the long work.

    Args:
        form: one of `SHEET_FORMATS`.
        paper: "auto", "a4", "a3", "letter" or "tabloid".
        orientation: "auto", "portrait" or "landscape".
        laser: a length such as "100 mm" or "4 in".
        fraction: 2, 4, 8, 16, 32, or 0.

    Raises:
        OutputError: there is no such format, paper or orientation, or PDF is asked for and the
            extra `drawings` is not installed.
        UnitError: the length or the fraction is none.
    """
    if form not in SHEET_FORMATS:
        raise OutputError(f"format {form!r}: choose one of {', '.join(SHEET_FORMATS)}")
    wish = Wish(paper=paper, way=orientation)
    if fraction:
        fraction_of(f"ft-in/{fraction}")
    note = ""
    if form != "svg" and not has_pdf():
        if form != "auto":
            write_pdf(())  # says what is missing
        form, note = "svg", _WITHOUT_PDF
    formats = {"svg": ("svg",), "pdf": ("pdf",)}.get(form, ("svg", "pdf"))
    offset = None if laser is None else parse_length(laser)
    return SheetStyle(formats=formats, wish=wish, laser=offset, fraction=fraction, note=note)


def page_files(pages: Sequence[Canvas], formats: Sequence[str]) -> list[tuple[str, bytes]]:
    """What follows the sheet's name in each file's name, and the file: one SVG a page, one PDF in all."""
    files: list[tuple[str, bytes]] = []
    if "svg" in formats:
        for number, page in enumerate(pages, start=1):
            end = ".svg" if number == 1 else f"-page-{number}.svg"
            files.append((end, write_svg([page]).encode("utf-8")))
    if "pdf" in formats:
        files.append((".pdf", write_pdf(pages)))
    return files


def provenance_of(done: Build, ceiling: Ceiling | None = None) -> dict[str, str]:
    """Where a drawing comes from: model and version; of a ceiling also project, spaces, system, policy."""
    model = done.intake.model
    stamp = source_of(model)
    if ceiling is None:
        return stamp
    project = next((p.LongName or p.Name for p in model.file.by_type("IfcProject")), None)
    keys = [room.key for room in ceiling.zone.rooms]
    spaces = ", ".join(keys[:3]) + (f" and {len(keys) - 3} more" if len(keys) > 3 else "")
    first = {"project": project} if project else {}
    return {
        **first,
        **stamp,
        "space": spaces,
        "system": ceiling.system.id,
        "policy": ceiling.layout.policy,
    }


def measured_blocks(ceiling: Ceiling, units: str) -> list[Block]:
    """What measuring on site changed, as a list for the sheet; none where nothing was measured."""
    lines = measured_sentences(ceiling, lambda length: unbroken(length, units))
    return [Block(title="Measured on site", lines=lines)] if lines else []


class RoomSheets:
    """Draws the set-out sheets of a build, each with what lies around its room."""

    def __init__(self, done: Build, units: str, style: SheetStyle) -> None:
        self._done, self._style = done, style
        self._units = style.units(units)
        self._nearby = Nearby(done.intake.obstacles)
        self._findings: Mapping[str, Sequence[Finding]] = find_by_zone(done)
        self._north = find_north(done.intake.model.file)
        self._storeys: dict[str, list[Polygon | MultiPolygon]] = {}
        for room in done.intake.rooms:
            self._storeys.setdefault(room.storey_key, []).append(room.section)

    def pages(self, ceiling: Ceiling) -> tuple[Canvas, ...]:
        """The pages of one ceiling's sheet."""
        zone = ceiling.zone
        near = [o for o in self._nearby.find(zone) if o.kind in DEVICES or is_beside(o, zone)]
        return setout_pages(
            with_pieces(ceiling),
            units=self._units,
            stamp=provenance_of(self._done, ceiling),
            findings=self._findings.get(ceiling.key, ()),
            obstacles=near,
            north_deg=self._north,
            wish=self._style.wish,
            laser=self._style.laser,
            storey=self._storeys.get(zone.rooms[0].storey_key, ()),
            remarks=measured_blocks(ceiling, self._units),
        )

    def files(self, ceiling: Ceiling) -> list[tuple[str, bytes]]:
        """The files of one ceiling's sheet, as of `page_files`."""
        return page_files(self.pages(ceiling), self._style.formats)
