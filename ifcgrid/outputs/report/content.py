"""What a floor report is made of: rooms as cards, each with its ceilings, findings and standing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

import shapely
from shapely import MultiPolygon, Polygon

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Unchecked, Verdict
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.quantity import TakeOff
from ifcgrid.domain.room import Room, SkippedRoom

__all__ = ["Card", "FloorReport", "Numbered", "Standing", "Storey", "gather_storeys"]


class Standing(StrEnum):
    """How a room stands; no word says that a ceiling is in order."""

    FAIL = "fail"
    UNKNOWN = "unknown"
    CLEAR = "clear"
    BARE = "bare"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FloorReport:
    """All that a floor report tells.

    `title` names the model; `stamp` says where all this comes from; `origin` is a sentence
    on whether the ceilings stand in the model or are proposed. `shapes` holds plan outlines
    of rooms without a ceiling, `sheets` set-out sheets (SVG) by ceiling key, `documents`
    the rule files that were judged by (document, edition, title), `remarks` by ceiling key
    what is to be said of how it was explained. `model_link` is the relative address of a
    3D model beside the report, "" when there is none. `north_deg` is counter-clockwise
    from the model's X axis.
    """

    title: str
    stamp: Mapping[str, str]
    origin: str
    ceilings: Sequence[Ceiling]
    skipped: Sequence[SkippedRoom] = ()
    findings: Sequence[Finding] = ()
    unchecked: Sequence[Unchecked] = ()
    obstacles: Sequence[Obstacle] = ()
    shapes: Mapping[str, Polygon | MultiPolygon] = field(default_factory=dict)
    sheets: Mapping[str, str] = field(default_factory=dict)
    documents: Sequence[Mapping[str, Any]] = ()
    remarks: Mapping[str, str] = field(default_factory=dict)
    take_off: TakeOff | None = None
    units: str = "mm"
    north_deg: float | None = None
    model_link: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Numbered:
    """A finding that fails or is not known, with the number that it bears everywhere in the report."""

    number: int
    finding: Finding


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Card:
    """One room. `parts` are its ceilings with its place in their zones, its soffits' after its own.

    `room` is None where there is no ceiling; then `reason` says why. `place` counts the
    cards of the whole report from 0.
    """

    place: int
    key: str
    number: str
    name: str
    storey: int
    reason: str = ""
    has_failed: bool = False
    room: Room | None = None
    shape: Polygon | MultiPolygon | None = None
    parts: tuple[tuple[Ceiling, int], ...] = ()
    findings: tuple[Numbered, ...] = ()
    passes: tuple[Finding, ...] = ()
    unchecked: tuple[Unchecked, ...] = ()

    @property
    def title(self) -> str:
        """Number and name; the key where it has neither."""
        return " ".join(filter(None, (self.number, self.name))) or self.key

    @property
    def standing(self) -> Standing:
        """The worst that was found."""
        if not self.parts:
            return Standing.BARE
        if self.count(Verdict.FAIL):
            return Standing.FAIL
        return Standing.UNKNOWN if self.count(Verdict.UNKNOWN) else Standing.CLEAR

    def count(self, verdict: Verdict) -> int:
        """How many of its findings have a verdict, without those that somebody accepted."""
        return sum(n.finding.verdict is verdict and n.finding.waiver is None for n in self.findings)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Storey:
    """One storey with its cards in order of their numbers; `place` counts storeys from 0."""

    place: int
    name: str
    cards: tuple[Card, ...]


@dataclass(slots=True, kw_only=True, eq=False)
class _Draft:
    """A room while its ceilings are being gathered."""

    key: str
    number: str
    name: str
    room: Room | None = None
    reason: str = ""
    has_failed: bool = False
    parts: list[tuple[Ceiling, int]] = field(default_factory=list)


def _natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A sort key in which 2 comes before 10."""
    runs: list[str] = []
    for character in text:
        if runs and runs[-1][-1].isdecimal() == character.isdecimal():
            runs[-1] += character
        else:
            runs.append(character)
    return tuple((0, int(run), "") if run.isdecimal() else (1, 0, run) for run in runs)


def _drafts(report: FloorReport) -> dict[tuple[str, str], dict[str, _Draft]]:
    """Rooms by storey (key and name), in the order in which storeys first occur."""
    storeys: dict[tuple[str, str], dict[str, _Draft]] = {}
    for ceiling in report.ceilings:
        for index, room in enumerate(ceiling.zone.rooms):
            drafts = storeys.setdefault((room.storey_key, room.storey), {})
            if room.key not in drafts:
                drafts[room.key] = _Draft(key=room.key, number=room.number, name=room.name, room=room)
            drafts[room.key].parts.append((ceiling, index))
    for skipped in report.skipped:
        # A room without a ceiling knows its storey by name alone.
        home = next((home for home in storeys if home[1] == skipped.storey), ("", skipped.storey))
        drafts = storeys.setdefault(home, {})
        key = skipped.key if skipped.key not in drafts else f"{skipped.key} again {len(drafts)}"
        drafts[key] = _Draft(
            key=key,
            number=skipped.number,
            name=skipped.name,
            reason=skipped.reason,
            has_failed=skipped.status == "failed",
        )
    return storeys


_LEAST_FREE = 0.5


def _free(shape: Polygon | MultiPolygon | None, covered: shapely.Geometry) -> Polygon | MultiPolygon | None:
    """The outline of a room without a ceiling; None where most of it lies on rooms that have one."""
    if shape is None or shape.difference(covered).area < _LEAST_FREE * shape.area:
        return None
    return shape


def gather_storeys(report: FloorReport) -> tuple[Storey, ...]:
    """The report's rooms by storey, with their findings numbered in the order in which rooms stand."""
    home = {c.key: room.key for c in report.ceilings for room in c.zone.rooms[:1]}
    home |= {room.key: room.key for c in report.ceilings for room in c.zone.rooms}
    findings: dict[str, list[Finding]] = {}
    for finding in report.findings:
        findings.setdefault(home.get(finding.room, finding.room), []).append(finding)
    unchecked: dict[str, list[Unchecked]] = {}
    for rest in report.unchecked:
        unchecked.setdefault(home.get(rest.room, rest.room), []).append(rest)
    storeys: list[Storey] = []
    place, number = 0, 0
    for (_, name), drafts in _drafts(report).items():
        cards: list[Card] = []
        covered = shapely.union_all([d.room.outline for d in drafts.values() if d.room])
        for draft in sorted(drafts.values(), key=lambda d: (_natural(d.number), _natural(d.name), d.key)):
            own = findings.get(draft.key, [])
            told = [f for f in own if f.verdict is Verdict.FAIL]
            told += [f for f in own if f.verdict is Verdict.UNKNOWN]
            cards.append(
                Card(
                    place=place,
                    key=draft.key,
                    number=draft.number,
                    name=draft.name,
                    storey=len(storeys),
                    reason=draft.reason,
                    has_failed=draft.has_failed,
                    room=draft.room,
                    shape=draft.room.outline if draft.room else _free(report.shapes.get(draft.key), covered),
                    parts=tuple(draft.parts),
                    findings=tuple(
                        Numbered(number=number + k, finding=f) for k, f in enumerate(told, start=1)
                    ),
                    passes=tuple(f for f in own if f.verdict is Verdict.PASS),
                    unchecked=tuple(unchecked.get(draft.key, ())),
                )
            )
            place, number = place + 1, number + len(told)
        storeys.append(Storey(place=len(storeys), name=name, cards=tuple(cards)))
    return tuple(storeys)
