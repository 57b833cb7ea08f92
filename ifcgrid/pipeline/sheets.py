"""Sheets of a floor: one set-out sheet a ceiling, one plan a storey, each in its file."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from ifcgrid.ifc.reading.north import find_north
from ifcgrid.outputs.files import make_folder, write_bytes
from ifcgrid.pipeline.flow import Build
from ifcgrid.pipeline.room_sheets import RoomSheets, SheetStyle, provenance_of
from ifcgrid.pipeline.storey_plans import PlanFiles, find_by_zone, lay_out_plans

__all__ = ["write_sheets"]


LONGEST_NAME = 80
"""Letters in a sheet's file name, so that with its folder it stays within what every system takes."""


def _file_name(*words: str) -> str:
    """Words as a file name that every system takes."""
    name = "-".join(filter(None, (re.sub(r"[^\w.]+", "-", word).strip("-.") for word in words)))
    return name[:LONGEST_NAME].strip("-.") or "room"


class _Names:
    """File names in a folder, each given once."""

    def __init__(self) -> None:
        self._count: dict[str, int] = {}

    def take(self, *words: str) -> str:
        """A name without an ending; where upper and lower case are one file, A1 must not write over a1."""
        name = _file_name(*words)
        count = self._count[name.casefold()] = self._count.get(name.casefold(), 0) + 1
        return name if count == 1 else f"{name}-{count}"


def write_sheets(
    folder: Path,
    done: Build,
    units: str,
    only: Sequence[str] | None = None,
    *,
    plans: PlanFiles | None = None,
    style: SheetStyle | None = None,
) -> list[str]:
    """One set-out sheet a ceiling, one plan a storey in each format; returns their paths.

    Plans are written in the sheets' formats and in those of `plans`.
    """
    make_folder(folder)
    names = _Names()
    written: list[str] = []

    def write(name: str, data: bytes) -> None:
        write_bytes(folder / name, data)
        written.append(str(folder / name))

    chosen = style or SheetStyle()
    sheets = RoomSheets(done, units, chosen)
    for ceiling in done.ceilings:
        if only is not None and not {r.number for r in ceiling.zone.rooms} & set(only):
            continue
        numbers = "+".join(sorted(r.number or r.name for r in ceiling.zone.rooms))
        name = names.take("setout", ceiling.zone.rooms[0].storey, numbers)
        for end, data in sheets.files(ceiling):
            write(f"{name}{end}", data)
    if only is None:
        files = plans or PlanFiles(formats=())
        forms = tuple(dict.fromkeys((*chosen.formats, *(f for f in files.formats if f != "svg"))))
        drawn = lay_out_plans(
            done,
            chosen.units(units),
            findings=find_by_zone(done),
            stamp=provenance_of(done),
            north_deg=find_north(done.intake.model.file),
            layers=files.layers,
        )
        for plan in drawn:
            name = names.take("plan", plan.storey)
            for form in forms:
                write(f"{name}.{form}", plan.data(form))
    return written
