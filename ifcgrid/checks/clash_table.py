"""The clash rules with their numbers, as a table for coordinators."""

from __future__ import annotations

from ifcgrid.checks.limits import SHARED, Limit, read_limits

__all__ = ["format_clash_table"]

HEAD = ("rule", "what is found", "default", "basis", "who usually yields", "source")

INTRO = """# Clash rules

What `ifcgrid build` and `ifcgrid clash` find, with the number each rule judges by. Defaults are this
project's own choice where no source is named; who yields is common practice, no source. A plan changes
a number, or leaves a rule out, for the whole building:

```toml
[clash]
panel-tilt-in = "75 mm"        # a length with its unit, or a number in the unit of the table
sprinkler-off-point = false    # not judged
```

A rule says what it measured, against which number; that nothing was found says no more than that.
"""

SHARED_HEAD = "\n## Numbers that several rules share\n\n"


def _row(limit: Limit) -> str:
    number = f"{limit.value:g} {limit.unit}"
    source = limit.source + (f"; {limit.clause}" if limit.clause and limit.clause not in limit.source else "")
    cells = (f"`{limit.rule}`", limit.title, number, limit.basis, limit.yields or "-", source)
    return "| " + " | ".join(cells) + " |"


def _table(limits: list[Limit]) -> str:
    head = "| " + " | ".join(HEAD) + " |\n" + "|" + "---|" * len(HEAD) + "\n"
    return head + "".join(f"{_row(limit)}\n" for limit in limits)


def format_clash_table() -> str:
    """All clash rules as a Markdown page, in the order in which they are told."""
    limits = list(read_limits().values())
    rules = [limit for limit in limits if limit.rule not in SHARED]
    shared = [limit for limit in limits if limit.rule in SHARED]
    return f"{INTRO}\n{_table(rules)}{SHARED_HEAD}{_table(shared)}"
