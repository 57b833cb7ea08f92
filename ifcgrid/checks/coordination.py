"""Who is asked about a cause and how much it matters, from data; and the boxes in which bodies are."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

import numpy as np
import shapely

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.finding import Box, Finding, Severity, Verdict
from ifcgrid.domain.obstacle import DEVICES, SERVICES, Kind, Obstacle

__all__ = ["Coordination", "grade", "read_coordination"]

WAYS = ("level", "service", "device", "grid", "hanger", "brace")
"""What may move: the ceiling up or down, a service up, a device, the grid, hangers, brace sets."""

_BY_ELEMENT: Mapping[str, frozenset[Kind]] = {"device": DEVICES, "service": SERVICES}
"""Parties that are found among the elements that a finding names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Coordination:
    """Severity and yielding party by rule, trades by party and kind, kinds in the order they yield."""

    severities: Mapping[str, Severity]
    yields: Mapping[str, str]
    trades: Mapping[str, str]
    order: tuple[str, ...]
    ways: Mapping[str, tuple[str, ...]]

    def severity_of(self, finding: Finding) -> Severity:
        """How much a finding matters; what could not be judged is asked for, no more."""
        if finding.verdict is not Verdict.FAIL:
            return Severity.LOW
        return self.severities.get(finding.rule, Severity.NORMAL)

    def ways_of(self, rule: str) -> tuple[str, ...]:
        """Which ways out are worth trying for a rule: level, service, device, grid, hanger, brace."""
        return self.ways.get(rule, ())

    def trade_of(self, rule: str, kinds: Iterable[Kind]) -> str:
        """Who is asked first: the party that the rule names, of several kinds the one that yields first."""
        party = self.yields.get(rule, "ceiling")
        if party in _BY_ELEMENT:
            named = set(kinds)
            able = (named & _BY_ELEMENT[party]) or named
            ranked = [self.order.index(kind) for kind in able if kind in self.order]
            party = self.order[min(ranked)] if ranked else "ceiling"
        return self.trades[party]


@cache
def read_coordination() -> Coordination:
    """What `checks/data/coordination.toml` says.

    Raises:
        SystemDataError: a severity, party or kind in it does not exist.
    """
    text = (
        files(__name__.rpartition(".")[0]).joinpath("data", "coordination.toml").read_text(encoding="utf-8")
    )
    table = tomllib.loads(text)
    known = {kind.value for kind in Kind}
    if strange := sorted(set(table["order"]) - known):
        raise SystemDataError(f"coordination: order: no kind of obstacle is {strange[0]!r}")
    severities, yields, ways = {}, {}, {}
    for rule, row in table["rules"].items():
        if row["yields"] not in (*_BY_ELEMENT, *table["trades"]):
            raise SystemDataError(f"coordination: {rule}: no party or kind is {row['yields']!r}")
        yields[rule] = row["yields"]
        severities[rule] = Severity(row["severity"])
        ways[rule] = tuple(row.get("ways", ()))
        if strange := sorted(set(ways[rule]) - set(WAYS)):
            raise SystemDataError(f"coordination: {rule}: ways {strange[0]!r}; allowed: {', '.join(WAYS)}")
    return Coordination(
        severities=severities, yields=yields, trades=table["trades"], order=tuple(table["order"]), ways=ways
    )


def grade(
    findings: Sequence[Finding], ceiling: Ceiling, obstacles: Sequence[Obstacle]
) -> tuple[Finding, ...]:
    """Findings of one ceiling with severity, trade and the boxes in which the bodies are."""
    known: dict[str, list[Obstacle]] = {}
    for obstacle in obstacles:
        known.setdefault(obstacle.key, []).append(obstacle)
    told = read_coordination()
    graded = []
    for finding in findings:
        bodies = [o for subject in finding.subjects for o in known.get(subject, ())]
        graded.append(
            replace(
                finding,
                severity=told.severity_of(finding),
                trade=told.trade_of(finding.rule, (o.kind for o in bodies)),
                extents=tuple(_extents(ceiling, bodies)),
            )
        )
    return tuple(graded)


def _extents(ceiling: Ceiling, bodies: Sequence[Obstacle]) -> Iterator[tuple[str, Box]]:
    """The boxes of what of the bodies is over the zone, from the ceiling's underside to its hangers' tops."""
    tops = ceiling.hangers.top[np.isfinite(ceiling.hangers.top)]
    low, mains = ceiling.zone.level, ceiling.zone.level + ceiling.system.main.height
    high = max(float(tops.max(initial=mains)), mains)
    for body in bodies:
        bottom, top = max(body.bottom, low), min(body.top, high)
        area = shapely.intersection(shapely.envelope(body.outline), ceiling.zone.outline)
        x0, y0, x1, y1 = shapely.bounds(area).tolist()
        if bottom < top and x0 < x1 and y0 < y1:  # of an empty area the bounds are NaN
            yield body.key, (x0, y0, bottom, x1, y1, top)
