"""Rule sets by document and edition: what a project names, and which numbers and rules that brings.

Nothing here is a "current code": callers name the sets. In the United States the seismic
design category decides which documents go together: A and B go by C636; C by C635, C636
and E580 section 4; D to F by C635, C636 and E580 section 5 as modified (Salt Lake City,
Grid Ceiling Construction Guidance, for D to F; the rest from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib import import_module

from ifcgrid.checks.rule import Rule, find_rules
from ifcgrid.checks.rule_data import RuleFile, read_rule_file
from ifcgrid.domain.errors import PlanError

__all__ = ["RULE_SETS", "Chosen", "RuleSet", "check_switches", "choose_sets", "rules_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleSet:
    """What a project can name. `files` are the rule files that belong to it, in order."""

    id: str
    title: str
    files: tuple[str, ...]


RULE_SETS: tuple[RuleSet, ...] = (
    RuleSet(id="c635-17", title="duty class and deflection, inch-pound", files=("c635-17",)),
    RuleSet(id="c635m-17", title="duty class and deflection, SI", files=("c635m-17",)),
    RuleSet(id="c636-19", title="installation, inch-pound", files=("c636-19",)),
    RuleSet(id="c636m-19", title="installation, SI", files=("c636m-19",)),
    RuleSet(id="e580-14-sdc-ab", title="seismic design categories A and B", files=("c635-17", "c636-19")),
    RuleSet(
        id="e580-14-sdc-c",
        title="seismic design category C, inch-pound",
        files=("c635-17", "c636-19", "e580-14-sdc-c"),
    ),
    RuleSet(
        id="e580-14-sdc-d",
        title="seismic design categories D to F, inch-pound",
        files=("c635-17", "c636-19", "e580-14-sdc-d"),
    ),
    RuleSet(
        id="e580m-14-sdc-d",
        title="seismic design categories D to F, SI",
        files=("c635m-17", "c636m-19", "e580m-14-sdc-d"),
    ),
    RuleSet(id="asce7-16", title="earthquake force on brace sets, ASCE 7-16", files=("asce7-16",)),
    RuleSet(id="asce7-22", title="earthquake force on brace sets, ASCE 7-22", files=("asce7-22",)),
    RuleSet(id="en13964-14", title="EN 13964 with metric practice", files=("en13964-14",)),
    RuleSet(id="layout-1", title="the ceiling against its own layout and system", files=("layout-1",)),
)

_MODULES = {
    "c635m-17": "c635-17",
    "c636m-19": "c636-19",
    "e580m-14-sdc-d": "e580-14-sdc-d",
}
"""Files that give other numbers to the rules of another file: its SI side."""

ALWAYS = "layout-1"
"""The file that every check applies."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """Rule files to judge by, each once, and the positions of their switches."""

    files: tuple[RuleFile, ...]
    switches: Mapping[str, str]


def rules_of(file: RuleFile) -> Mapping[str, Rule]:
    """The rules whose numbers a file holds, by name, in the order in which they stand."""
    home = read_rule_file(_MODULES.get(file.id, file.id))
    import_module(f"ifcgrid.checks.rules.{home.id.replace('-', '_')}")
    return find_rules(home.document, home.edition)


def choose_sets(
    names: Iterable[str] = (), switches: Mapping[str, str] | None = None, *, edition: str | None = None
) -> Chosen:
    """The files of rule sets by their ids, and always that of the layout.

    `edition` of ASCE 7 adds its force on brace sets to categories D to F, unless an edition
    is among the names.

    Raises:
        PlanError: there is no such set, no such switch, or no such position of it.
    """
    known = {s.id: s for s in RULE_SETS}
    names = tuple(names)
    wanted = [ALWAYS]
    if any(name.startswith("asce7-") for name in names):
        edition = None
    for name in names:
        if name not in known:
            raise PlanError(f"no rule set {name!r}; choose one of {', '.join(known)}")
        wanted += known[name].files
        if edition is not None and name.endswith("-sdc-d"):
            wanted.append(f"asce{edition}")
    files = tuple(read_rule_file(file_id) for file_id in dict.fromkeys(wanted))
    return Chosen(files=files, switches=check_switches(switches or {}))


def check_switches(switches: Mapping[str, str]) -> Mapping[str, str]:
    """The same switches, once it is clear that each exists and has that position.

    Raises:
        PlanError: one has not.
    """
    positions: dict[str, list[str]] = {}
    for rule_set in RULE_SETS:
        for file in map(read_rule_file, rule_set.files):
            for rule in file.defaults:
                found = positions.setdefault(rule, [])
                found += [row.variant for row in file.rows[rule] if row.variant not in found]
    for rule, position in switches.items():
        if rule not in positions:
            raise PlanError(f"no switch {rule!r}; there are {', '.join(sorted(positions))}")
        if position not in positions[rule]:
            raise PlanError(f"switch {rule} is {position!r}; choose one of {', '.join(positions[rule])}")
    return dict(switches)
