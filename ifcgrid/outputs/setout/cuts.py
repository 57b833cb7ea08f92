"""What a sheet says of all that is cut, by its marks, and of hangers that do not go straight up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling, Panels, Role
from ifcgrid.domain.hanging import HangerKind, Pieces
from ifcgrid.domain.marks import mark_panels
from ifcgrid.domain.parts import MemberPart, find_parts
from ifcgrid.outputs.paper.dimension import unbroken as _print
from ifcgrid.outputs.setout.control import SetOut

__all__ = ["cut_lines", "kind_lines"]

_MOST_MARKS = 200
_MOST_ROWS = 200
_TEES = (Role.CROSS_TEE, Role.SECOND_TEE)
_WORDS = {
    Role.MAIN_RUNNER: "Mains",
    Role.CROSS_TEE: "Cross tees",
    Role.SECOND_TEE: "Second-rank tees",
    Role.WALL_ANGLE: "Wall angle",
}


def kind_lines(ceiling: Ceiling, units: str) -> list[str]:
    """Which hangers lean and which hang from trapezes, by number, and how long wires are cut."""
    hangers, rules = ceiling.hangers, ceiling.system.hanging
    words = {
        HangerKind.SPLAYED: f"lean past something, at most 1 in {rules.splay:g}",
        HangerKind.COUNTER: "lean back to cancel their side pull",
        HangerKind.TRAPEZE: "hang from trapezes",
    }
    lines = []
    for kind, what in words.items():
        chosen = np.flatnonzero(hangers.kinds == kind)
        if len(chosen):
            lines.append(f"{', '.join(f'H{k + 1}' for k in chosen.tolist())} {what}.")
    if ceiling.trapezes is not None and len(ceiling.trapezes):
        length = np.hypot(*(ceiling.trapezes.ends[:, 1] - ceiling.trapezes.ends[:, 0]).T)
        groups = Counter(_print(float(x), units) for x in np.sort(length)[::-1])
        bars = ", ".join(f"{count} x {text}" for text, count in groups.items())
        lines.append(f"Trapeze bars between rods: {bars}.")
    known = hangers.lengths[np.isfinite(hangers.lengths) & (hangers.kinds != HangerKind.TRAPEZE)]
    if len(known) and rules.wire_allowance > 0:
        longest = _print(float(known.max()) + rules.wire_allowance, units)
        lines.append(
            f"Cut wires {_print(rules.wire_allowance, units)} longer than they hang, for the wraps: "
            f"up to {longest}."
        )
    return lines


def cut_lines(ceiling: Ceiling, setout: SetOut, units: str) -> list[str]:
    """The cut list: marks with their sizes, what every main is made of and where it is spliced.

    Mains and tees whose pieces were not worked out are given as whole bars and rests.
    """
    parts = [part for part in find_parts(ceiling) if part.piece is None]
    of_bars = [line for role in Role if (line := _bars(parts, role, units))]
    lines, stock = _piece_lines(ceiling, setout, units)
    return [*lines, *of_bars, *_panels(ceiling.panels, units), *stock]


def _piece_lines(ceiling: Ceiling, setout: SetOut, units: str) -> tuple[list[str], list[str]]:
    """What is said of mains and tees, and of the stock that they are cut from."""
    pieces = ceiling.pieces
    if pieces is None or not len(pieces):
        return [], []
    role = ceiling.members.role[pieces.member]
    lines = []
    if (role == Role.MAIN_RUNNER).any():
        towards = "from" if setout.datum_u.inward > 0 else "towards"
        lines.append(f"Mains are laid {towards} {setout.datum_u.place}; splices are measured from it.")
        lines += _main_rows(ceiling, pieces, setout, units)
        lines += _marks(pieces, np.flatnonzero(role == Role.MAIN_RUNNER), units, is_main=True)
    lines += _marks(pieces, np.flatnonzero(np.isin(role, _TEES)), units, is_main=False)
    return lines, _stock(pieces, role == Role.MAIN_RUNNER, units)


def _bars(parts: Sequence[MemberPart], role: Role, units: str) -> str:
    """The marks of parts of one role that only lengths tell apart; "" where there are none."""
    own = [part for part in parts if part.role is role]
    counts, first = Counter(part.mark for part in own), {part.mark: part for part in own[::-1]}
    texts = [
        f"{mark} {count} x {_print(first[mark].length, units)}" + (" whole" if first[mark].is_whole else "")
        for mark, count in counts.items()
    ]
    return f"{_WORDS[role]}: {_listed(texts)}" if texts else ""


def _panels(panels: Panels, units: str) -> list[str]:
    """The marks of cut panels with their sides along both axes; the outlines of others are in the model."""
    marks = mark_panels(panels)
    counts = Counter(marks[k] for k in np.flatnonzero(~panels.is_full).tolist())
    first = {mark: k for k, mark in reversed(list(enumerate(marks)))}
    texts = []
    for mark, count in counts.items():
        k = first[mark]
        along, across = (panels.bounds[k, 2:] - panels.bounds[k, :2]).tolist()
        shape = " to its outline" if k in panels.outlines else ""
        texts.append(f"{mark} {count} x {_print(along, units)} x {_print(across, units)}{shape}")
    return [f"Cut panels, along mains x across: {_listed(texts)}"] if texts else []


def _listed(texts: Sequence[str]) -> str:
    shown = [text.replace(" ", "\u00a0") for text in texts[:_MOST_MARKS]]
    if len(texts) > _MOST_MARKS:
        shown.append(f"and {len(texts) - _MOST_MARKS} more kinds: see the take-off's cut list")
    return "; ".join(shown) + "."


def _main_rows(ceiling: Ceiling, pieces: Pieces, setout: SetOut, units: str) -> list[str]:
    members, datum = ceiling.members, setout.datum_u
    rows: dict[tuple[str, str], list[str]] = {}
    mains = np.flatnonzero(members.role == Role.MAIN_RUNNER)
    for main in mains[:: setout.datum_v.inward].tolist():
        own = np.flatnonzero(pieces.member == main)
        places = members.start[main, 0] + pieces.start[own[1:]]
        splices = ", ".join(_print(abs(float(u) - datum.at), units) for u in places)
        at = _print(abs(float(members.start[main, 1]) - setout.datum_v.at), units)
        rows.setdefault((" + ".join(pieces.mark[k] for k in own.tolist()), splices), []).append(at)
    lines = []
    for (marks, joints), places_across in list(rows.items())[:_MOST_ROWS]:
        where = f", spliced at {joints}" if joints else ", no splice"
        lines.append(f"Main {', '.join(places_across)}: {marks}{where}")
    if len(rows) > _MOST_ROWS:
        lines.append(f"... and {len(rows) - _MOST_ROWS} more: see the model.")
    return lines


def _marks(pieces: Pieces, chosen: np.ndarray, units: str, *, is_main: bool) -> list[str]:
    counts = Counter(pieces.mark[k] for k in chosen.tolist())
    first = {pieces.mark[k]: k for k in chosen[::-1].tolist()}
    texts = [
        f"{mark} {count} x {_piece(pieces, first[mark], units, is_main=is_main)}"
        for mark, count in counts.items()
    ]
    if texts and not is_main:
        return [_listed(texts)]
    shown, rest = texts[:_MOST_MARKS], texts[_MOST_MARKS:]
    return [*shown, f"and {len(rest)} more kinds: see the take-off's cut list"] if rest else shown


def _piece(pieces: Pieces, k: int, units: str, *, is_main: bool) -> str:
    """A piece's length, its cut ends, and of a main where its first hole is."""
    text = _print(float(pieces.length[k]), units)
    start, end = pieces.is_factory[k].tolist()
    if not is_main:
        return text + (" whole" if start and end else " cut" if start or end else " cut at both ends")
    if start and end:
        return f"{text} whole"
    text += " cut at both ends" if not (start or end) else " cut at its end" if start else " cut at its start"
    if not start and np.isfinite(pieces.first_hole[k]):
        text += f", first hole {_print(float(pieces.first_hole[k]), units)} from that cut"
    if not start and pieces.stock_start is not None and pieces.stock_start[k] > tolerance.LENGTH:
        text += f" ({_print(float(pieces.stock_start[k]), units)} off a stock main)"
    return text


def _stock(pieces: Pieces, is_main: np.ndarray, units: str) -> list[str]:
    if pieces.stock is None or pieces.stock_length is None:
        return []
    texts = []
    for of_mains, what in ((True, "mains"), (False, "tees")):
        chosen = np.flatnonzero(is_main == of_mains)
        _, first = np.unique(pieces.stock[chosen], return_index=True)
        groups = Counter(pieces.stock_length[chosen[first]].tolist())
        texts += [
            f"{count} {what} of {_print(length, units)}" for length, count in sorted(groups.items())[::-1]
        ]
    return [f"Stock: {', '.join(texts)}."]
