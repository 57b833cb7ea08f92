"""One screen of text: why a room's grid lies where it does, what lost, and what would change it."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from textwrap import wrap

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.explanation import Flip
from ifcgrid.domain.layout import Candidate
from ifcgrid.domain.seat import Move
from ifcgrid.outputs.explain.terms import say_loss, say_value
from ifcgrid.outputs.measured import measured_sentences
from ifcgrid.outputs.setout.wall import Wall, name_walls

__all__ = ["format_explanation"]

_WIDTH = 100
_MOST_WALLS = 12
_MOST_RUNNERS_UP = 6
_MOST_MOVES = 8
_INDENT = 10

_AXES = {"u": "along the mains", "v": "across the mains", "oblique": "oblique", "": "no border"}


def _clean(text: str) -> str:
    """Text without characters that would move the cursor of a terminal."""
    return "".join("?" if unicodedata.category(c)[0] == "C" else c for c in text)


def _mm(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _entry(name: str, text: str) -> list[str]:
    """A name and its text, wrapped beside it."""
    lines = wrap(_clean(text), _WIDTH - _INDENT) or [""]
    return [f"{name:<{_INDENT}}{lines[0]}", *(" " * _INDENT + line for line in lines[1:])]


def _list(title: str, lines: Iterable[str]) -> list[str]:
    found = list(lines)
    wrapped = [part for line in found for part in wrap(line, _WIDTH - 2, subsequent_indent="     ")]
    return ["", title, *(f"  {line}" for line in wrapped)] if found else []


def _head(ceiling: Ceiling) -> list[str]:
    layout, policy, system = ceiling.layout, ceiling.policy, ceiling.system
    rooms = ceiling.zone.rooms
    names = " + ".join(" ".join(filter(None, (r.number, r.name))) for r in rooms)
    place = f", {rooms[0].storey}" if rooms[0].storey else ""
    full = int(ceiling.panels.is_full.sum())
    lines = _entry("Room", f"{names}{place}: {ceiling.zone.outline.area / 1e6:.2f} m2")
    if policy is not None:
        lines += _entry("Policy", f"{policy.id}: {policy.title}")
        lines += _entry("", f"least border {policy.minimum_words}; {policy.source} [{policy.basis}]")
    lines += _entry(
        "Layout",
        f"{system.id}, {layout.columns} x {layout.rows} cells of {_mm(layout.along)} x {_mm(layout.across)}, "
        f"mains at {layout.frame.angle_deg:g} degrees to X; {full} full and {len(ceiling.panels) - full} "
        "cut panels",
    )
    if layout.set_out_from:
        lines += _entry("Start", layout.set_out_from)
    certificate = layout.certificate
    how = f"{certificate.method}, {certificate.tried} layouts compared"
    if certificate.resolution:
        how += f", offsets to {certificate.resolution:g} mm"
    return lines + _entry("Result", layout.reason) + _entry("Proof", how)


def _wall_line(wall: Wall, is_narrow: bool) -> str:
    if wall.least is None or wall.greatest is None:
        border = "-"
    elif wall.is_tapered:
        border = f"{_mm(wall.least)} to {_mm(wall.greatest)}"
    else:
        border = _mm(wall.least)
    where = "outline" if wall.ring == 0 else f"hole {wall.ring}"
    mark = "  below the minimum" if is_narrow else ""
    return f"{wall.letter:<3} {_mm(wall.length):>9}  {border:>16}  {_AXES[wall.axis]}, {where}{mark}"


def _walls(ceiling: Ceiling) -> list[str]:
    """Every wall with its border; of many the narrowest, and how wide the others are at least."""
    walls = name_walls(ceiling)
    narrow = {wall.letter for wall in walls for e in wall.edges if (wall.ring, e) in ceiling.layout.narrow}
    shown = list(walls)
    if len(walls) > _MOST_WALLS:
        shown.sort(key=lambda w: (w.letter not in narrow, w.least if w.least is not None else float("inf")))
        shown = shown[:_MOST_WALLS]
    lines = ["", f"{'Wall':<4} {'length':>10}  {'border':>16}  measured"]
    lines += [f"  {_wall_line(wall, wall.letter in narrow)}" for wall in shown]
    rest = [wall for wall in walls if wall not in shown]
    if rest:
        least = min((wall.least for wall in rest if wall.least is not None), default=0.0)
        lines.append(f"  and {len(rest)} more walls, none with less than {_mm(least)}")
    return lines


def _runner_up(place: int, candidate: Candidate, winner: Candidate, ceiling: Ceiling) -> str:
    (u, v) = ceiling.layout.frame.to_local([candidate.origin])[0].tolist()
    turn = (candidate.angle_deg - winner.angle_deg) % 180.0
    if tolerance.is_equal(turn, 0.0, tolerance.ANGLE_DEG):
        shift = [x - round(x / m) * m for x, m in zip((u, v), _modules(ceiling), strict=True)]
        where = f"grid shifted by {_mm(shift[0] + 0.0)} along, {_mm(shift[1] + 0.0)} across"
    else:
        where = f"mains at {candidate.angle_deg:g} degrees to X"
    own, won = dict(candidate.scores), dict(winner.scores)
    term = candidate.lost_on
    if term in own and term in won:
        return f"{place}. {where}: lost on {say_loss(term, own[term], won[term])}"
    return f"{place}. {where}: as good, lost on {term}"


def _modules(ceiling: Ceiling) -> tuple[float, float]:
    return (ceiling.layout.along, ceiling.layout.across)


def _runners_up(ceiling: Ceiling) -> list[str]:
    winner, *others = ceiling.layout.certificate.best
    return [
        _runner_up(k, candidate, winner, ceiling)
        for k, candidate in enumerate(others[:_MOST_RUNNERS_UP], start=2)
    ]


def _move(move: Move) -> str:
    text = f"{move.kind} {_clean(move.name)} ({move.hold})"
    if move.vector is None:
        return f"{text}: {_clean(move.reason)}"
    x, y = ("0" if abs(value) < 0.05 else f"{value:+.1f}".removesuffix(".0") for value in move.vector)
    turn = f" and turn it by {move.turn_deg:+.1f} degrees" if move.turn_deg else ""
    return f"move {text} by ({x}, {y}) mm in X and Y{turn}"


def _devices(ceiling: Ceiling) -> list[str]:
    seating = ceiling.seating
    if not seating.seated and not seating.moves:
        return []
    lines = [f"{len(seating.seated)} on their seats, {len(seating.moves)} off"]
    lines += [_move(move) for move in seating.moves[:_MOST_MOVES]]
    if len(seating.moves) > _MOST_MOVES:
        lines.append(f"and {len(seating.moves) - _MOST_MOVES} more")
    if seating.cost:
        lines.append("what the fixed ones cost (with them; without):")
        lines += [
            f"   {s.term}: {say_value(s.term, s.heeded)}; {say_value(s.term, s.unheeded)}"
            for s in seating.cost
        ]
    return lines


def _flip(flip: Flip) -> str:
    words = "narrower" if flip.change < 0 else "wider"
    return (
        f"{_mm(abs(flip.change))} mm {words} {_AXES[flip.axis]}: {flip.after} cells instead of "
        f"{flip.before}, narrowest border {_mm(flip.border)} mm"
    )


def format_explanation(ceiling: Ceiling, flips: Sequence[Flip] = ()) -> str:
    """Why a ceiling's grid lies where it does. Lengths in mm; walls by the letters of the set-out sheet."""
    lines = _head(ceiling) + _walls(ceiling)
    lines += _list("Measured on site", map(_clean, measured_sentences(ceiling, _mm)))
    lines += _list("Runners-up", _runners_up(ceiling))
    lines += _list("Devices", _devices(ceiling))
    lines += _list("What would change the number of panels", map(_flip, flips))
    return "\n".join(lines)
