"""Files that appear whole or not at all."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from ifcgrid.domain.errors import OutputError

__all__ = ["make_folder", "write_bytes", "write_text"]


def _refuse(path: Path, error: OSError) -> OutputError:
    return OutputError(f"{path} cannot be written: {error.strerror or error}")


def make_folder(path: Path) -> None:
    """Make a folder with its parents; it may exist.

    Raises:
        OutputError: it cannot be made, or a file of that name is in its place.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _refuse(path, error) from error


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text beside the target, then put it in its place in one step; makes its folder.

    Raises:
        OutputError: the target cannot be written; nothing is left behind.
    """
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes) -> None:
    """Write bytes beside the target, then put them in its place in one step; makes its folder.

    Raises:
        OutputError: the target cannot be written; nothing is left behind.
    """
    draft = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        draft.write_bytes(data)
        draft.replace(path)
    except OSError as error:
        with suppress(OSError):
            draft.unlink(missing_ok=True)
        raise _refuse(path, error) from error
