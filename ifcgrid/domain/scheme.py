"""What a grid system's mains and tees are cut from, and how they are hung: data with its basis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from ifcgrid.domain.errors import PlanError, SystemDataError, UnitError
from ifcgrid.domain.units import parse_length

__all__ = [
    "Cutting",
    "HangerChanges",
    "HangerRules",
    "cutting_from_table",
    "hanger_rules_from_table",
    "read_hanging",
    "read_length",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """Stock parts and how they are cut. Lengths in mm.

    A stock main has rout holes at `first_hole` + k * `hole_pitch` from its factory start.
    `tees` are the stock lengths by rank: that of the tees between mains, then that of the
    tees between those. A main or tee ends `end_gap` short of a wall. Splices of neighbouring
    mains stand at least `stagger` apart (0: not asked), no piece of a main is shorter than
    `least_piece`. What is left at a run's end may start another run, whose own rest may start
    a third: `offcut_chain` is how often that may go on (0: off-cuts start no run; 1: two
    patterns of cuts take turns; more saves mains and makes more patterns). `notches` are places
    on a stock main that weaken it and so want a hanger on both sides (expansion notches of
    fire-rated mains), in mm from its factory start.
    """

    hole_pitch: float
    first_hole: float
    tees: tuple[float, ...]
    end_gap: float = 0.0
    stagger: float = 0.0
    least_piece: float = 0.0
    offcut_chain: int = 1
    notches: tuple[float, ...] = ()
    basis: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HangerRules:
    """What hangers have to keep besides the system's spacing and end distance. Lengths in mm.

    A hanger stands within `splice_reach` of every splice, on each side of it when
    `splice_sides` is 2 (0: splices ask for none), and no nearer to it than `splice_gap`;
    one within `corner_reach` of every corner of a lay-in device on a main (0: not asked).
    `clearance` is kept from ducts, pipes, trays, equipment and beams that a hanger passes.
    A hanger leans by no more than 1 in `splay`; the one that cancels its side pull stands
    within `counter_reach` when they lean across the main. A trapeze's bar is `bar_depth`
    high and at most `bar_longest` long, and the hanger under it at least `shortest`. A
    wire is cut `wire_allowance` longer than the way it goes.
    """

    splice_reach: float = 75.0
    splice_gap: float = 25.0
    splice_sides: int = 1
    corner_reach: float = 0.0
    clearance: float = 25.0
    splay: float = 6.0
    counter_reach: float = 300.0
    bar_depth: float = 32.0
    bar_longest: float = 2400.0
    shortest: float = 40.0
    wire_allowance: float = 0.0
    basis: str = "defaults of this project; common practice, no source"


def read_length(table: Mapping[str, Any], name: str, owner: str, *, may_be_zero: bool = False) -> float:
    """A length of a TOML table in mm: a number in mm or a text with a unit.

    Raises:
        SystemDataError: it is missing, is no length, or is not positive.
    """
    value = table.get(name)
    if value is None:
        raise SystemDataError(f'grid system {owner}: {name} is missing; give a length such as "600 mm"')
    try:
        length = parse_length(value)
    except UnitError as error:
        raise SystemDataError(f"grid system {owner}: {name}: {error}") from error
    if length < 0 or (length == 0 and not may_be_zero):
        least = "zero or more" if may_be_zero else "greater than zero"
        raise SystemDataError(f"grid system {owner}: {name} is {value!r}; it must be {least}")
    return length


def _check_entries(table: Any, kind: type, owner: str) -> None:
    if not isinstance(table, Mapping):
        raise SystemDataError(f"grid system {owner}: it is {table!r}; write it as a table")
    known = sorted(f.name for f in fields(kind))
    if unknown := sorted(set(table) - set(known)):
        raise SystemDataError(f"grid system {owner}: unknown entry {unknown[0]!r}; allowed: {known}")


def _lengths(table: Mapping[str, Any], name: str, owner: str) -> tuple[float, ...]:
    values = table.get(name, [])
    if not isinstance(values, list):
        raise SystemDataError(f"grid system {owner}: {name} is {values!r}; give a list of lengths")
    return tuple(read_length({name: value}, name, owner) for value in values)


def cutting_from_table(table: Any, owner: str, *, ranks: int) -> Cutting:
    """What a system is cut from, from its table `cutting`; it has `ranks` ranks of tees.

    Raises:
        SystemDataError: an entry is unknown, missing or wrong.
    """
    owner = f"{owner} cutting"
    _check_entries(table, Cutting, owner)
    given: dict[str, Any] = {name: read_length(table, name, owner) for name in ("hole_pitch", "first_hole")}
    for name in ("end_gap", "stagger", "least_piece"):
        if name in table:
            given[name] = read_length(table, name, owner, may_be_zero=True)
    given["tees"] = _lengths(table, "tees", owner)
    if len(given["tees"]) != ranks:
        raise SystemDataError(
            f"grid system {owner}: tees has {len(given['tees'])} stock lengths; the system has {ranks} "
            f"rank{'s' if ranks > 1 else ''} of tees, so give {ranks}"
        )
    given["notches"] = _lengths(table, "notches", owner)
    if "offcut_chain" in table:
        chain = table["offcut_chain"]
        if isinstance(chain, bool) or not isinstance(chain, int) or chain < 0:
            raise SystemDataError(f"grid system {owner}: offcut_chain is {chain!r}; give 0, 1, 2 ...")
        given["offcut_chain"] = chain
    return Cutting(**given, basis=str(table.get("basis", "")))


def hanger_rules_from_table(table: Any, owner: str, base: HangerRules | None = None) -> HangerRules:
    """What hangers have to keep, from a table `hanging`; what it does not name is as in `base`.

    Raises:
        SystemDataError: an entry is unknown or wrong.
    """
    owner = f"{owner} hanging"
    _check_entries(table, HangerRules, owner)
    given: dict[str, Any] = {}
    for name, value in table.items():
        if name == "basis":
            given[name] = str(value)
        elif name == "splice_sides":
            if isinstance(value, bool) or value not in (0, 1, 2):
                raise SystemDataError(f"grid system {owner}: splice_sides is {value!r}; give 0, 1 or 2")
            given[name] = value
        elif name == "splay":
            if isinstance(value, bool) or not isinstance(value, int | float) or value < 1:
                raise SystemDataError(f"grid system {owner}: splay is {value!r}; give 6 for 1 in 6")
            given[name] = float(value)
        else:
            given[name] = read_length(table, name, owner, may_be_zero=True)
    return replace(base or HangerRules(), **given)


@dataclass(frozen=True, slots=True, kw_only=True)
class HangerChanges:
    """What a plan changes of the rules that hangers have to keep."""

    values: tuple[tuple[str, Any], ...]

    def applied_to(self, rules: HangerRules) -> HangerRules:
        """The rules with the changes."""
        return replace(rules, **dict(self.values))


def read_hanging(value: Any) -> HangerChanges:
    """A plan's `hanging` entry: any of the entries of a system's table `hanging`.

    Raises:
        PlanError: an entry is unknown or wrong.
    """
    try:
        rules = hanger_rules_from_table(value, "of the plan")
    except SystemDataError as error:
        raise PlanError(str(error).replace("grid system of the plan hanging", "hanging")) from error
    return HangerChanges(values=tuple((name, getattr(rules, name)) for name in sorted(value)))
