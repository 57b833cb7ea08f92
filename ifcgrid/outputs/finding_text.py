"""Findings as text for a terminal: by rule, the first of each with its ways out or its waiver."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

__all__ = ["format_findings"]

_MOST_EACH = 5
_MOST_WAYS = 2

_Told = Callable[[Any], str]
"""Makes a text fit for a terminal."""


def format_findings(
    findings: Sequence[Mapping[str, Any]], titles: Mapping[str, str], told: _Told, clean: _Told
) -> list[str]:
    """The lines of a record's findings that do not pass; `titles` by room key.

    `told` makes sentences of ours fit for a terminal, `clean` leaves lengths as they stand.
    """
    groups: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for finding in findings:
        if finding["verdict"] != "pass":
            word = "waived" if finding.get("waiver") else finding["verdict"]
            groups.setdefault((word, _rule_of(finding)), []).append(finding)
    if not groups:
        return []
    lines = ["", "Findings"]
    for (word, rule), found in sorted(groups.items()):
        source = ", ".join(filter(None, (str(found[0].get(k) or "") for k in ("source", "clause"))))
        lines.append(f"  {word} {clean(rule)}: {len(found)}" + (f"  [{clean(source)}]" if source else ""))
        for finding in found[:_MOST_EACH]:
            lines += _finding_lines(finding, titles.get(finding.get("room") or "", ""), told, clean)
        if len(found) > _MOST_EACH:
            lines.append(f"    ... and {len(found) - _MOST_EACH} more, all in --json")
    return lines


def _finding_lines(finding: Mapping[str, Any], room: str, told: _Told, clean: _Told) -> list[str]:
    lines = [f"    {room + ': ' if room else ''}{told(finding['message'])}"]
    if waiver := finding.get("waiver"):
        return [*lines, f"      waived by {clean(waiver['by'])}: {clean(waiver['reason'])}"]
    return lines + [f"      {line}" for line in _way_lines(finding.get("ways_out", ()), told)]


def _way_lines(ways: Sequence[Mapping[str, Any]], told: _Told) -> list[str]:
    """The first ways out that are clear; where none is, the first one with what it brings."""
    clear = [way for way in ways if way["is_clear"]]
    if clear or not ways:
        return [f"way out: {told(way['text'])}" for way in clear[:_MOST_WAYS]]
    brings = ways[0]["brings"]
    more = f" and {len(brings) - 1} more" if len(brings) > 1 else ""
    return [f"way out, not clear: {told(ways[0]['text'])}; then {told(brings[0])}{more}"]


def _rule_of(finding: Mapping[str, Any]) -> str:
    """A rule's name, after the document and edition that it belongs to."""
    if not finding.get("document"):
        return str(finding["rule"])
    document, category, rest = str(finding["document"]).partition(" SDC ")
    return f"{document}-{finding['edition']}{category}{rest} {finding['rule']}"
