"""A check's record in words for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from ifcgrid.outputs.check_sheet.floors import by_storey, floor_rows, label, numbers, title_of

__all__ = ["format_check"]

_MOST_EACH = 5
_HEAD = (
    "",
    "document",
    "rule",
    "fail",
    "unknown",
    "pass",
    "worst in",
    "value",
    "limit",
    "margin",
    "unit",
    "clause",
    "basis",
)
_MARK = {"fail": "X", "unknown": "?", "pass": "."}


def _clean(text: object) -> str:
    """A text of the model without characters that would move the cursor."""
    return "".join(c if c.isprintable() else "?" for c in str(text))


def _rooms(count: int) -> str:
    return f"{count} room" if count == 1 else f"{count} rooms"


def _table(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    right = {3, 4, 5, 7, 8, 9}
    return [
        "  ".join(
            cell.rjust(w) if k in right else cell.ljust(w)
            for k, (cell, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def _floor(record: Mapping[str, Any], rooms: Sequence[Mapping[str, Any]]) -> list[str]:
    names = {room["key"]: _clean(room["number"] or room["name"]) for room in rooms}
    rows: list[tuple[str, ...]] = [_HEAD]
    for row, count in floor_rows(record, rooms):
        rows.append(
            (
                _MARK[row["verdict"]],
                label(row),
                row["rule"],
                *(str(count[v]) for v in ("fail", "unknown", "pass")),
                names[row["room"]][:14],
                *numbers(row),
                row["unit"],
                row["clause"][:22] or "-",
                row["basis"].split(" ")[0],
            )
        )
    return _table(rows)


def _listed(title: str, rows: Iterable[tuple[str, str]]) -> list[str]:
    """Lines under headings, the first few of each."""
    groups: dict[str, list[str]] = {}
    for head, line in rows:
        groups.setdefault(head, []).append(line)
    if not groups:
        return []
    lines = ["", title]
    for head, found in groups.items():
        lines.append(f"  {head}")
        lines += [f"    {line}" for line in found[:_MOST_EACH]]
        if len(found) > _MOST_EACH:
            lines.append(f"    ... and {len(found) - _MOST_EACH} more rooms, all in --json and --csv")
    return lines


def _measure(row: Mapping[str, Any]) -> str:
    value, limit, margin = numbers(row)
    if value == "-":
        return ""
    text = f" {value} {row['unit']}"
    return text + (f", limit {limit}, margin {margin}" if margin != "-" else "")


def format_check(record: Mapping[str, Any]) -> str:
    """Floors by rule, then what is beyond a limit, not known, not checked and assumed; cautions last."""
    names = {room["key"]: _clean(title_of(room)) for room in record["rooms"]}
    model = record["model"]
    lines = [f"Check sheet: {_clean(model['path'])}, {model['schema']}, sha256 {str(model['sha256'])[:16]}"]
    lines += ["", "Checked against"]
    for file in record["judged_by"]:
        switches = ", ".join(f"{k} = {v}" for k, v in file["switches"].items())
        lines.append(f"  {label(file)}: {file['title']}" + (f" [{switches}]" if switches else ""))
    lines.append(
        "  X beyond a limit, ? not known, . within the limit; basis: S read in the source, S2 second-hand,"
    )
    lines.append("  M from memory (confirm in the current edition), D arithmetic, P choice of this project")
    for storey, rooms in by_storey(record).items():
        lines += ["", f"{_clean(storey)}: {_rooms(len(rooms))}, worst of each rule", *_floor(record, rooms)]
    for verdict, title in (("fail", "Beyond a limit"), ("unknown", "Not known")):
        lines += _listed(
            title,
            (
                (
                    f"{label(row)} {row['rule']}: {row['title']}",
                    f"{names[row['room']]}:{_measure(row)} - {_clean(row['message'].partition(': ')[2])}",
                )
                for row in record["checks"]
                if row["verdict"] == verdict
            ),
        )
    lines += _not_checked(record) + _assumed(record, names)
    totals = record["totals"]
    counted = ", ".join(f"{n} {verdict}" for verdict, n in totals["checks"].items())
    lines += ["", f"Rooms: {totals['rooms']}. Checks: {counted}, {totals['not checked']} not checked."]
    if record["outputs"]:
        lines += ["", "Written", *(f"  {_clean(path)}" for path in record["outputs"])]
    return "\n".join([*lines, "", "Cautions", *(f"- {c['text']}" for c in record["cautions"])])


def _not_checked(record: Mapping[str, Any]) -> list[str]:
    reasons: dict[tuple[str, str, str], int] = {}
    for row in record["unchecked"]:
        key = (label(row), row["rule"], row["reason"])
        reasons[key] = reasons.get(key, 0) + 1
    if not reasons:
        return []
    return ["", "Not checked, and why"] + [
        f"  {document} {rule}: {reason} ({_rooms(count)})"
        for (document, rule, reason), count in reasons.items()
    ]


def _assumed(record: Mapping[str, Any], names: Mapping[str, str]) -> list[str]:
    texts: dict[str, list[str]] = {}
    for room in record["rooms"]:
        for text in room["assumed"]:
            texts.setdefault(text, []).append(names[room["key"]])
    if not texts:
        return []
    return ["", "Assumed"] + [
        f"  {_clean(text)} ({_rooms(len(rooms))})" if len(rooms) > 1 else f"  {rooms[0]}: {_clean(text)}"
        for text, rooms in texts.items()
    ]
