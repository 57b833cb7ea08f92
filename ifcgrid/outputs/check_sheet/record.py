"""The record of a check, as `--json` writes it: one row a room and rule."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Unchecked, Verdict
from ifcgrid.domain.load_path import Loads
from ifcgrid.domain.loads import GRAVITY
from ifcgrid.outputs.cautions import CAUTIONS
from ifcgrid.outputs.record import record_finding

__all__ = ["CheckedRoom", "record_check"]

NOT_CHECKED = "not checked"
_WORST_FIRST = (Verdict.FAIL, Verdict.UNKNOWN, Verdict.PASS)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedRoom:
    """One ceiling with its loads; a ceiling over several rooms has them all."""

    ceiling: Ceiling
    loads: Loads


def _rounded(value: float, digits: int) -> float | None:
    return round(float(value), digits) + 0.0 if math.isfinite(value) else None


def _load_record(ceiling: Ceiling, loads: Loads) -> dict[str, Any]:
    area = ceiling.zone.outline.area / 1000**2
    forces = loads.force_n
    return {
        "weight_kg": _rounded(loads.weight_n / GRAVITY, 2),
        "weight_kg_per_m2": _rounded(loads.weight_n / GRAVITY / area, 3),
        "parts_kg": {name: _rounded(force / GRAVITY, 2) for name, force in loads.parts_n.items()},
        "greatest_hanger_n": _rounded(float(forces.max(initial=0.0)), 1),
        "unhung_n": _rounded(loads.unhung_n, 3),
    }


def _rooms(checked: Iterable[CheckedRoom]) -> list[dict[str, Any]]:
    return [
        {
            "key": room.key,
            "number": room.number,
            "name": room.name,
            "storey": room.storey,
            "status": "laid-out",
            "zone": c.ceiling.key,
            "system": c.ceiling.system.id,
            "area_m2": _rounded(room.outline.area / 1000**2, 6),
            "loads": _load_record(c.ceiling, c.loads),
            "assumed": list(c.loads.assumed),
        }
        for c in checked
        for room in c.ceiling.zone.rooms
    ]


def _row(findings: Sequence[Finding]) -> dict[str, Any]:
    """One row of a room and rule: the worst verdict, with how many things have which."""
    worst = min(findings, key=lambda f: _WORST_FIRST.index(f.verdict))
    counts = {verdict.value: 0 for verdict in _WORST_FIRST}
    for finding in findings:
        counts[finding.verdict.value] += finding.measured
    record = record_finding(worst)
    return {
        name: record[name]
        for name in (
            *("room", "document", "edition", "rule", "title", "clause", "verdict"),
            *("value", "limit", "margin", "unit", "basis", "source", "message", "subjects"),
        )
    } | {"counts": counts}


def _rows(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    groups: dict[tuple[str, str, str, str], list[Finding]] = {}
    for finding in findings:
        key = (finding.room, finding.document, finding.edition, finding.rule)
        groups.setdefault(key, []).append(finding)
    return [_row(group) for group in groups.values()]


def _unchecked(rest: Iterable[Unchecked]) -> list[dict[str, Any]]:
    return [
        {
            "room": u.room,
            "document": u.document,
            "edition": u.edition,
            "rule": u.rule,
            "title": u.title,
            "clause": u.clause,
            "verdict": NOT_CHECKED,
            "reason": u.reason,
        }
        for u in rest
    ]


def record_check(
    *,
    model: Mapping[str, Any],
    judged_by: Sequence[Mapping[str, Any]],
    site: Mapping[str, Any],
    checked: Sequence[CheckedRoom],
    findings: Sequence[Finding],
    unchecked: Sequence[Unchecked],
    outputs: Sequence[str] = (),
) -> dict[str, Any]:
    """The record of a whole check.

    Args:
        model: what is known of the model file.
        judged_by: id, document, edition, title and switches of each rule file.
        site: what the project says of its site.
        checked: the ceilings with their loads.
        findings: what the rule sets say.
        unchecked: what was not checked and why.
        outputs: paths of the files that were written.
    """
    rows = _rows(findings)
    verdicts = Counter(row["verdict"] for row in rows)
    return {
        "model": dict(model),
        "judged_by": [dict(file) for file in judged_by],
        "site": dict(site),
        "rooms": _rooms(checked),
        "checks": rows,
        "unchecked": _unchecked(unchecked),
        "findings": [record_finding(finding) for finding in findings if finding.verdict is not Verdict.PASS],
        "totals": {
            "rooms": len({room.key for c in checked for room in c.ceiling.zone.rooms}),
            "checks": {verdict.value: verdicts.get(verdict.value, 0) for verdict in Verdict},
            NOT_CHECKED: len(unchecked),
        },
        "cautions": [{"text": c.text, "source": c.source} for c in CAUTIONS],
        "outputs": [str(path) for path in outputs],
    }
