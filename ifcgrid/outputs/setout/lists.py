"""The words and lists of a room's set-out sheet: where to start, walls, hangers, members, panels."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.domain.room import Room
from ifcgrid.outputs.paper import dimension
from ifcgrid.outputs.paper.dimension import Run, format_residual, run_dimensions, told
from ifcgrid.outputs.paper.sheet import Block
from ifcgrid.outputs.setout.control import ControlLine, Datum, SetOut, Tie
from ifcgrid.outputs.setout.cuts import cut_lines, kind_lines
from ifcgrid.outputs.setout.devices import device_lines
from ifcgrid.outputs.setout.wall import Wall
from ifcgrid.outputs.setting_out import row_sentence, taper_sentences

__all__ = ["failing", "hanger_numbers", "list_blocks", "run_lines", "running", "tie_text"]

_ROLE_WORDS = {
    Role.MAIN_RUNNER: "Main runners",
    Role.CROSS_TEE: "Cross tees",
    Role.SECOND_TEE: "Second-rank tees",
    Role.WALL_ANGLE: "Wall angle",
}
_MOST_LENGTHS = 6
_MOST_WALLS = 24
_MOST_ROWS = 6
_MOST_FINDINGS = 8


def format_length(length: float, units: str) -> str:
    """A printed length whose fraction stays on the line of its inches."""
    return dimension.format_length(length, units).replace(" ", "\u00a0")


def failing(findings: Sequence[Finding]) -> list[Finding]:
    """The findings that fail, in the given order; their numbers on a sheet count from 1."""
    return [f for f in findings if f.verdict is Verdict.FAIL]


def hanger_numbers(ceiling: Ceiling) -> list[str]:
    """H1, H2 ... in the order of the ceiling's hangers."""
    return [f"H{k + 1}" for k in range(len(ceiling.hangers))]


def run_lines(ceiling: Ceiling, datum: Datum) -> list[tuple[int, float]]:
    """Index and coordinate of every lattice line in the room on the datum's axis, going inward."""
    layout = ceiling.layout
    module = layout.along if datum.axis == "u" else layout.across
    points = layout.frame.to_local(np.asarray(ceiling.zone.outline.exterior.coords)[:, :2])
    values = points[:, 0 if datum.axis == "u" else 1]
    first = tolerance.floor_div(float(values.min()), module) + 1
    last = tolerance.ceil_div(float(values.max()), module) - 1
    return [(k, k * module) for k in range(first, last + 1)][:: datum.inward]


def running(ceiling: Ceiling, datum: Datum, units: str) -> Run:
    """Running dimensions of the lattice lines from the datum to the far end of the room."""
    points = ceiling.layout.frame.to_local(np.asarray(ceiling.zone.outline.exterior.coords)[:, :2])
    values = points[:, 0 if datum.axis == "u" else 1]
    lines = [abs(at - datum.at) for _, at in run_lines(ceiling, datum)]
    return run_dimensions(lines, float(values.max() - values.min()), units)


def tie_text(tie: Tie, units: str) -> str:
    """A distance and the wall it is from; both ends of a wall that is not parallel."""
    start, end = format_length(tie.start, units), format_length(tie.end, units)
    return f"{start} from {tie.place}" if start == end else f"{start} to {end} from {tie.place}"


def _level(ceiling: Ceiling, units: str) -> Block:
    rooms = [room for room in ceiling.zone.rooms if room.height is not None]
    if not rooms:
        return Block(title="Level", lines=["No ceiling height was given: agree it before starting."])
    lines = []
    alike: dict[tuple[str, str], list[Room]] = {}
    for room in sorted(rooms, key=lambda r: (r.number, r.name)):
        if room.height is not None:
            said = (format_length(room.height.value, units), room.height.source.value)
            alike.setdefault(said, []).append(room)
    for (value, source), those in alike.items():
        name = f"{', '.join(r.number or r.name for r in those)}: " if len(rooms) > 1 else ""
        lines.append(
            f"{name}{value} above the room's floor to the UNDERSIDE OF THE GRID "
            f"(face of mains and tees; panels lie on it). Height from: {source}."
        )
        for room in those:
            if room.height is not None and room.height.disputes:
                shown = ((format_length(c.value, units), c.source.value) for c in room.height.disputes)
                others = ", ".join(f"{length} ({where})" for length, where in shown)
                of = f"{room.number or room.name}: " if len(rooms) > 1 else ""
                lines.append(f"{of}The model also says {others}: confirm before starting.")
    lines.append(f"Model height (z) of the underside: {format_length(ceiling.zone.level, units)}.")
    return Block(title="Level", lines=lines)


