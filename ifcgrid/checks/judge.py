"""Judges one ceiling by rule sets: a finding for each rule, room and verdict, the worst measure first."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures.seismic import is_exempt
from ifcgrid.checks.rule import Measures, Rule
from ifcgrid.checks.rule_data import RuleFile, RuleRow
from ifcgrid.checks.rule_sets import Chosen, rules_of
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding, Unchecked, Verdict
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Room
from ifcgrid.domain.seismic import Seismic

__all__ = ["judge_rules"]

_EXEMPTION = "size-exemption"
_STILL = frozenset({_EXEMPTION})
_DIGITS = 9


def judge_rules(
    ceiling: Ceiling,
    obstacles: Sequence[Obstacle],
    chosen: Chosen,
    seismic: Seismic | None = None,
) -> tuple[tuple[Finding, ...], tuple[Unchecked, ...]]:
    """What rule sets say of a ceiling as it stands, and what was not checked and why.

    Args:
        ceiling: one zone's ceiling, however it came about.
        obstacles: what stands near it.
        chosen: rule files and switches.
        seismic: what the project says of its site.

    Returns:
        One finding a rule, room and verdict, in the order of the files and their rules;
        failing ones name what fails, worst first. Then the rules that were not applied.
    """
    case = Case(ceiling=ceiling, obstacles=obstacles, seismic=seismic or Seismic())
    findings: list[Finding] = []
    unchecked: list[Unchecked] = []
    for file in chosen.files:
        rules = rules_of(file)
        is_free = _EXEMPTION in file.rows and is_exempt(case, file.row(_EXEMPTION, chosen.switches))
        for name, rule in rules.items():
            if name not in file.rows:
                reason = file.left_out.get(name, "the rule file has no number for it")
                unchecked += _unchecked(case, file, rule, "", reason)
                continue
            row = file.row(name, {k: v for k, v in chosen.switches.items() if k in file.defaults})
            if is_free and name not in _STILL:
                unchecked += _unchecked(case, file, rule, row.clause, "exempt by size")
                continue
            answer = rule.measure(case, row)
            if isinstance(answer, str):
                unchecked += _unchecked(case, file, rule, row.clause, answer)
            elif len(answer) == 0:
                unchecked += _unchecked(case, file, rule, row.clause, f"there are no {answer.noun} here")
            else:
                findings += _findings(case, file, rule, row, answer)
    return tuple(findings), tuple(unchecked)


def _unchecked(case: Case, file: RuleFile, rule: Rule, clause: str, reason: str) -> list[Unchecked]:
    return [
        Unchecked(
            rule=rule.name,
            title=rule.title,
            document=file.document,
            edition=file.edition,
            clause=clause,
            room=room.key,
            reason=reason,
        )
        for room in case.ceiling.zone.rooms
    ]


def _findings(case: Case, file: RuleFile, rule: Rule, row: RuleRow, found: Measures) -> list[Finding]:
    """Findings of one rule: by room, and in each by verdict."""
    rooms = case.ceiling.zone.rooms
    where = _rooms_of(case, found)
    findings = []
    for index, room in enumerate(rooms):
        for verdict in (Verdict.FAIL, Verdict.UNKNOWN, Verdict.PASS):
            chosen = np.flatnonzero((where == index) & (found.verdict == verdict))
            if len(chosen):
                order = chosen[np.argsort(_sorting(found)[chosen], kind="stable")]
                total = int((where == index).sum())
                findings.append(_finding(case, file, rule, row, found, room, verdict, order, total))
    return findings


def _rooms_of(case: Case, found: Measures) -> NDArray[np.int64]:
    rooms = case.ceiling.zone.rooms
    if len(rooms) == 1:
        return np.zeros(len(found), dtype=np.int64)
    place = {room.key: k for k, room in enumerate(rooms)}
    return np.array([place[case.room_at(point).key] for point in found.point], dtype=np.int64)


def _sorting(found: Measures) -> NDArray[np.float64]:
    margin = found.margin
    return np.where(np.isnan(margin), -found.sign * np.nan_to_num(found.value), margin)


def _finding(
    case: Case,
    file: RuleFile,
    rule: Rule,
    row: RuleRow,
    found: Measures,
    room: Room,
    verdict: Verdict,
    order: NDArray[np.int64],
    total: int,
) -> Finding:
    worst = int(order[0])
    value, limit = _number(found.value[worst]), _number(found.limit[worst])
    margin = None if value is None or limit is None else _number(found.margin[worst])
    x, y = case.ceiling.layout.frame.to_world([found.point[worst]])[0].tolist()
    subjects = (
        tuple(dict.fromkeys(found.subject(int(k)) for k in order)) if verdict is not Verdict.PASS else ()
    )
    return Finding(
        rule=rule.name,
        title=rule.title,
        source=row.source,
        clause=row.clause,
        document=file.document,
        edition=file.edition,
        basis=row.basis_text,
        verdict=verdict,
        room=room.key,
        subjects=subjects or (found.subject(worst),),
        message=_message(rule, row, found, verdict, len(order), total),
        value=value,
        limit=limit,
        margin=margin,
        unit=found.unit,
        point=(round(x, 3), round(y, 3), round(case.ceiling.zone.level, 3)),
        measured=len(order),
    )


def _number(value: float) -> float | None:
    return round(float(value), _DIGITS) + 0.0 if np.isfinite(value) else None


def _message(rule: Rule, row: RuleRow, found: Measures, verdict: Verdict, count: int, total: int) -> str:
    """The rule, how many of how many, and what else is to be said."""
    text = f"{rule.title}: {count} of {total} {found.noun} "
    text += {
        Verdict.PASS: "within the limit",
        Verdict.FAIL: "beyond the limit",
        Verdict.UNKNOWN: "not known",
    }[verdict]
    told = [found.missing if verdict is Verdict.UNKNOWN else found.detail, row.note]
    return "; ".join([text, *filter(None, told)])
