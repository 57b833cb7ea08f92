"""What a finding says for coordination, as JSON: cause, severity, trade, ways out, waiver."""

from __future__ import annotations

from typing import Any

from ifcgrid.domain.cause import cause_of
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.way_out import Change, Step, WayOut

__all__ = ["record_coordination"]


def _round(value: float, digits: int = 3) -> float:
    return round(float(value), digits) + 0.0  # turns -0.0 into 0.0


def record_coordination(finding: Finding) -> dict[str, Any]:
    """The fields that are there once findings were graded; `waiver` only where there is one."""
    if finding.severity is None:
        return {}
    waiver = finding.waiver
    record: dict[str, Any] = {
        "cause": cause_of(finding),
        "severity": finding.severity.value,
        "trade": finding.trade,
        "ways_out": [_way(way) for way in finding.ways_out],
    }
    if waiver is not None:
        record["waiver"] = {
            "reason": waiver.reason,
            "by": waiver.by,
            "until": waiver.until.isoformat() if waiver.until else None,
            "where": waiver.where,
        }
    return record


def _way(way: WayOut) -> dict[str, Any]:
    return {
        "kind": way.kind.value,
        "text": way.text,
        "trade": way.who,
        "amount_mm": _round(way.amount),
        "is_clear": way.is_clear,
        "brings": list(way.brings),
        "steps": [_step(step) for step in way.steps],
        "changes": [_change(change) for change in way.changes],
        "limits": list(way.limits),
    }


def _step(step: Step) -> dict[str, Any]:
    return {
        "key": step.key,
        "vector_mm": [_round(x) for x in step.vector],
        "turn_deg": _round(step.turn_deg, 6),
    }


def _change(change: Change) -> dict[str, Any]:
    return {
        "what": change.what,
        "before": _round(change.before),
        "after": _round(change.after),
        "unit": change.unit,
    }
