"""From a build to its file, with what was changed by hand kept and judged where that is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from ifcgrid.domain.plan import Plan
from ifcgrid.domain.version import __version__
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.writing.write import FileReport, write_file
from ifcgrid.pipeline.flow import Build
from ifcgrid.pipeline.judging import judge, judge_by_rules
from ifcgrid.pipeline.written import read_back

__all__ = ["provenance_of", "write_build"]


def provenance_of(done: Build) -> Mapping[str, str]:
    """What is written of the library and of the files that were read."""
    model, others = done.intake.model, done.intake.others
    return {
        "Library": f"ifcgrid {__version__}",
        "InputFile": Path(model.path).name,
        "InputSha256": model.sha256,
        "InputFurtherFiles": "; ".join(f"{Path(o.path).name} {o.sha256}" for o in others),
    }


def write_build(
    done: Build,
    plan: Plan,
    output: str | Path,
    *,
    timestamp: str,
    detail: str = "grid",
    replace_theirs: bool = False,
    keep_edits: bool = False,
    earlier: str | Path | None = None,
    overwrite: bool = False,
    sink: str = "auto",
) -> tuple[Build, FileReport]:
    """Writes a build into a copy of its model; gives the build as it then stands in the file.

    Where elements that were changed by hand are kept, their ceilings are read back from the
    file and judged as they are; what then clashes is written, too. `earlier` is a file that
    an earlier run wrote, whose GlobalIds live on.

    Raises:
        ModelError, OutputError: as `ifcgrid.ifc.writing.write.write_file`.
    """
    before = None if earlier is None else open_model(earlier)

    def write(found: Build, sink: str) -> FileReport:
        return write_file(
            found.intake.model,
            done.ceilings,
            found.findings,
            output,
            timestamp=timestamp,
            detail=detail,
            replace=replace_theirs,
            provenance=provenance_of(found),
            keep_edits=keep_edits,
            earlier=None if before is None else before.file,
            overwrite=overwrite,
            sink=sink,
        )

    # The model that was read is needed once more for kept edits, and may be overwritten.
    source = open_model(done.intake.model.path) if keep_edits else done.intake.model
    report = write(done, sink)
    zones = {edit.zone for edit in report.written.edits if edit.is_kept and edit.zone}
    if not zones or detail == "ceiling":
        return done, report
    found = _with_kept(done, plan, output, zones)
    if found.findings != done.findings:
        intake = replace(found.intake, model=source)
        report = write(replace(found, intake=intake), "model")
    return found, report


def _with_kept(done: Build, plan: Plan, output: str | Path, zones: set[str]) -> Build:
    """The build with the ceilings of these zones as they stand in the file."""
    back = read_back(open_model(output), done.intake.others)
    as_kept = {c.key: c for c in back.ceilings if c.key in zones}
    ceilings = tuple(as_kept.get(c.key, c) for c in done.ceilings)
    obstacles, judging = done.intake.obstacles, plan.judging
    ruled, unchecked = judge_by_rules(ceilings, obstacles, judging) if judging.sets else ((), ())
    findings = judge(ceilings, obstacles, judging.clash) + ruled
    return replace(done, ceilings=ceilings, findings=findings, unchecked=unchecked)
