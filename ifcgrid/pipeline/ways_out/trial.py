"""A changed ceiling, built and judged again: whether a cause is gone, and what else then fails."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from ifcgrid.domain.cause import others_of
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import IfcGridError
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.layout import Layout
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.policy import DEFAULT_POLICY, Policy
from ifcgrid.domain.room import Zone
from ifcgrid.policies import read_policy

__all__ = ["Hang", "Judge", "Outcome", "Trial"]

Hang = Callable[[Ceiling, Zone, Layout, Sequence[Obstacle]], Ceiling]
"""Builds a ceiling again in a zone, on a layout, among obstacles."""

Judge = Callable[[Ceiling, Sequence[Obstacle]], Sequence[Finding]]
"""Judges a ceiling among obstacles."""

_WORSE = 1.0
"""A cause that was there counts as made worse when its measure leaves the limit by so much more."""


_SHRINKING = frozenset({"brace-near-service"})
"""Rules whose measure is a distance that is too small: it does not grow with what is missing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of a change: whether the cause is gone or what is left of it, and what it brings."""

    is_gone: bool
    left: float | None
    brings: tuple[str, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """One ceiling with what is near it and what fails in it now."""

    ceiling: Ceiling
    near: tuple[Obstacle, ...]
    findings: tuple[Finding, ...]
    hang: Hang
    judge: Judge

    @property
    def policy(self) -> Policy:
        """The policy that the ceiling is measured by."""
        return self.ceiling.policy or read_policy(DEFAULT_POLICY)

    def named(self, finding: Finding) -> list[Obstacle]:
        """The obstacles that a finding names, by key."""
        keys = set(finding.subjects)
        return sorted((o for o in self.near if o.key in keys), key=lambda o: (o.key, o.source))

    def try_out(
        self,
        finding: Finding,
        *,
        zone: Zone | None = None,
        layout: Layout | None = None,
        near: Sequence[Obstacle] | None = None,
    ) -> Outcome | None:
        """What comes of another level, grid or place of obstacles; None where no ceiling can be built so."""
        among = self.near if near is None else near
        try:
            made = self.hang(self.ceiling, zone or self.ceiling.zone, layout or self.ceiling.layout, among)
        except (IfcGridError, ValueError):
            return None
        return self.outcome(finding, made, among)

    def brought(self, near: Sequence[Obstacle]) -> tuple[str, ...]:
        """What fails in this ceiling, hung again among obstacles that have moved, and did not before."""
        try:
            made = self.hang(self.ceiling, self.ceiling.zone, self.ceiling.layout, near)
        except (IfcGridError, ValueError):
            return (f"no ceiling can be built in {self.ceiling.zone.rooms[0].number} then",)
        after = [f for f in self.judge(made, near) if f.verdict is Verdict.FAIL]
        return tuple(_told_new(self.findings, after))

    def outcome(self, finding: Finding, made: Ceiling, near: Sequence[Obstacle]) -> Outcome:
        """What the judge says of a changed ceiling."""
        after = [f for f in self.judge(made, near) if f.verdict is Verdict.FAIL]
        left = [f for f in after if _is_same(f, finding)]
        measure = max((f.value for f in left if f.value is not None), default=None)
        return Outcome(
            is_gone=not left,
            left=measure,
            brings=tuple(_told_new(self.findings, [f for f in after if f not in left])),
            findings=tuple(after),
        )


def _is_same(one: Finding, other: Finding) -> bool:
    """Whether two findings of two trials have one cause."""
    if one.rule != other.rule:
        return False
    mine, theirs = others_of(one), others_of(other)
    return bool(mine & theirs) if mine and theirs else not mine and not theirs


def _pairs(finding: Finding) -> set[tuple[str, str]]:
    return {(finding.rule, key) for key in others_of(finding) or {finding.room}}


def _excess(finding: Finding) -> float:
    """What a finding lacks: nearly all measures grow with it."""
    return 0.0 if finding.value is None or finding.rule in _SHRINKING else finding.value


def _told_new(before: Iterable[Finding], after: Iterable[Finding]) -> Iterable[str]:
    """What fails after and did not before, or fails worse, in the judge's words."""
    known: dict[tuple[str, str], float] = {}
    for finding in before:
        if finding.verdict is Verdict.FAIL:
            for pair in _pairs(finding):
                known[pair] = max(_excess(finding), known.get(pair, 0.0))
    for finding in after:
        pairs = _pairs(finding)
        worst = max((known[pair] for pair in pairs if pair in known), default=0.0)
        if pairs - set(known) or _excess(finding) > worst + _WORSE:
            yield finding.message