def _start_line_1(ceiling: Ceiling, line: ControlLine, datum: Datum, units: str) -> str:
    ties = " and ".join(tie_text(t, units) for t in line.ties)
    centre = format_length(abs(line.member - datum.at), units)
    half = format_length(ceiling.system.main.face / 2, units)
    return (
        f"String 1 beside the first main: {ties}. The main's centre is at {centre}; its edge "
        f"follows the string (half a face, {half})."
    )


def _start_line_2(setout: SetOut, line: ControlLine, units: str) -> str:
    ties = " and ".join(tie_text(t, units) for t in line.ties)
    text = f"String 2 through the centre of the first full panels: {ties}."
    if setout.first_tee is not None:
        first = format_length(abs(setout.first_tee - setout.datum_u.at), units)
        text += f" First tee line at {first}."
    return text


def _start(ceiling: Ceiling, setout: SetOut, units: str) -> Block:
    lines = []
    if ceiling.layout.set_out_from:
        lines.append(f"Grid {ceiling.layout.set_out_from}.")
    for line in setout.lines:
        if line.number == 1:
            lines.append(_start_line_1(ceiling, line, setout.datum_v, units))
        else:
            lines.append(_start_line_2(setout, line, units))
    if rows := row_sentence(ceiling, lambda x: format_length(x, units)):
        lines.append(rows)
    if not setout.lines:
        lines.append("No grid line crosses this room as a string would: start from the borders.")
    elif len(setout.lines) == 1:
        lines.append("There is no full panel, so there is one string only.")
    if setout.triangle:
        first, second, across = (format_length(x, units) for x in setout.triangle)
        lines.append(
            f"Square the strings: {first} on string 1 and {second} on string 2 from their crossing, "
            f"{across} across."
        )
    if setout.field:
        field = setout.field
        lines.append(
            f"Square the grid: both diagonals of the {field.columns} x {field.rows} full panels are "
            f"{format_length(field.diagonal, units)}."
        )
    return Block(title="Start here", lines=[f"{k}. {text}" for k, text in enumerate(lines, start=1)])


def _running_text(ceiling: Ceiling, datum: Datum, units: str) -> str:
    run = running(ceiling, datum, units)
    if not run.printed:
        return "No tee line." if datum.axis == "u" else "No line along the mains."
    what = "Tee lines" if datum.axis == "u" else "Lines along the mains"
    far = format_length(run.last, units)
    return (
        f"{what} run from {datum.place}, each rounded once; what is left at the far end is {far} "
        f"(rounding {format_residual(run.residual, units)})."
    )


def _border_text(wall: Wall, units: str) -> str:
    if wall.least is None or wall.greatest is None:
        return "no border"
    least, greatest = format_length(wall.least, units), format_length(wall.greatest, units)
    if wall.axis == "oblique" or wall.is_curve:
        return f"narrowest piece {least}"
    return f"border {least}" if least == greatest else f"border {least} to {greatest}"


def _walls(ceiling: Ceiling, setout: SetOut, units: str) -> Block:
    lines = []
    for wall in setout.walls[:_MOST_WALLS]:
        kind = "curve " if wall.is_curve else ""
        lines.append(
            f"{wall.letter}: {kind}{format_length(wall.length, units)}, {_border_text(wall, units)}"
            + (" (column or shaft)" if wall.ring else "")
        )
    if len(setout.walls) > _MOST_WALLS:
        lines.append(f"... and {len(setout.walls) - _MOST_WALLS} more walls: see the record of this room.")
    lines += [_running_text(ceiling, datum, units) for datum in (setout.datum_u, setout.datum_v)]
    return Block(title="Walls and borders", lines=lines)


def _ranges(numbers: list[int]) -> str:
    """H1-6, H9: consecutive numbers taken together."""
    parts: list[list[int]] = []
    for number in numbers:
        if parts and number == parts[-1][1] + 1:
            parts[-1][1] = number
        else:
            parts.append([number, number])
    return ", ".join(f"H{a}" if a == b else f"H{a}-{b}" for a, b in parts)


def _tapers(ceiling: Ceiling, setout: SetOut, units: str) -> list[Block]:
    letters = {(wall.ring, edge): wall.letter for wall in setout.walls for edge in wall.edges}
    lines = taper_sentences(ceiling, letters, lambda x: format_length(x, units))
    return [Block(title="Out of square: cut to measure", lines=lines)] if lines else []


