"""Writes ceilings into an open model, and models to disk whole or not at all."""

from __future__ import annotations

import io
import os
import re
import zipfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from os import PathLike, fspath
from pathlib import Path

import ifcopenshell

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.version import __version__
from ifcgrid.ifc.writing.compile import compile_ceilings
from ifcgrid.ifc.writing.context import read_context
from ifcgrid.ifc.writing.model_sink import write_rows
from ifcgrid.ifc.writing.remove import remove_ceilings, remove_elements

__all__ = ["SUFFIXES", "WriteReport", "check_name", "save_model", "write_ceilings"]

SUFFIXES = (".ifc", ".ifczip")
"""What names of written models end in, case ignored."""

_OUR_MARK = re.compile(r"(; )?ifcgrid - ifcgrid - [^;]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteReport:
    """What was written.

    `counts` by part (`covering`, `assembly`, `main_runner`, `cross_tee`, `second_tee`,
    `wall_angle`, `hanger`, `panel`, `opening`, `setout`, `type`, `filled`, `interference`);
    `adopted` and `replaced` are GlobalIds of the architect's ceilings; `removed` counts the
    elements of an earlier run.
    """

    counts: Mapping[str, int]
    adopted: tuple[str, ...]
    replaced: tuple[str, ...]
    removed: int


def write_ceilings(
    file: ifcopenshell.file,
    ceilings: Sequence[Ceiling],
    findings: Sequence[Finding] = (),
    *,
    detail: str = "grid",
    replace: bool = False,
    provenance: Mapping[str, str] | None = None,
) -> WriteReport:
    """Replaces what an earlier run wrote into an open model by these ceilings.

    Nothing else in the model is changed: every entity that is not ours keeps its id and its
    attributes. Only the header's preprocessor version gets our name. What we add has the
    ids after the greatest one of the model.

    Args:
        file: an open model.
        ceilings: one a zone; their rooms' keys are GlobalIds of spaces of this model.
        findings: failing clashes become relations where the schema has one.
        detail: `ceiling`, `grid` or `panels`; see `ifcgrid.ifc.writing.compile.DETAILS`.
        replace: remove the architect's ceilings of these rooms and write our own; without
            it they are adopted.
        provenance: texts for the provenance set, by property name. Names that begin with
            `Input` tell of the file that was read; see `ifcgrid.ifc.writing.provenance`.

    Raises:
        ModelError: a room's space is not in the model, or the model has no 3D context.
        ValueError: the detail is unknown.
    """
    removed = remove_ceilings(file)
    replaced = _replace_coverings(file, ceilings) if replace else ()
    compiled = compile_ceilings(
        read_context(file, ceilings, findings),
        ceilings,
        findings,
        detail,
        replace=replace,
        provenance=provenance,
        earlier=removed.provenance,
    )
    write_rows(file, compiled.rows)
    _sign(file)
    return WriteReport(
        counts=compiled.counts, adopted=compiled.adopted, replaced=replaced, removed=removed.elements
    )


def _replace_coverings(file: ifcopenshell.file, ceilings: Sequence[Ceiling]) -> tuple[str, ...]:
    own = [r.covering for c in ceilings for r in c.zone.rooms if r.covering is not None]
    keys = {key for covering in own for key in (covering.key, *covering.also)}
    found = {c.GlobalId: c for c in file.by_type("IfcCovering") if c.GlobalId in keys}
    remove_elements(file, [found[key] for key in sorted(found)])
    return tuple(sorted(found))


def _sign(file: ifcopenshell.file) -> None:
    """Adds our name to the header behind that of the program that wrote the model.

    The form `Company - Application - Version` is that of the buildingSMART validation
    service's header policy. The originating system stays the authoring tool.
    """
    header = file.header.file_name
    before = _OUR_MARK.sub("", header.preprocessor_version or "")
    ours = f"ifcgrid - ifcgrid - {__version__}"
    header.preprocessor_version = f"{before}; {ours}" if before else ours


def save_model(
    file: ifcopenshell.file,
    path: str | PathLike[str],
    *,
    timestamp: str,
    source: str | PathLike[str] = "",
    overwrite: bool = False,
) -> None:
    """Writes a model to a file, whole or not at all: STEP text, or one in an archive by `.ifczip`.

    Args:
        file: an open model.
        path: where to, ending in one of `SUFFIXES`; folders are made, an existing file is replaced.
        timestamp: ISO 8601 time for the header; the caller has the clock.
        source: the file that the model was read from.
        overwrite: allow `path` to be `source`.

    Raises:
        OutputError: the target cannot be written, ends in something else, or is the source
            without `overwrite`.
    """
    target = Path(fspath(path))
    check_name(target, source, overwrite=overwrite)
    file.header.file_name.time_stamp = timestamp
    content = file.to_string().encode("utf-8")
    if target.suffix.lower() == ".ifczip":
        content = _zipped(content, f"{target.stem}.ifc")
    try:
        _replace(target, content)
    except OSError as error:
        raise OutputError(f"{target} cannot be written: {error.strerror or error}") from error


def check_name(
    path: str | PathLike[str], source: str | PathLike[str] = "", *, overwrite: bool = False
) -> None:
    """Whether a model may be written under this name.

    Raises:
        OutputError: its suffix stands for another format, or it is the source without `overwrite`.
    """
    target = Path(fspath(path))
    if target.suffix.lower() not in SUFFIXES:
        raise OutputError(f"{target} does not end in {' or '.join(SUFFIXES)}, which is what can be written")
    if fspath(source) and not overwrite and _is_same(target, Path(fspath(source))):
        raise OutputError(f"{target} is the model that was read; give another name or allow overwriting")


def _zipped(content: bytes, name: str) -> bytes:
    """An archive of one file that depends on nothing but the file: without the clock."""
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as stream:
        info = zipfile.ZipInfo(name)
        info.compress_type = zipfile.ZIP_DEFLATED
        stream.writestr(info, content)
    return archive.getvalue()


def _is_same(one: Path, two: Path) -> bool:
    try:
        return one.samefile(two)
    except OSError:
        return one.absolute() == two.absolute()


def _replace(target: Path, content: bytes) -> None:
    if target.is_dir():
        raise IsADirectoryError(21, "it is a folder")
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with part.open("wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(target)
    finally:
        with suppress(OSError):
            part.unlink()
