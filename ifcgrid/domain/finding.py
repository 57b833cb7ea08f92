"""What the judges say: one type for clashes and rule findings."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from ifcgrid.domain.waiver import Waiver
from ifcgrid.domain.way_out import WayOut

__all__ = ["Box", "Finding", "Severity", "Unchecked", "Verdict"]

Box = tuple[float, float, float, float, float, float]
"""Least x, y, z, then greatest x, y, z."""


class Verdict(StrEnum):
    """`unknown` means that the model lacks the data to judge."""

    PASS = "pass"
    FAIL = "fail"
    UNKNOWN = "unknown"


class Severity(StrEnum):
    """How much a cause matters for coordination; by rule, as `checks/data/coordination.toml` says."""

    HIGH = "high"
    NORMAL = "normal"
    LOW = "low"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One judgement on one cause.

    `rule` is our name of the rule; `source` and `clause` say where its number comes from;
    `subjects` are keys: GlobalIds of model elements and keys of our own parts
    (`ROOMKEY/main/2/0`). `value` and `limit` are in `unit`; `point` is the spot in model
    coordinates in mm; `room` the room's key. Findings of a rule set also name its `document`
    and `edition`, the `basis` of its number, the `margin` to the limit in `unit` (negative
    beyond it), and how many things were `measured`.

    What follows is added once all is found: `severity`; `trade`, who is asked first because
    it usually yields; `ways_out` that were tried, the best first; `waiver` where somebody
    accepted the cause; `extents`, by key of a named element the box (least x, y, z, greatest
    x, y, z) in model coordinates in mm of what of it is over the room and not above its hangers.
    """

    rule: str
    source: str
    clause: str
    verdict: Verdict
    room: str
    subjects: tuple[str, ...]
    message: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    point: tuple[float, float, float] | None = None
    document: str = ""
    edition: str = ""
    basis: str = ""
    title: str = ""
    margin: float | None = None
    measured: int = 0
    severity: Severity | None = None
    trade: str = ""
    ways_out: tuple[WayOut, ...] = ()
    waiver: Waiver | None = None
    extents: tuple[tuple[str, Box], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Unchecked:
    """A rule that was not applied in a room, and why."""

    rule: str
    title: str
    document: str
    edition: str
    clause: str
    room: str
    reason: str
