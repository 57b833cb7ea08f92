"""Why a room's grid lies where it does, and what lost, as sentences in the report's units."""

from __future__ import annotations

from collections.abc import Iterator

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.layout import Candidate
from ifcgrid.domain.seat import Move
from ifcgrid.outputs.explain.terms import say_loss
from ifcgrid.outputs.paper.dimension import told
from ifcgrid.outputs.report.words import length

__all__ = ["say_method", "say_moves", "say_runners_up"]

_MOST_MOVES = 12


def say_method(ceiling: Ceiling) -> str:
    """How the layout was found."""
    proof = ceiling.layout.certificate
    if proof.method == "given":
        return "The grid was measured where it stands; other places were not compared."
    return f"{proof.method}: {proof.tried} layouts compared"


def say_runners_up(ceiling: Ceiling, units: str) -> Iterator[str]:
    """One sentence a layout that lost, the best first."""
    best = ceiling.layout.certificate.best
    for candidate in best[1:]:
        yield f"{_where(ceiling, candidate, best[0], units)}: {_loss(candidate, best[0], units)}"


def _where(ceiling: Ceiling, candidate: Candidate, winner: Candidate, units: str) -> str:
    turn = (candidate.angle_deg - winner.angle_deg) % 180.0
    if not tolerance.is_equal(min(turn, 180.0 - turn), 0.0, tolerance.ANGLE_DEG):
        return f"Mains at {candidate.angle_deg:g}° to X"
    layout = ceiling.layout
    local = layout.frame.to_local([candidate.origin])[0].tolist()
    steps = zip(local, (layout.along, layout.across), strict=True)
    along, across = (length(x - round(x / m) * m + 0.0, units) for x, m in steps)
    unit = " mm" if units == "mm" else ""
    return f"Grid shifted by {along}{unit} along the mains, {across}{unit} across"


def _loss(candidate: Candidate, winner: Candidate, units: str) -> str:
    own, won, term = dict(candidate.scores), dict(winner.scores), candidate.lost_on
    if term in own and term in won:
        return told(f"lost on {say_loss(term, own[term], won[term])}", units)
    return f"as good, lost on {term}" if term else "as good"


def say_moves(ceiling: Ceiling, index: int, units: str) -> Iterator[str]:
    """One sentence a device of a room that is off its seat."""
    moves = [move for move in ceiling.seating.moves if move.room == index]
    yield from (_move(move, units) for move in moves[:_MOST_MOVES])
    if len(moves) > _MOST_MOVES:
        yield f"and {len(moves) - _MOST_MOVES} more, in the list of moves that build --moves writes"


def _move(move: Move, units: str) -> str:
    thing = f"{move.kind} '{move.name}' ({move.hold.value})"
    if move.vector is None:
        return f"{thing}: {move.reason}"
    x, y = (f"{value:+.1f}".removesuffix(".0") for value in move.vector)
    turn = f" and turn it by {move.turn_deg:+.1f}°" if move.turn_deg else ""
    return f"{thing}: move by {told(f'({x}, {y}) mm', units)} in the model's X and Y{turn}"
