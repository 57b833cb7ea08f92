"""Grid systems: the sizes that a ceiling is made of. Generic, no manufacturers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from fractions import Fraction
from typing import Any

from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.layout import MOST_ROWS
from ifcgrid.domain.scheme import (
    Cutting,
    HangerRules,
    cutting_from_table,
    hanger_rules_from_table,
    read_length,
)
from ifcgrid.domain.tolerance import ALIKE
from ifcgrid.domain.weights import Strength, Weights, strength_from_table, weights_from_table

__all__ = ["GridSystem", "Section", "system_from_table"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """An inverted-T or L section in mm: overall height, face (flange) width, sheet thickness."""

    height: float
    face: float
    thickness: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GridSystem:
    """One lay-in system. Lengths in mm.

    `along` is the panel size along the mains (the spacing of the cross-tee lines),
    `across` the panel size across them. Every `main_every`-th line parallel to the mains
    is a main; the lines between carry second-rank tees. So 600 x 600 on mains at 1200 is
    along 600, across 600, main_every 2; 600 x 1200 is along 600, across 1200, main_every 1.
    `hanger_spacing` and `hanger_end` are the greatest distances between hangers along a
    main and from a main's end to its first hanger. `basis` says where the numbers come from.
    `weights` and `strength` None: not stated; loads then go by the defaults of their types.
    `cutting` is what mains and tees are cut from, None where that is not known; `hanging`
    what hangers have to keep besides. `row_shift` is the share of `along` by which each row
    of panels is shifted against the one before; every line between rows must be a main.
    """

    id: str
    title: str
    along: float
    across: float
    main_every: int
    panel_thickness: float
    main: Section
    tee: Section
    angle: Section
    hanger_diameter: float
    hanger_spacing: float
    hanger_end: float
    main_stock: float
    angle_stock: float
    basis: str
    weights: Weights | None = None
    strength: Strength | None = None
    cutting: Cutting | None = None
    hanging: HangerRules = field(default_factory=HangerRules)
    row_shift: float = 0.0

    @property
    def main_spacing(self) -> float:
        """Distance between neighbouring mains in mm: the length of a first-rank tee."""
        return self.across * self.main_every


def _section(table: Mapping[str, Any], name: str, owner: str) -> Section:
    value = table.get(name)
    if not isinstance(value, Mapping):
        raise SystemDataError(
            f"grid system {owner}: section {name!r} is missing; give height, face and thickness"
        )
    return Section(**{f.name: read_length(value, f.name, f"{owner} {name}") for f in fields(Section)})


def _row_shift(value: Any, owner: str, main_every: int) -> float:
    """The shift of each row as a share of `along`; a number, or a text such as "1/3"."""
    try:
        share = Fraction(str(value)).limit_denominator(MOST_ROWS)
        is_near = not isinstance(value, bool) and abs(float(share) - float(Fraction(str(value)))) < ALIKE
    except (ValueError, ZeroDivisionError):
        share, is_near = Fraction(0), False
    if not is_near or not 0 <= share < 1:
        raise SystemDataError(
            f'grid system {owner}: row_shift is {value!r}; give a share of `along` such as 0.5 or "1/3", '
            f"with a denominator of {MOST_ROWS} at most",
            "row_shift",
        )
    if share and main_every != 1:
        raise SystemDataError(
            f"grid system {owner}: row_shift is {value!r} with main_every {main_every}; every line between "
            "shifted rows has to be a main, so main_every must be 1",
            "row_shift",
        )
    return float(share)


def system_from_table(table: Mapping[str, Any]) -> GridSystem:
    """A grid system from a TOML table; lengths are numbers in mm or texts with a unit.

    Raises:
        SystemDataError: a value is missing, is no length, or is not positive.
    """
    owner = str(table.get("id") or "without an id")
    main_every = table.get("main_every")
    if not isinstance(main_every, int) or isinstance(main_every, bool) or main_every < 1:
        raise SystemDataError(f"grid system {owner}: main_every is {main_every!r}; give 1, 2, 3 ...")
    for name in ("id", "title", "basis"):
        if not isinstance(table.get(name), str) or not table[name]:
            raise SystemDataError(f"grid system {owner}: {name} is missing; give a text")
    lengths = [
        "along",
        "across",
        "panel_thickness",
        "hanger_diameter",
        "hanger_spacing",
        "hanger_end",
        "main_stock",
        "angle_stock",
    ]
    known = {*lengths, "id", "title", "basis", "main_every", "main", "tee", "angle", "cutting", "hanging"}
    known |= {"weights", "strength", "row_shift"}
    if unknown := sorted(set(table) - known):
        raise SystemDataError(f"grid system {owner}: unknown entry {unknown[0]!r}; allowed: {sorted(known)}")
    return GridSystem(
        id=table["id"],
        title=table["title"],
        basis=table["basis"],
        main_every=main_every,
        main=_section(table, "main", owner),
        tee=_section(table, "tee", owner),
        angle=_section(table, "angle", owner),
        cutting=(
            cutting_from_table(table["cutting"], owner, ranks=min(main_every, 2))
            if "cutting" in table
            else None
        ),
        weights=weights_from_table(table.get("weights"), owner),
        strength=strength_from_table(table.get("strength"), owner),
        hanging=hanger_rules_from_table(table.get("hanging", {}), owner),
        row_shift=_row_shift(table.get("row_shift", 0), owner, main_every),
        **{name: read_length(table, name, owner) for name in lengths},
    )
