"""Sheets of a floor: one set-out sheet a ceiling, one plan a storey, each in its file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.obstacle import DEVICES
from ifcgrid.domain.version import __version__
from ifcgrid.ifc.project import ModelFile
from ifcgrid.ifc.reading.north import find_north
from ifcgrid.outputs.files import make_folder, write_bytes
from ifcgrid.outputs.setout import draw_setout
from ifcgrid.pipeline.flow import Build, Nearby
from ifcgrid.pipeline.storey_plans import PlanFiles, find_by_zone, is_beside, lay_out_plans

__all__ = ["pick_units", "write_sheets"]


def pick_units(units: str, model: ModelFile) -> str:
    """The units of printed lengths; "auto" follows the model's length unit."""
    if units != "auto":
        return units
    return "ft-in" if "foot" in model.unit.lower() or "inch" in model.unit.lower() else "mm"


LONGEST_NAME = 80
"""Letters in a sheet's file name, so that with its folder it stays within what every system takes."""


def _file_name(*words: str) -> str:
    """Words as a file name that every system takes."""
    name = "-".join(filter(None, (re.sub(r"[^\w.]+", "-", word).strip("-.") for word in words)))
    return name[:LONGEST_NAME].strip("-.") or "room"


def _stamp(done: Build, ceiling: Ceiling | None) -> dict[str, str]:
    model = done.intake.model
    stamp = {
        "model": Path(model.path).name,
        "sha256": model.sha256[:16],
        "library": f"ifcgrid {__version__}",
    }
    if ceiling is not None:
        stamp |= {"system": ceiling.system.id, "policy": ceiling.layout.policy}
    return stamp


def write_sheets(
    folder: Path,
    done: Build,
    units: str,
    only: Sequence[str] | None = None,
    *,
    plans: PlanFiles | None = None,
) -> list[str]:
    """One set-out sheet a ceiling, one plan a storey in each format; returns their paths."""
    make_folder(folder)
    north = find_north(done.intake.model.file)
    nearby, findings = Nearby(done.intake.obstacles), find_by_zone(done)
    names: dict[str, int] = {}
    written: list[str] = []

    def write(words: Sequence[str], form: str, data: bytes) -> None:
        name = _file_name(*words)
        # Where upper and lower case are one file, A1 must not write over a1.
        known = f"{name}.{form}".casefold()
        count = names[known] = names.get(known, 0) + 1
        target = folder / (f"{name}.{form}" if count == 1 else f"{name}-{count}.{form}")
        write_bytes(target, data)
        written.append(str(target))

    for ceiling in done.ceilings:
        room = ceiling.zone.rooms[0]
        if only is not None and not {r.number for r in ceiling.zone.rooms} & set(only):
            continue
        near = [o for o in nearby.find(ceiling.zone) if o.kind in DEVICES or is_beside(o, ceiling.zone)]
        text = draw_setout(
            ceiling,
            units=units,
            stamp=_stamp(done, ceiling),
            findings=findings.get(ceiling.key, ()),
            obstacles=near,
            north_deg=north,
        )
        numbers = "+".join(sorted(r.number or r.name for r in ceiling.zone.rooms))
        write(["setout", room.storey, numbers], "svg", text.encode("utf-8"))
    if only is None:
        files = plans or PlanFiles()
        for plan in lay_out_plans(
            done, units, findings=findings, stamp=_stamp(done, None), north_deg=north, layers=files.layers
        ):
            for form in files.formats:
                write(["plan", plan.storey], form, plan.data(form))
    return written
