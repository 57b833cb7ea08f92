"""Blocks of a plan: one for each symbol that occurs, one for room tags, with what they say as attributes."""

from __future__ import annotations

from typing import Any

from ifcgrid.outputs.dxf.document import CAPITAL, REGULAR, Sink
from ifcgrid.outputs.plan.drawing import Drawing, Mark, Tag
from ifcgrid.outputs.plan.symbols import SYMBOLS, Symbol

__all__ = ["GREY", "SHOWN", "TAG_BLOCK", "add_blocks", "block_name", "fill_rings"]

TAG_BLOCK = "ROOM-TAG"
SHOWN = ("NUMBER", "TAG")
"""Facts of a mark that stand beside or in it; all others are there but not seen."""

GREY = (204, 204, 204)
"""A true colour, which a monochrome plot does not turn into black."""

_INVISIBLE = 1
_SOLID_BLACK = 7


def block_name(symbol: str) -> str:
    """The name of a symbol's block."""
    return symbol.upper()


def add_blocks(sink: Sink, drawing: Drawing) -> None:
    """The blocks of all symbols and tags that the drawing uses, in a square of side 1 around the origin."""
    marks = {thing.symbol: thing for thing in drawing.things if isinstance(thing, Mark)}
    for name in sorted(marks):
        block = sink.doc.blocks.new(block_name(name))
        _draw(block, SYMBOLS[name])
        for tag, _ in marks[name].facts:
            _define(block, tag, tag in SHOWN)
    tags = [thing for thing in drawing.things if isinstance(thing, Tag)]
    if tags:
        block = sink.doc.blocks.new(TAG_BLOCK)
        for name in dict.fromkeys(n for tag in tags for n, _ in tag.lines):
            _define(block, name, True)
        for name in dict.fromkeys(n for tag in tags for n, _ in tag.facts):
            _define(block, name, False)


def _define(block: Any, tag: str, is_shown: bool) -> None:
    block.add_attdef(
        tag,
        insert=(0.0, 0.0),
        height=1.0,
        dxfattribs={
            "prompt": tag.lower(),
            "style": REGULAR,
            "flags": 0 if is_shown else _INVISIBLE,
            "layer": "0",
        },
    )


def _draw(block: Any, symbol: Symbol) -> None:
    """Entities on layer 0, which take the layer, colour and weight of where the block is set."""
    for ring, fill in symbol.fills:
        if fill != "white":
            fill_rings(block, [ring], {"layer": "0"}, is_black=fill == "black")
    for x, y, radius, fill in symbol.circles:
        if fill in ("grey", "black"):
            hatch = _solid(block, {"layer": "0"}, is_black=fill == "black")
            hatch.paths.add_edge_path().add_arc((x, y), radius, 0.0, 360.0)
        block.add_circle((x, y), radius, dxfattribs={"layer": "0"})
    for ring in symbol.rings:
        block.add_lwpolyline(ring, close=True, dxfattribs={"layer": "0"})
    for stroke in symbol.strokes:
        block.add_lwpolyline(stroke, dxfattribs={"layer": "0"})
    if symbol.letter:
        letter = block.add_text(
            symbol.letter,
            height=symbol.letter_size * CAPITAL,
            dxfattribs={"layer": "0", "style": REGULAR},
        )
        # 1 = centred, 2 = in the middle (DXF reference, group codes 72 and 73).
        letter.dxf.halign, letter.dxf.valign = 1, 2
        letter.dxf.insert = letter.dxf.align_point = (0.0, 0.0)


def _solid(space: Any, style: dict[str, Any], *, is_black: bool) -> Any:
    hatch = space.add_hatch(color=_SOLID_BLACK, dxfattribs=style)
    if is_black:
        # 0 = as the block is set, so that a finding's pointer has its layer's colour.
        hatch.dxf.color = 0 if style.get("layer") == "0" else 256
    else:
        hatch.rgb = GREY
    return hatch


def fill_rings(space: Any, rings: Any, style: dict[str, Any], *, is_black: bool = False) -> Any:
    """A solid hatch in closed rings, the first the outer one."""
    hatch = _solid(space, style, is_black=is_black)
    for number, ring in enumerate(rings):
        # 1 = an outer boundary, 16 = the outermost; holes bear neither (DXF reference, group code 92).
        hatch.paths.add_polyline_path([tuple(p) for p in ring], is_closed=True, flags=0 if number else 17)
    return hatch
