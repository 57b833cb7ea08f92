"""Sheets of a floor: one set-out sheet a ceiling, one plan a storey, each in its file."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import DEVICES, Obstacle
from ifcgrid.domain.room import Zone
from ifcgrid.domain.version import __version__
from ifcgrid.ifc.project import ModelFile
from ifcgrid.ifc.reading.north import find_north
from ifcgrid.outputs.files import make_folder, write_text
from ifcgrid.outputs.plan import OmittedRoom, draw_storey
from ifcgrid.outputs.setout import draw_setout
from ifcgrid.pipeline.flow import Build, Nearby

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


def write_sheets(folder: Path, done: Build, units: str, only: Sequence[str] | None = None) -> list[str]:
    """One set-out sheet a ceiling, one plan a storey; returns their paths."""
    make_folder(folder)
    north = find_north(done.intake.model.file)
    nearby, findings = Nearby(done.intake.obstacles), _by_zone(done)
    names: dict[str, int] = {}
    written: list[str] = []

    def write(words: Sequence[str], text: str) -> None:
        name = _file_name(*words)
        # Where upper and lower case are one file, A1 must not write over a1.
        count = names[name.casefold()] = names.get(name.casefold(), 0) + 1
        target = folder / (f"{name}.svg" if count == 1 else f"{name}-{count}.svg")
        write_text(target, text)
        written.append(str(target))

    for ceiling in done.ceilings:
        room = ceiling.zone.rooms[0]
        if only is not None and not {r.number for r in ceiling.zone.rooms} & set(only):
            continue
        near = [o for o in nearby.find(ceiling.zone) if o.kind in DEVICES or _is_beside(o, ceiling.zone)]
        text = draw_setout(
            ceiling,
            units=units,
            stamp=_stamp(done, ceiling),
            findings=findings.get(ceiling.key, ()),
            obstacles=near,
            north_deg=north,
        )
        write(["setout", room.storey, "+".join(sorted(r.number or r.name for r in ceiling.zone.rooms))], text)
    if only is None:
        storeys: dict[str, list[Ceiling]] = {}
        for ceiling in done.ceilings:
            storeys.setdefault(ceiling.zone.rooms[0].storey_key, []).append(ceiling)
        for ceilings in storeys.values():  # two buildings may each have a "Level 1"
            words = ["plan", ceilings[0].zone.rooms[0].storey]
            write(words, _draw_plan(ceilings, done, findings, north, units))
    return written


def _is_beside(obstacle: Obstacle, zone: Zone) -> bool:
    """Whether an obstacle stands in the room's storey: from the floor up to above the ceiling."""
    return obstacle.bottom < zone.level and obstacle.top > min(room.floor for room in zone.rooms)


def _by_zone(done: Build) -> dict[str, list[Finding]]:
    zone_of: dict[str, str] = {}
    for ceiling in done.ceilings:
        for room in ceiling.zone.rooms:
            zone_of.setdefault(room.key, ceiling.key)  # a soffit of the room comes after it
    found: dict[str, list[Finding]] = {}
    for finding in done.findings:
        found.setdefault(zone_of.get(finding.room, finding.room), []).append(finding)
    return found


def _draw_plan(
    ceilings: Sequence[Ceiling],
    done: Build,
    findings: Mapping[str, list[Finding]],
    north: float | None,
    units: str,
) -> str:
    """The plan of a storey's ceilings."""
    storey = ceilings[0].zone.rooms[0].storey
    nearby = Nearby(done.intake.obstacles)
    around = {
        (o.source, o.key): o
        for c in ceilings
        for o in nearby.find(c.zone)
        if _is_beside(o, c.zone) or o.kind in DEVICES
    }
    low = min(min(r.floor for r in c.zone.rooms) for c in ceilings)
    high = max(c.zone.level for c in ceilings)
    return draw_storey(
        storey,
        ceilings,
        [
            OmittedRoom(number=s.number, name=s.name, reason=s.reason, outline=None)
            for s in done.skipped
            if s.storey == storey
        ],
        obstacles=[o for _, o in sorted(around.items()) if low < o.top and o.bottom < high + HANG],
        findings=[f for c in ceilings for f in findings.get(c.key, ())],
        stamp=_stamp(done, None),
        units=units,
        north_deg=north,
    )


HANG = 300.0
"""Devices whose lowest point is at most this far above the highest ceiling, in mm, are drawn in its plan."""
