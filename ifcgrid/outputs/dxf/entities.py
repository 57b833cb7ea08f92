"""Things of a plan as entities of the model space."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.outputs.dxf.blocks import SHOWN, TAG_BLOCK, block_name, fill_rings
from ifcgrid.outputs.dxf.dimension import add_dimension
from ifcgrid.outputs.dxf.document import APP, BOLD, CAPITAL, REGULAR, Sink
from ifcgrid.outputs.dxf.words import plain
from ifcgrid.outputs.plan.drawing import Area, DimensionLine, Lines, Mark, Outline, Part, Tag, Thing, Words

__all__ = ["add_thing", "place_text"]

_ALIGN = {"start": 0, "middle": 1, "end": 2}
"""Left, centred and right on the baseline (DXF reference, group code 72)."""

_INVISIBLE = 1
_DOT_STEP = 1.6


def add_thing(sink: Sink, space: Any, thing: Thing) -> None:
    """One thing of a plan in a space; each entity carries its part's key as extended data."""
    if isinstance(thing, Lines):
        style = sink.style(thing.part)
        keys = thing.keys or ("",) * len(thing.ends)
        for (start, end), key in zip((thing.ends * sink.factor).tolist(), keys, strict=True):
            _named(space.add_line(start, end, dxfattribs=style), key)
    elif isinstance(thing, Outline):
        for ring in _rings(thing.shape, sink.factor):
            _named(space.add_lwpolyline(ring, close=True, dxfattribs=sink.style(thing.part)), thing.key)
    elif isinstance(thing, Area):
        _area(sink, space, thing)
    elif isinstance(thing, Mark):
        _mark(sink, space, thing)
    elif isinstance(thing, DimensionLine):
        _named(add_dimension(sink, space, thing), "/".join((thing.zone, *map(str, thing.edge))))
    else:
        _tag(sink, space, thing)


def _named(entity: Any, key: str) -> None:
    if key:
        entity.set_xdata(APP, [(1000, plain(key))])


def _rings(shape: Any, factor: float) -> list[list[tuple[float, float]]]:
    return [
        (np.asarray(ring.coords)[:-1, :2] * factor).tolist()
        for part in getattr(shape, "geoms", [shape])
        for ring in (part.exterior, *part.interiors)
    ]


def _area(sink: Sink, space: Any, area: Area) -> None:
    for part in getattr(area.shape, "geoms", [area.shape]):
        rings = _rings(part, sink.factor)
        hatch = fill_rings(space, rings, sink.style(area.part))
        if area.pattern == "dots":
            del hatch.rgb
            hatch.dxf.color = 256
            step = _DOT_STEP * sink.paper
            dots = [[0.0, (0.0, 0.0), (step / 2, step / 2), [0.0, -step]]]
            hatch.set_pattern_fill("NO-GRID", color=256, definition=dots, pattern_type=0)


def _mark(sink: Sink, space: Any, mark: Mark) -> None:
    factor = sink.paper if mark.is_sign else sink.factor
    point = tuple(c * sink.factor for c in mark.point)
    style = {
        **sink.style(mark.part),
        "xscale": mark.size[0] * factor,
        "yscale": mark.size[1] * factor,
        "zscale": min(mark.size) * factor,
        "rotation": mark.angle_deg,
    }
    insert = space.add_blockref(block_name(mark.symbol), point, dxfattribs=style)
    _named(insert, mark.key)
    for tag, value in mark.facts:
        words = mark.words if tag in SHOWN else None
        hidden = Words(point=mark.point, text=value, size=1.0)
        _attribute(sink, insert, tag, words or hidden, is_shown=words is not None, part=mark.part)


def _attribute(sink: Sink, insert: Any, tag: str, words: Words, *, is_shown: bool, part: Part) -> None:
    attribute = insert.add_attrib(
        tag,
        plain(words.text),
        dxfattribs={"layer": sink.layers[part].layer, "flags": 0 if is_shown else _INVISIBLE},
    )
    place_text(attribute, words, sink.factor, sink.paper)


def place_text(text: Any, words: Words, factor: float, paper: float) -> None:
    """Put a text entity in its place: `factor` units to a mm of its point, `paper` to one of its size."""
    text.dxf.height = words.size * CAPITAL * paper
    text.dxf.style = BOLD if words.is_bold else REGULAR
    point = (words.point[0] * factor, words.point[1] * factor)
    text.dxf.insert = point
    text.dxf.halign = _ALIGN[words.anchor]
    if words.anchor != "start":
        text.dxf.align_point = point


def _tag(sink: Sink, space: Any, tag: Tag) -> None:
    style = sink.style(Part.TAG)
    x0, y0, x1, y1 = (c * sink.factor for c in tag.mask)
    # The library forgets the layer of a wipeout that is given it as it is made.
    space.add_wipeout([(x0, y0), (x1, y1)]).dxf.layer = style["layer"]
    if tag.leader:
        points: NDArray[np.float64] = np.array(tag.leader) * sink.factor
        space.add_lwpolyline(points.tolist(), dxfattribs=style)
        space.add_lwpolyline([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], close=True, dxfattribs=style)
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    insert = space.add_blockref(TAG_BLOCK, middle, dxfattribs=style)
    _named(insert, tag.room)
    for name, words in tag.lines:
        _attribute(sink, insert, name, words, is_shown=True, part=Part.TAG)
    for name, value in tag.facts:
        at = Words(point=tag.lines[0][1].point, text=value, size=1.0)
        _attribute(sink, insert, name, at, is_shown=False, part=Part.TAG)
