"""Failing findings as BCF topics, for coordination with everybody else's models."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path

from ifcgrid.ifc.identity import global_id
from ifcgrid.ifc.lineage import find_owners, read_facts
from ifcgrid.outputs.bcf import BcfChange, Version, make_topics, update_bcf
from ifcgrid.pipeline.flow import Build

__all__ = ["record_change", "write_issues"]


def write_issues(
    path: Path,
    done: Build,
    *,
    model: str,
    when: str,
    version: Version | None = None,
    kept: Collection[str] = (),
    owners: Mapping[str, str] | None = None,
) -> BcfChange:
    """Write what fails into a BCF file; a file that is there already is brought up to date.

    Args:
        path: the BCF file.
        done: ceilings and findings.
        model: name of the file that holds the ceilings, for the topics' headers.
        when: ISO 8601 time with zone.
        version: of a new file; None: that of the file, else 3.0.
        kept: causes that are still there but not among these findings.
        owners: what GlobalIds are made from, by room, where that is not the room's own; None:
            as the model says.

    Raises:
        OutputError: the file is no BCF file, or cannot be written.
    """
    project = done.intake.model.file.by_type("IfcProject")
    known = _owners(done) if owners is None else owners

    def guid_of(subject: str) -> str:
        """The GlobalId of a subject: an element's own, or the one that our part is written with."""
        zone, _, part = subject.partition("/")
        return global_id(known.get(zone, zone), part) if part else subject

    return update_bcf(
        path,
        make_topics(done.findings, done.ceilings, done.intake.obstacles, guid_of),
        when=when,
        model={"file": model, "project": project[0].GlobalId if project else ""},
        version=version,
        kept=kept,
    )


def _owners(done: Build) -> Mapping[str, str]:
    file = done.intake.model.file
    rooms = list({room.key: room for c in done.ceilings for room in c.zone.rooms}.values())
    return find_owners(rooms, read_facts(file), [space.GlobalId for space in file.by_type("IfcSpace")])


def record_change(change: BcfChange) -> dict[str, list[str]]:
    """What a run changed in a BCF file, for the record."""
    return {
        "new": list(change.new),
        "persisting": list(change.persisting),
        "resolved": list(change.resolved),
        "waived": list(change.waived),
    }
