"""From a build to the text of the floor report: sheets drawn, quantities taken, outlines read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from ifcgrid.checks.rule_sets import choose_sets
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.judging import Judging
from ifcgrid.domain.version import __version__
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.project import ModelFile
from ifcgrid.ifc.reading.footprints import read_footprints
from ifcgrid.ifc.reading.north import find_north
from ifcgrid.outputs.paper.svg import write_svg
from ifcgrid.outputs.report import FloorReport, draw_report
from ifcgrid.pipeline.flow import Build
from ifcgrid.pipeline.room_sheets import RoomSheets, SheetStyle
from ifcgrid.pipeline.takeoff import take_off

__all__ = ["report_text"]


def report_text(
    done: Build,
    units: str,
    judging: Judging,
    *,
    origin: str,
    remarks: Mapping[str, str] | None = None,
    link: str = "",
) -> str:
    """The floor report of a build as HTML text.

    Args:
        done: ceilings, findings and rooms without a ceiling.
        units: "mm" or "ft-in".
        judging: by which documents it was judged.
        origin: a sentence on where the ceilings come from.
        remarks: by ceiling key what is to be said of how it was explained.
        link: the relative address of a 3D model, "" when there is none.
    """
    model = done.intake.model
    return draw_report(
        FloorReport(
            title=Path(model.path).stem or "the model",
            stamp=_stamp(model, done.intake.others, done.ceilings),
            origin=origin,
            ceilings=done.ceilings,
            skipped=done.skipped,
            findings=done.findings,
            unchecked=done.unchecked,
            obstacles=done.intake.obstacles,
            shapes=read_footprints(model.file, {s.key for s in done.skipped}, Kernel(model.file)),
            sheets=_sheets(done, units),
            documents=_documents(judging),
            remarks=remarks or {},
            take_off=take_off(done.ceilings) if done.ceilings else None,
            units=units,
            north_deg=find_north(model.file),
            model_link=link,
        )
    )


def _documents(judging: Judging) -> list[dict[str, Any]]:
    """The rule files that were judged by, with their switches; none where no set was named."""
    if not judging.sets:
        return []
    chosen = choose_sets(judging.sets, judging.switches, edition=judging.edition)
    return [
        {
            "document": file.document,
            "edition": file.edition,
            "title": file.title,
            "switches": {r: chosen.switches.get(r, default) for r, default in file.defaults.items()},
        }
        for file in chosen.files
    ]


def _stamp(model: ModelFile, others: Sequence[ModelFile], ceilings: Sequence[Ceiling]) -> dict[str, str]:
    stamp = {"Model": f"{Path(model.path).name}, {model.schema}, sha256 {model.sha256}"}
    for k, other in enumerate(others, start=1):
        stamp[f"Read with it, {k}"] = f"{Path(other.path).name}, {other.schema}, sha256 {other.sha256}"
    systems = dict.fromkeys(c.system.id for c in ceilings)
    policies = dict.fromkeys(c.layout.policy for c in ceilings)
    return {
        **stamp,
        "Grid systems": ", ".join(systems),
        "Policies": ", ".join(policies),
        "Made by": f"ifcgrid {__version__}",
    }


def _sheets(done: Build, units: str) -> dict[str, str]:
    """The set-out sheet of each ceiling by its key, its pages one below the other."""
    sheets = RoomSheets(done, units, SheetStyle())
    return {ceiling.key: write_svg(sheets.pages(ceiling)) for ceiling in done.ceilings}
