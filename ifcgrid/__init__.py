"""ifcgrid: suspended lay-in ceilings, from the building model and back into it.

Importing this is cheap; what a name needs is imported when the name is first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from ifcgrid.domain.version import __version__

if TYPE_CHECKING:
    from ifcgrid.checks.clash import find_clashes
    from ifcgrid.design.layout import solve_layout
    from ifcgrid.domain.ceiling import Ceiling
    from ifcgrid.domain.edit import Edit
    from ifcgrid.domain.errors import IfcGridError
    from ifcgrid.domain.finding import Finding
    from ifcgrid.domain.plan import Plan
    from ifcgrid.domain.room import Room
    from ifcgrid.ifc.edits import find_edits
    from ifcgrid.ifc.project import open_model
    from ifcgrid.ifc.reading.rooms import read_rooms
    from ifcgrid.ifc.writing.remove import remove_ceilings
    from ifcgrid.ifc.writing.save import save_model
    from ifcgrid.ifc.writing.write import write_ceilings
    from ifcgrid.outputs.setout import draw_setout
    from ifcgrid.pipeline import (
        build,
        ceilings_in,
        check,
        coordinate,
        read_back,
        read_plan_file,
        study_plenum,
        take_off,
    )
    from ifcgrid.policies import read_policy
    from ifcgrid.systems import read_system

_HOMES = {
    "Ceiling": "ifcgrid.domain.ceiling",
    "Edit": "ifcgrid.domain.edit",
    "Finding": "ifcgrid.domain.finding",
    "IfcGridError": "ifcgrid.domain.errors",
    "Plan": "ifcgrid.domain.plan",
    "Room": "ifcgrid.domain.room",
    "build": "ifcgrid.pipeline",
    "ceilings_in": "ifcgrid.pipeline",
    "check": "ifcgrid.pipeline",
    "coordinate": "ifcgrid.pipeline",
    "draw_setout": "ifcgrid.outputs.setout",
    "find_clashes": "ifcgrid.checks.clash",
    "find_edits": "ifcgrid.ifc.edits",
    "open_model": "ifcgrid.ifc.project",
    "read_back": "ifcgrid.pipeline",
    "read_plan_file": "ifcgrid.pipeline",
    "read_policy": "ifcgrid.policies",
    "read_rooms": "ifcgrid.ifc.reading.rooms",
    "read_system": "ifcgrid.systems",
    "remove_ceilings": "ifcgrid.ifc.writing.remove",
    "save_model": "ifcgrid.ifc.writing.save",
    "solve_layout": "ifcgrid.design.layout",
    "study_plenum": "ifcgrid.pipeline",
    "take_off": "ifcgrid.pipeline",
    "write_ceilings": "ifcgrid.ifc.writing.write",
}

__all__ = [
    "Ceiling",
    "Edit",
    "Finding",
    "IfcGridError",
    "Plan",
    "Room",
    "__version__",
    "build",
    "ceilings_in",
    "check",
    "coordinate",
    "draw_setout",
    "find_clashes",
    "find_edits",
    "open_model",
    "read_back",
    "read_plan_file",
    "read_policy",
    "read_rooms",
    "read_system",
    "remove_ceilings",
    "save_model",
    "solve_layout",
    "study_plenum",
    "take_off",
    "write_ceilings",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
