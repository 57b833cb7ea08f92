"""The lists beside a plan: kinds of ceiling, findings, rooms without one, what found no place on the plan."""

from __future__ import annotations

from collections.abc import Sequence

from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.dimension import told
from ifcgrid.outputs.paper.sheet import Block, flow_blocks
from ifcgrid.outputs.paper.text import Label
from ifcgrid.outputs.plan.content import Storey
from ifcgrid.outputs.plan.kinds import CeilingKinds

__all__ = ["LIST_TEXT", "draw_list", "list_blocks"]

LIST_TEXT = 2.8
"""Size of the text of lists in mm."""

_MOST_FINDINGS = 30


def list_blocks(
    storey: Storey, kinds: CeilingKinds, left: Sequence[str], findings: Sequence[Finding]
) -> list[Block]:
    """The lists in their order; `left` tells what found no place, `findings` are all of the storey."""
    blocks = [Block(title="Ceilings", lines=kinds.lines)] if kinds.lines else []
    blocks.append(Block(title="Findings that fail", lines=_finding_lines(storey)))
    unknown = sum(f.verdict is Verdict.UNKNOWN for f in findings)
    if unknown:
        checks = "1 check" if unknown == 1 else f"{unknown} checks"
        blocks.append(Block(title="Not judged", lines=[f"{checks}: the model lacks the data."]))
    if storey.omitted:
        lines = [f"{' '.join(t for t in (o.number, o.name) if t)}: {o.reason}" for o in storey.omitted]
        blocks.append(Block(title="Rooms without a ceiling", lines=lines))
    if left:
        blocks.append(Block(title="Rooms with too little space on the plan", lines=list(left)))
    return blocks


def _finding_lines(storey: Storey) -> list[str]:
    if not storey.failing:
        return ["None among the checks that were run."]
    names = {room.key: room.number or room.name for c in storey.ceilings for room in c.zone.rooms}
    lines = []
    for number, found in enumerate(storey.failing[:_MOST_FINDINGS], start=1):
        where = names.get(found.room, "")
        accepted = f" - accepted by {found.waiver.by}: {found.waiver.reason}" if found.waiver else ""
        words = f"{told(found.message, storey.units)}{accepted}"
        lines.append(f"{number}. {where + ': ' if where else ''}{words}")
    if len(storey.failing) > _MOST_FINDINGS:
        lines.append(f"... and {len(storey.failing) - _MOST_FINDINGS} more: see the record.")
    return lines


def draw_list(canvas: Canvas, blocks: Sequence[Block], column: Box) -> None:
    """The list; where it has more than the column holds, the last line says so."""
    note_height = 2.0 * LIST_TEXT
    lost = flow_blocks(None, blocks, [column], LIST_TEXT)
    if lost:
        column = Box(column.left, column.top, column.right, column.bottom - note_height)
        lost = flow_blocks(None, blocks, [column], LIST_TEXT)
        text = f"... and {lost} lines more: see the record."
        canvas.put(Label(x=column.left, y=column.bottom + 0.8 * note_height, text=text, size=LIST_TEXT))
    flow_blocks(canvas, blocks, [column], LIST_TEXT)
