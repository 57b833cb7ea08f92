"""What ceilings need cut: parts of bars by stock, and cut panels by size."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.cutting import CutRules, PanelDemand, Part, Side, Stock
from ifcgrid.domain.marks import mark_panels
from ifcgrid.domain.parts import MemberPart, find_parts, tee_stocks
from ifcgrid.domain.quantity import line_key
from ifcgrid.domain.system import Section

__all__ = ["bar_demands", "panel_demands"]

ORDER = {Role.WALL_ANGLE: 1, Role.MAIN_RUNNER: 2, Role.CROSS_TEE: 3, Role.SECOND_TEE: 4}
"""The order of work: wall angle, mains, tees between mains, tees between tees (NAVEDTRA 14044 p. 5-17)."""


def bar_demands(ceiling: Ceiling, rules: CutRules) -> list[tuple[Stock, Part]]:
    """The parts of all members, each with the stock that it is cut from, in the order of work.

    Mains and tees are the ceiling's pieces; where those were not worked out, they are cut
    into whole bars and a rest. Wall angles are cut wall by wall: no more than one rest a wall.
    """
    keys = ceiling.members.keys()
    found = [_demand(ceiling, keys, part, rules) for part in find_parts(ceiling)]
    return sorted(found, key=lambda pair: pair[1].order)


def _stock(ceiling: Ceiling, role: Role, length: float, rules: CutRules) -> Stock:
    """The bar of that length; a tee's length that only mains have is a main."""
    system = ceiling.system
    is_tee = role in (Role.CROSS_TEE, Role.SECOND_TEE)
    if is_tee and not any(tolerance.is_equal(length, tee) for tee in tee_stocks(ceiling)):
        is_tee, role = False, Role.MAIN_RUNNER
    sections = {Role.MAIN_RUNNER: system.main, Role.WALL_ANGLE: system.angle}
    # Tees of one length are one article, whether they are hung between mains or between tees.
    item = "tee" if is_tee else role.word.replace("_", " ")
    cutting = system.cutting if role is Role.MAIN_RUNNER else None
    return Stock(
        item=item,
        section=_words(sections.get(role, system.tee)),
        length=length,
        kerf=rules.bar_kerf,
        first_hole=cutting.first_hole if cutting else math.nan,
        pitch=cutting.hole_pitch if cutting else math.nan,
        end_parts=rules.tees_from_one if is_tee else 2,
    )


def _words(section: Section) -> str:
    return f"{section.height:g} x {section.face:g} x {section.thickness:g}"


def _demand(ceiling: Ceiling, keys: Sequence[str], part: MemberPart, rules: CutRules) -> tuple[Stock, Part]:
    members, pieces = ceiling.members, ceiling.pieces
    stock = _stock(ceiling, part.role, part.stock, rules)
    hole = math.nan
    if part.piece is None or pieces is None:
        factory = _member_ends(ceiling, part)
    else:
        factory = _ends(pieces.is_factory[part.piece].tolist(), part)
        hole = tolerance.to_raster(float(pieces.first_hole[part.piece])) if stock.has_holes else math.nan
    return stock, Part(
        key=f"{ceiling.key}/{keys[part.member]}/{part.number}",
        mark=part.mark,
        room=line_key(ceiling.zone, int(members.room[part.member])),
        length=part.stock if part.is_whole else part.length,
        is_factory=factory,
        first_hole=hole,
        order=ORDER[part.role],
    )


def _ends(factory: Sequence[bool], part: MemberPart) -> tuple[bool, bool]:
    """Only a whole bar has both of its ends; of two that a shorter part was given the start counts."""
    start, end = bool(factory[0]), bool(factory[1])
    return (start, end and (part.is_whole or not start))


def _member_ends(ceiling: Ceiling, part: MemberPart) -> tuple[bool, bool]:
    """Which ends of a part need a bar's own end, for members whose pieces were not worked out."""
    role, k = part.role, part.member
    if role is Role.WALL_ANGLE:
        return (False, False)
    if part.is_whole:
        return (True, True)
    if role is Role.MAIN_RUNNER:
        return (part.number > 0, False)
    axis = 1 if role is Role.CROSS_TEE else 0
    layout = ceiling.layout
    step = (layout.across if axis else layout.along) * (layout.main_every if axis else 1)
    first = layout.main_phase * layout.across if axis else 0.0
    ends = (ceiling.members.start[k, axis], ceiling.members.end[k, axis])
    on_line = [abs((x - first) / step - round((x - first) / step)) * step <= tolerance.LENGTH for x in ends]
    return (True, False) if on_line[0] else (False, on_line[1])


def panel_demands(ceiling: Ceiling) -> list[PanelDemand]:
    """The cut panels, each in its own cell, with the sides that lie on grid lines."""
    panels, layout = ceiling.panels, ceiling.layout
    keys, marks = panels.keys(), mark_panels(panels)
    return [
        _panel(ceiling, k, keys[k], marks[k], (layout.along, layout.across))
        for k in np.flatnonzero(~panels.is_full).tolist()
    ]


def _panel(ceiling: Ceiling, k: int, key: str, mark: str, size: tuple[float, float]) -> PanelDemand:
    panels = ceiling.panels
    corner = np.array([panels.column[k] * size[0], panels.row[k] * size[1]])
    bounds = panels.bounds[k].reshape(2, 2) - corner
    shape = panels.outlines.get(k) or shapely.box(*panels.bounds[k])
    rings = tuple(
        tuple(
            (tolerance.to_raster(u), tolerance.to_raster(v))
            for u, v in (shapely.get_coordinates(ring) - corner).tolist()
        )
        for ring in (shape.exterior, *shape.interiors)
    )
    reach = (0.0, 0.0, *size)
    sides = zip(Side, reach, bounds.ravel().tolist(), strict=True)
    return PanelDemand(
        key=f"{ceiling.key}/{key}",
        mark=mark,
        room=line_key(ceiling.zone, int(panels.room[k])),
        rings=rings,
        area=float(panels.area[k]),
        factory=frozenset(side for side, line, at in sides if tolerance.is_equal(line, at)),
    )
