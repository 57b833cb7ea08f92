"""All rules with their numbers, as a table for engineers."""

from __future__ import annotations

from collections.abc import Iterator

from ifcgrid.checks.rule import Rule
from ifcgrid.checks.rule_data import BASES, RuleFile, RuleRow, list_rule_files, read_rule_file
from ifcgrid.checks.rule_sets import RULE_SETS, rules_of

__all__ = ["format_rule_table"]

HEAD = ("rule", "what is measured", "limit", "switch", "clause", "source", "basis")


def _number(value: float) -> str:
    return f"{value:.6g}"


def _limit(row: RuleRow) -> str:
    """The row's numbers in words."""
    if row.value is not None:
        text = f"{_number(row.value)} {row.unit}"
    elif row.values:
        text = ", ".join(f"{name} {_number(v)}" for name, v in row.values.items()) + f" {row.unit}"
    else:
        text = f"{row.by} ({row.unit})"
    return "; ".join([text, *(f"{name} {_number(v)}" for name, v in row.also.items())])


def _rows(file: RuleFile) -> Iterator[tuple[str, ...]]:
    rules: dict[str, Rule] = dict(rules_of(file))
    for name, rows in file.rows.items():
        for row in rows:
            switch = row.variant + (" (default)" if row.variant == file.defaults.get(name) else "")
            source = row.source + (f" ({row.note})" if row.note else "")
            yield name, rules[name].title, _limit(row), switch, row.clause, source, row.basis


def format_rule_table() -> str:
    """The table as Markdown: one section a document and edition, one line a rule and switch position."""
    lines = [
        "# Rules and their numbers",
        "",
        "Made from the rule data by `ifcgrid check --table`; do not edit. Limits are those of the named "
        "sources, not a statement that a ceiling within them is in order. What stands from memory is a "
        "setting to be confirmed in the current edition. Inch-pound and SI numbers are separate and are "
        "never turned into one another.",
        "",
        "| basis | means |",
        "|---|---|",
        *(f"| {basis} | {text} |" for basis, text in BASES.items()),
        "",
        "| rule set | holds | files |",
        "|---|---|---|",
        *(f"| `{s.id}` | {s.title} | {', '.join(s.files)} |" for s in RULE_SETS),
    ]
    for file_id in list_rule_files():
        file = read_rule_file(file_id)
        lines += ["", f"## {file.id}", f"{file.document}-{file.edition}: {file.title}", ""]
        lines += ["| " + " | ".join(HEAD) + " |", "|---" * len(HEAD) + "|"]
        lines += ["| " + " | ".join(cell or "-" for cell in row) + " |" for row in _rows(file)]
        if file.left_out:
            lines += [
                "",
                "Not known in these units: " + "; ".join(f"{k} ({v})" for k, v in file.left_out.items()),
            ]
    return "\n".join(lines) + "\n"
