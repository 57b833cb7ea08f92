"""What somebody changed by hand in a ceiling that ifcgrid wrote."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Change", "Edit"]


class Change(StrEnum):
    """In which way an element is no longer what was written."""

    MOVED = "moved"
    RENAMED = "renamed"
    RESHAPED = "reshaped"
    PROPERTIES = "properties changed"
    RETYPED = "type changed"
    ASSIGNED = "material or classification changed"
    REGROUPED = "regrouped"
    DELETED = "deleted"
    ADDED = "added"


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """One element that was changed.

    `zone` is the key of its ceiling ("" for a type, which all ceilings share), `part` its tag
    or what it is, `key` its GlobalId; `changes` in the order of `Change`. `is_kept` tells
    that the run left it so.
    """

    zone: str
    part: str
    key: str
    changes: tuple[Change, ...]
    is_kept: bool = False
