"""Generic grid systems as data: one TOML file each, no manufacturers."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files

from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.system import GridSystem, system_from_table

__all__ = ["list_systems", "read_system"]


@cache
def list_systems() -> tuple[str, ...]:
    """The ids of the systems that come with the library, sorted."""
    return tuple(
        sorted(f.name.removesuffix(".toml") for f in files(__name__).iterdir() if f.name.endswith(".toml"))
    )


@cache
def read_system(system_id: str) -> GridSystem:
    """The grid system of that id.

    Raises:
        SystemDataError: there is no such system; the message lists those there are.
    """
    if system_id not in list_systems():
        raise SystemDataError(f"no grid system {system_id!r}; choose one of {', '.join(list_systems())}")
    text = files(__name__).joinpath(f"{system_id}.toml").read_text(encoding="utf-8")
    return system_from_table(tomllib.loads(text))
