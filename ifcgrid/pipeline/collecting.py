"""Memory without pauses: one long job whose data stays until its end."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager

__all__ = ["without_collection"]


@contextmanager
def without_collection() -> Iterator[None]:
    """Puts off the search for unreachable cycles while a file is built.

    A build makes millions of small objects that all live until the file is written; the
    search goes over them again and again and finds nothing, for a quarter of the time. Only
    for programs that own their process: a host's own settings are not ours to change.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