def _hangers(ceiling: Ceiling, setout: SetOut, units: str) -> Block:
    hangers = ceiling.hangers
    rows: dict[tuple[str, ...], list[tuple[str, list[int]]]] = {}
    for line in sorted(set(hangers.line.tolist()), reverse=setout.datum_v.inward < 0):
        chosen = np.flatnonzero(hangers.line == line)
        places = np.abs(hangers.point[chosen, 0] - setout.datum_u.at)
        order = chosen[np.argsort(places, kind="stable")]
        texts = tuple(format_length(abs(hangers.point[k, 0] - setout.datum_u.at), units) for k in order)
        at = format_length(abs(line * ceiling.layout.across - setout.datum_v.at), units)
        rows.setdefault(texts, []).append((at, sorted(int(k) + 1 for k in order)))
    lines = [
        f"{len(hangers)} on {len(set(hangers.line.tolist()))} mains; "
        f"rows from {setout.datum_v.place}, points from {setout.datum_u.place}."
    ]
    for texts, mains in list(rows.items())[:_MOST_ROWS]:
        names = _ranges([n for _, numbers in mains for n in numbers])
        lines.append(f"Row {', '.join(at for at, _ in mains)} ({names}): {', '.join(texts)}")
    if len(rows) > _MOST_ROWS:
        lines.append(f"... and {len(rows) - _MOST_ROWS} more rows: see the plan and the model.")
    drops = hangers.top - hangers.bottom
    known = drops[np.isfinite(drops)]
    if len(known):
        least, most = format_length(float(known.min()), units), format_length(float(known.max()), units)
        lines.append(
            f"Drop from structure to top of main: {least}" + (f" to {most}." if least != most else ".")
        )
    if len(known) < len(drops):
        lines.append(f"{len(drops) - len(known)} hangers have no structure above them in the model.")
    return Block(title="Hangers", lines=[*lines, *kind_lines(ceiling, units)])


def _member_text(ceiling: Ceiling, role: Role, units: str) -> str:
    chosen = np.sort(ceiling.members.length[ceiling.members.role == role])[::-1]
    groups = Counter(format_length(float(x), units) for x in chosen)
    text = f"{_ROLE_WORDS[role]} {len(chosen)}: " + ", ".join(
        f"{count} x {length}" for length, count in list(groups.items())[:_MOST_LENGTHS]
    )
    if len(groups) > _MOST_LENGTHS:
        rest = list(groups.items())[_MOST_LENGTHS:]
        text += f" and {sum(n for _, n in rest)} from {rest[0][0]} down to {rest[-1][0]}"
    return text


def _members(ceiling: Ceiling, units: str) -> Block:
    roles = [role for role in Role if (ceiling.members.role == role).any()]
    return Block(
        title="Members",
        lines=[
            *(_member_text(ceiling, role, units) for role in roles),
            "Lengths are to centre lines and wall faces"
            + (
                "; the cut list says what is cut."
                if ceiling.pieces is not None
                else ": deduct seats and clearances."
            ),
        ],
    )


def _panels(ceiling: Ceiling, units: str, obstacles: Sequence[Obstacle]) -> Block:
    full = int(ceiling.panels.is_full.sum())
    layout = ceiling.layout
    size = f"{format_length(layout.along, units)} x {format_length(layout.across, units)}"
    lines = [f"{full} full and {len(ceiling.panels) - full} cut, module {size}"]
    kinds = {o.key: o.kind.value for o in obstacles}
    counts = Counter((kinds.get(o.key, "device"), o.is_lay_in) for o in ceiling.openings)
    for (kind, is_lay_in), count in sorted(counts.items()):
        lines.append(f"{count} x {kind}, " + ("laid in the grid" if is_lay_in else "cut into a panel"))
    lines += device_lines(ceiling, units)
    if ceiling.layout.reason:
        lines.append(f"Layout: {told(ceiling.layout.reason, units)}")
    return Block(title="Panels and openings", lines=lines)


def _findings(findings: Sequence[Finding], units: str) -> Block:
    found = failing(findings)
    unknown = sum(f.verdict is Verdict.UNKNOWN for f in findings)
    lines = [
        f"{k}. {told(f.message, units)} ({f.rule})" for k, f in enumerate(found[:_MOST_FINDINGS], start=1)
    ]
    if len(found) > _MOST_FINDINGS:
        lines.append(f"... and {len(found) - _MOST_FINDINGS} more: see the record.")
    if not found:
        lines.append("None among the checks that were run.")
    if unknown:
        lines.append(f"{unknown} checks could not be judged: the model lacks the data.")
    return Block(title="Open findings", lines=lines)


def list_blocks(
    ceiling: Ceiling,
    setout: SetOut,
    units: str,
    findings: Sequence[Finding],
    obstacles: Sequence[Obstacle] = (),
) -> list[Block]:
    """All blocks of text, the most needed first."""
    blocks = [_level(ceiling, units), _start(ceiling, setout, units)]
    if failing(findings):
        blocks.append(_findings(findings, units))
    blocks += [_walls(ceiling, setout, units), *_tapers(ceiling, setout, units)]
    if len(ceiling.hangers):
        blocks.append(_hangers(ceiling, setout, units))
    blocks += [_panels(ceiling, units, obstacles), _members(ceiling, units)]
    if cuts := cut_lines(ceiling, setout, units):
        blocks.append(Block(title="Cut list", lines=cuts))
    if not failing(findings):
        blocks.append(_findings(findings, units))
    return blocks
