"""Errors of the library.

An exception means that the input or the program is wrong; a wrong *design* is a
`Finding`, never an exception. Every message names the thing, the value found and
what would be right.

    IfcGridError
    ├── UnitError(ValueError)     a length or size that cannot be read
    ├── RoomError(ValueError)     a room that cannot be used; carries the room's key
    ├── NoLayoutError             a room for which no layout exists; carries the room's key
    ├── PlanError(ValueError)     a plan file with a wrong entry; carries the line
    ├── SystemDataError(ValueError)   grid-system or policy data that is incomplete
    ├── ModelError                a file that is missing, is no IFC model, or lacks a unit
    └── OutputError(OSError)      a target that cannot be written
"""

from __future__ import annotations

__all__ = [
    "IfcGridError",
    "ModelError",
    "NoLayoutError",
    "OutputError",
    "PlanError",
    "RoomError",
    "SystemDataError",
    "UnitError",
]


class IfcGridError(Exception):
    """Root of all errors raised on purpose by ifcgrid."""


class UnitError(IfcGridError, ValueError):
    """A length or size that cannot be read."""


class RoomError(IfcGridError, ValueError):
    """A room that cannot be used; `key` names it."""

    def __init__(self, message: str, key: str = "") -> None:
        super().__init__(message)
        self.key = key


class NoLayoutError(IfcGridError):
    """A room for which no layout exists; `key` names it."""

    def __init__(self, message: str, key: str = "") -> None:
        super().__init__(message)
        self.key = key


class PlanError(IfcGridError, ValueError):
    """A plan file with a wrong entry; `line` is 1-based, 0 when unknown."""

    def __init__(self, message: str, line: int = 0) -> None:
        super().__init__(message)
        self.line = line


class SystemDataError(IfcGridError, ValueError):
    """Grid-system or policy data that is incomplete or contradicts itself; `entry` names the entry."""

    def __init__(self, message: str, entry: str = "") -> None:
        super().__init__(message)
        self.entry = entry


class ModelError(IfcGridError):
    """A file that is missing, is no IFC model, or lacks what every model needs."""


class OutputError(IfcGridError, OSError):
    """A target that cannot be written."""
