"""Models reach the disk whole or not at all."""

from __future__ import annotations

import os
import zipfile
from collections.abc import Iterable
from contextlib import suppress
from os import PathLike, fspath
from pathlib import Path
from typing import BinaryIO

import ifcopenshell

from ifcgrid.domain.errors import OutputError

__all__ = ["SUFFIXES", "check_name", "save_model", "save_pieces"]

SUFFIXES = (".ifc", ".ifczip")
"""What names of written models end in, case ignored."""


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
    save_pieces([file.to_string().encode("utf-8")], target)


def save_pieces(pieces: Iterable[bytes | memoryview], path: str | PathLike[str]) -> None:
    """Writes the text of a model to a file, or by `.ifczip` to an archive that depends on nothing else.

    Raises:
        OutputError: the target cannot be written; nothing is left behind.
    """
    target = Path(fspath(path))
    try:
        _replace(target, pieces)
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


def _is_same(one: Path, two: Path) -> bool:
    try:
        return one.samefile(two)
    except OSError:
        return one.absolute() == two.absolute()


def _replace(target: Path, pieces: Iterable[bytes | memoryview]) -> None:
    if target.is_dir():
        raise IsADirectoryError(21, "it is a folder")
    target.parent.mkdir(parents=True, exist_ok=True)
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with part.open("wb") as stream:
            if target.suffix.lower() == ".ifczip":
                _zip(pieces, stream, f"{target.stem}.ifc")
            else:
                stream.writelines(pieces)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(target)
    finally:
        with suppress(OSError):
            part.unlink()


def _zip(pieces: Iterable[bytes | memoryview], stream: BinaryIO, name: str) -> None:
    """An archive of one file, without the clock: equal texts give equal archives."""
    info = zipfile.ZipInfo(name)
    info.compress_type = zipfile.ZIP_DEFLATED
    with zipfile.ZipFile(stream, "w") as archive, archive.open(info, "w", force_zip64=True) as inside:
        inside.writelines(pieces)
