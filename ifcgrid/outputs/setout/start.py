"""Where to start: strings and what they are tied to, the first cut with its hole phase, square checks."""

from __future__ import annotations

import numpy as np
import shapely

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.outputs.paper.columns import Block
from ifcgrid.outputs.paper.dimension import is_metric, unbroken
from ifcgrid.outputs.setout.control import ControlLine, Datum, SetOut, Tie
from ifcgrid.outputs.setout.corners import find_diagonals
from ifcgrid.outputs.setting_out import row_sentence

__all__ = ["start_block", "tie_text"]

_OUT_OF_SQUARE = {True: 3.0, False: 3.175}
"""By how much out of square the printed difference of diagonals is: 3 mm or 1/8 in (our choice)."""


def tie_text(tie: Tie, units: str) -> str:
    """A distance and the wall it is from; both ends of a wall that is not parallel."""
    start, end = unbroken(tie.start, units), unbroken(tie.end, units)
    return f"{start} from {tie.place}" if start == end else f"{start} to {end} from {tie.place}"


def _line_1(ceiling: Ceiling, line: ControlLine, datum: Datum, units: str) -> str:
    ties = " and ".join(tie_text(t, units) for t in line.ties)
    centre = unbroken(abs(line.member - datum.at), units)
    half = unbroken(ceiling.system.main.face / 2, units)
    return (
        f"String 1 beside the first main: {ties}. The main's centre is at {centre}; its edge "
        f"follows the string (half a face, {half})."
    )


def _line_2(setout: SetOut, line: ControlLine, units: str) -> str:
    ties = " and ".join(tie_text(t, units) for t in line.ties)
    text = f"String 2 through the centre of the first full panels: {ties}."
    if setout.first_tee is not None:
        first = unbroken(abs(setout.first_tee - setout.datum_u.at), units)
        text += f" First tee line at {first}."
    return text


def _wall_near(setout: SetOut, point: tuple[float, float]) -> str:
    """The letter of the wall at which a main ends."""
    spot = shapely.Point(point)
    near = [(round(shapely.LineString(w.points).distance(spot), 2), w.letter) for w in setout.walls]
    return min(near)[1] if near else ""


def _first_cut(ceiling: Ceiling, setout: SetOut, units: str) -> str:
    """How the first main is cut at its start, and the tee line of its first hole; "" where unknown."""
    pieces, members = ceiling.pieces, ceiling.members
    first = [line.index for line in setout.lines if line.number == 1]
    if pieces is None or not len(pieces) or not first:
        return ""
    of_main = (members.role == Role.MAIN_RUNNER) & (members.line == first[0])
    chosen = np.flatnonzero(of_main[pieces.member] & (pieces.number == 0))
    if not len(chosen):
        return ""
    k = int(chosen[0])
    start = members.start[pieces.member[k]]
    wall = _wall_near(setout, (float(start[0]), float(start[1])))
    cut = f"First cut: the first main ({pieces.mark[k]}, {unbroken(float(pieces.length[k]), units)} long)"
    off = 0.0 if pieces.stock_start is None else float(pieces.stock_start[k])
    if pieces.is_factory[k, 0]:
        cut += f" begins with its factory end at wall {wall}"
    elif off > tolerance.LENGTH:
        cut += f" is cut {unbroken(off, units)} off its stock length at the end that goes to wall {wall}"
    else:
        cut += f" is cut at the end that goes to wall {wall}"
    if not np.isfinite(pieces.first_hole[k]):
        return f"{cut}."
    hole = float(pieces.first_hole[k])
    text = f"{cut}; its first hole is {unbroken(hole, units)} from there"
    at = float(start[0]) + float(pieces.start[k])
    line = (tolerance.floor_div(at, ceiling.layout.along) + 1) * ceiling.layout.along
    nth = _hole_number(ceiling, line - at - hole)
    if not nth or line - at > float(pieces.length[k]):
        return f"{text}."
    which = "that hole" if nth == 1 else f"hole {nth}"
    where = f"{unbroken(abs(line - setout.datum_u.at), units)} from {setout.datum_u.place}"
    return f"{text}; {which} lies on the first tee line there, {where}."


def _hole_number(ceiling: Ceiling, beyond_first: float) -> int:
    """Which hole lies so far beyond the first one, 1 for the first; 0 where none does or that is unknown."""
    if ceiling.system.cutting is None:
        return 0
    pitch = ceiling.system.cutting.hole_pitch
    steps = round(beyond_first / pitch)
    return steps + 1 if steps >= 0 and tolerance.is_equal(steps * pitch, beyond_first) else 0


def _squares(ceiling: Ceiling, setout: SetOut, units: str) -> list[str]:
    lines = []
    if setout.triangle:
        first, second, across = (unbroken(x, units) for x in setout.triangle)
        lines.append(
            f"Square the strings: {first} on string 1 and {second} on string 2 from their crossing, "
            f"{across} across."
        )
    if setout.field:
        field, layout = setout.field, ceiling.layout
        wide, deep = field.columns * layout.along, field.rows * layout.across
        slip = _OUT_OF_SQUARE[is_metric(units)]
        lines.append(
            f"Square the grid: both diagonals of the {field.columns} x {field.rows} full panels (between the "
            f"rings on the plan) are {unbroken(field.diagonal, units)}; out of square by "
            f"{unbroken(slip, units)} they differ by "
            f"{unbroken(2 * wide * slip / float(np.hypot(wide, deep)), units)}."
        )
    return lines


def _room_diagonals(ceiling: Ceiling, setout: SetOut, units: str) -> str:
    found = find_diagonals(ceiling, setout.walls)
    if not found:
        return ""
    texts = [f"{d.start.name} to {d.end.name} {unbroken(d.length, units)}" for d in found]
    return (
        f"Check the room: diagonals from corner {' and '.join(texts)}. "
        "If the tape says otherwise, measure all walls."
    )


def start_block(ceiling: Ceiling, setout: SetOut, units: str) -> Block:
    """What is measured before the first hanger, in the order in which it is done."""
    lines = []
    if ceiling.layout.set_out_from:
        lines.append(f"Grid {ceiling.layout.set_out_from}.")
    lines.append(_room_diagonals(ceiling, setout, units))
    for line in setout.lines:
        if line.number == 1:
            lines.append(_line_1(ceiling, line, setout.datum_v, units))
        else:
            lines.append(_line_2(setout, line, units))
    lines.append(row_sentence(ceiling, lambda x: unbroken(x, units)))
    if not setout.lines:
        lines.append("No grid line crosses this room as a string would: start from the borders.")
    elif len(setout.lines) == 1:
        lines.append("There is no full panel, so there is one string only.")
    lines += [*_squares(ceiling, setout, units), _first_cut(ceiling, setout, units)]
    given = [text for text in lines if text]
    return Block(title="Start here", lines=[f"{k}. {text}" for k, text in enumerate(given, start=1)])
