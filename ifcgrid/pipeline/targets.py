"""Looks at what is to be written before the long work starts; nothing is left behind."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from ifcgrid.domain.errors import OutputError

__all__ = ["check_targets"]


def check_targets(
    files: Iterable[str | Path | None],
    folders: Iterable[str | Path | None] = (),
    inputs: Iterable[str | Path | None] = (),
) -> None:
    """Whether files and folders can be written that may not exist yet, nor may their folders.

    Args:
        files: what will be written; None entries count as not wanted, as everywhere here.
        folders: where further files will be written.
        inputs: files that are read and must not be written over.

    Raises:
        OutputError: a target is of the wrong kind, cannot be written, is named twice or is
            an input.
    """
    read = [Path(path) for path in inputs if path is not None]
    seen: list[Path] = []
    for target in (Path(path) for path in files if path is not None):
        if any(_is_same(target, other) for other in read):
            raise OutputError(f"{target} is a file that is read; give another name for what is written")
        if any(_is_same(target, other) for other in seen):
            raise OutputError(f"{target} is to be written twice; give two names")
        if target.is_dir():
            raise OutputError(f"{target} cannot be written: it is a folder; give a file name")
        if target.exists() and not os.access(target, os.W_OK):
            raise OutputError(f"{target} cannot be written: it is read-only")
        seen.append(target)
        _try_folder(target.parent, target)
    for folder in (Path(path) for path in folders if path is not None):
        _try_folder(folder, folder)


def _is_same(one: Path, two: Path) -> bool:
    try:
        return one.samefile(two)
    except OSError:
        return one.absolute() == two.absolute()


def _try_folder(folder: Path, target: Path) -> None:
    """Makes a nameless file in the folder, or in the nearest of its parents that exists."""
    place = folder.absolute()
    while not place.exists() and place != place.parent:
        place = place.parent
    if not place.is_dir():
        raise OutputError(f"{target} cannot be written: {place} is a file, not a folder")
    try:
        with tempfile.TemporaryFile(dir=place):
            pass
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(f"{target} cannot be written: {reason} in {place}") from error
