"""The order of work and the hold points, with what this room has of them."""

from __future__ import annotations

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.outputs.paper.columns import Block
from ifcgrid.outputs.paper.dimension import is_metric
from ifcgrid.outputs.setout.control import SetOut

__all__ = ["hold_block", "order_block"]

_SIGN = "Name, date: ________________________"

_LEVEL = {
    True: "3 mm (Qatar Construction Specification, 24-14)",
    False: "1/8\u00a0in in 12\u00a0ft (from memory)",
}
"""How level the grid has to be; the specification of the job goes first."""


def order_block(ceiling: Ceiling, setout: SetOut) -> Block:
    """What is done after what (US Navy NAVEDTRA 14044, Builder, p. 5-17; bracing: common practice)."""
    strings = {0: "the borders", 1: "the string", 2: "strings 1 and 2"}[len(setout.lines)]
    steps = [
        "Level: a line round the room at the underside of the grid; where its ends meet they must agree.",
        "Wall angle on that line, corners lapped or mitred.",
        f"Control: stretch {strings}, square them, check the room's diagonals.",
        "Hangers at the numbered points; bend each wire where it meets the main's top.",
    ]
    if setout.first_tee is not None:
        steps += [
            "Mains, the first one along its string: cut the start of every main so that a hole lies on the "
            "first tee line; level by laser.",
            "Tees: the first full row, then both diagonals, then the rest; border tees last, each measured.",
        ]
    else:
        steps.append("Mains and tees, if any, each one measured.")
    if ceiling.braces is not None and len(ceiling.braces):
        steps.append("Brace sets where the model has them, before panels.")
    if ceiling.openings or ceiling.seating.moves:
        steps.append("Lights, air terminals and access, each held up as the engineer says.")
    steps.append("Panels, border ones last, each one measured.")
    lines = [f"{k}. {text}" for k, text in enumerate(steps, start=1)]
    return Block(title="Order of work (US Navy NAVEDTRA 14044, p. 5-17)", lines=lines)


def hold_block(units: str) -> Block:
    """Where work stops until somebody has looked and signed.

    Weathertight, wet trades done, work above tested and devices agreed: Qatar Construction
    Specification, section 24 part 14, 14.1.2. The others: common practice, no source.
    """
    points = (
        "Before setting out: the building is weathertight, wet trades are done; walls, diagonals and level "
        "are measured at ceiling height and agree with this sheet, or the room is laid out again.",
        "Before hangers: work above is tested and approved; lights, air terminals, sprinklers and access "
        "are agreed; nothing above touches the ceiling or its hangers; the engineer has approved fixings.",
        f"Before panels: grid level within {_LEVEL[is_metric(units)]}, square and in line; hangers, bracing "
        "and what devices hang by are complete; the inspection above the ceiling is passed.",
        "After panels: clean, whole, the right way round; devices in place; spares handed over.",
    )
    lines = [text for k, point in enumerate(points, start=1) for text in (f"Hold {k}. {point}", _SIGN)]
    return Block(title="Hold points: stop until signed", lines=lines)
