"""The lists of a room's set-out sheet: walls, hangers, members, panels, findings, and their order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.outputs.paper.columns import Block
from ifcgrid.outputs.paper.dimension import Run, format_residual, run_dimensions, told
from ifcgrid.outputs.paper.dimension import unbroken as format_length
from ifcgrid.outputs.setout.control import Datum, SetOut
from ifcgrid.outputs.setout.corners import find_corners
from ifcgrid.outputs.setout.cuts import cut_lines, kind_lines
from ifcgrid.outputs.setout.devices import Device, device_block
from ifcgrid.outputs.setout.level import level_block
from ifcgrid.outputs.setout.start import start_block
from ifcgrid.outputs.setout.wall import Wall
from ifcgrid.outputs.setout.work import hold_block, order_block
from ifcgrid.outputs.setting_out import taper_sentences

__all__ = ["FIRST_PAGE", "failing", "hanger_numbers", "list_blocks", "run_lines", "running"]

FIRST_PAGE = 2
"""The first blocks, level and start, stand beside the plan whatever else finds room there."""

_ROLE_WORDS = {
    Role.MAIN_RUNNER: "Main runners",
    Role.CROSS_TEE: "Cross tees",
    Role.SECOND_TEE: "Second-rank tees",
    Role.WALL_ANGLE: "Wall angle",
}
_MOST_LENGTHS = 6
_MOST_WALLS = 400
_MOST_ROWS = 200
_MOST_FINDINGS = 80
_MOST_DEVICES = 1000


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
    askew = [corner for corner in find_corners(setout.walls) if not corner.is_square]
    if askew:
        angles = ", ".join(f"{c.name} {c.angle_deg:.2f}°" for c in askew[:_MOST_WALLS])
        lines.append(f"Corners that are not square: {angles}.")
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


def _panels(ceiling: Ceiling, units: str, devices: Sequence[Device]) -> Block:
    full = int(ceiling.panels.is_full.sum())
    layout = ceiling.layout
    size = f"{format_length(layout.along, units)} x {format_length(layout.across, units)}"
    lines = [f"{full} full and {len(ceiling.panels) - full} cut, module {size}"]
    counts = Counter((d.kind, d.is_lay_in) for d in devices if d.ring is not None)
    for (kind, is_lay_in), count in sorted(counts.items()):
        lines.append(f"{count} x {kind}, " + ("laid in the grid" if is_lay_in else "cut into a panel"))
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
        checks = "1 check" if unknown == 1 else f"{unknown} checks"
        lines.append(f"{checks} could not be judged: the model lacks the data.")
    return Block(title="Open clashes and findings", lines=lines)


def list_blocks(
    ceiling: Ceiling,
    setout: SetOut,
    units: str,
    findings: Sequence[Finding],
    devices: Sequence[Device] = (),
    *,
    laser: float | None = None,
    remarks: Sequence[Block] = (),
) -> list[Block]:
    """All blocks of text, the most needed first; `laser` as in `level_block`."""
    blocks = [level_block(ceiling, units, laser), start_block(ceiling, setout, units), *remarks]
    if failing(findings):
        blocks.append(_findings(findings, units))
    blocks += [_walls(ceiling, setout, units), *_tapers(ceiling, setout, units)]
    blocks.append(order_block(ceiling, setout))
    if devices:
        blocks.append(device_block(ceiling, setout, units, devices, _MOST_DEVICES))
    if len(ceiling.hangers):
        blocks.append(_hangers(ceiling, setout, units))
    if not failing(findings):
        blocks.append(_findings(findings, units))
    blocks.append(hold_block(units))
    if cuts := cut_lines(ceiling, setout, units):
        blocks.append(Block(title="Cut list", lines=cuts))
    blocks += [_panels(ceiling, units, devices), _members(ceiling, units)]
    return blocks
