"""A storey's plan as a DXF file: model space in true size, and the sheet with a view of it."""

from __future__ import annotations

from ifcgrid.outputs.cautions import caution_texts
from ifcgrid.outputs.dxf.blocks import add_blocks
from ifcgrid.outputs.dxf.document import Sink, make_sink, to_bytes
from ifcgrid.outputs.dxf.entities import add_thing, place_text
from ifcgrid.outputs.dxf.sheet import add_sheet
from ifcgrid.outputs.dxf.words import plain
from ifcgrid.outputs.paper.text import wrap_text
from ifcgrid.outputs.plan.drawing import Part, Words
from ifcgrid.outputs.plan.storey_sheet import StoreySheet

__all__ = ["write_storey_dxf"]

_NOTE = 2.8
_TITLE = 5.0
_LINE = 1.4
_LEAST_WIDTH = 150.0


def write_storey_dxf(sheet: StoreySheet) -> bytes:
    """The plan as a DXF file (2010 format, text in UTF-8), the same bytes for the same drawing.

    Model space holds every member as a LINE, hangers, devices, findings and room tags as
    INSERTs with attributes, borders as DIMENSIONs and walls as HATCHes, in millimetres or
    inches as the header says, on the layers of `sheet.layers`; every entity carries the key
    of its part. The paper space shows the sheet.

    Raises:
        OutputError: the extra `drawings` is not installed.
    """
    sink = make_sink(sheet.drawing, sheet.layers, sheet.stamp)
    space = sink.doc.modelspace()
    add_blocks(sink, sheet.drawing)
    for thing in sheet.drawing.things:
        add_thing(sink, space, thing)
    _add_notes(sink, sheet)
    add_sheet(sink, sheet)
    _show(sink, sheet)
    return to_bytes(sink)


def _add_notes(sink: Sink, sheet: StoreySheet) -> None:
    """Title, cautions and provenance below the plan: not every reader shows the paper space."""
    x0, y0, x1, _ = sheet.drawing.extent
    width = max((x1 - x0) / sink.scale, _LEAST_WIDTH)
    texts = [
        (sheet.drawing.title, _TITLE),
        *((line, _NOTE) for text in sheet.notes for line in wrap_text(text, width, _NOTE)),
        *((line, _NOTE) for text in caution_texts(is_short=True) for line in wrap_text(text, width, _NOTE)),
        *((f"{name}: {value}", _NOTE) for name, value in sheet.stamp.items()),
    ]
    y = y0 - 12.0 * sink.scale
    space = sink.doc.modelspace()
    for text, size in texts:
        y -= size * _LINE * sink.scale
        words = Words(point=(x0, y), text=text, size=size, anchor="start", is_bold=size == _TITLE)
        entity = space.add_text(plain(text), dxfattribs={"layer": sink.layers[Part.NOTE].layer})
        place_text(entity, words, sink.factor, sink.paper)


def _show(sink: Sink, sheet: StoreySheet) -> None:
    """What is seen when the file is opened: the whole plan."""
    x0, y0, x1, y1 = (c * sink.factor for c in sheet.drawing.extent)
    sink.doc.header["$EXTMIN"], sink.doc.header["$EXTMAX"] = (x0, y0, 0.0), (x1, y1, 0.0)
    space = sink.doc.modelspace()
    space.dxf.extmin, space.dxf.extmax = (x0, y0, 0.0), (x1, y1, 0.0)
    height = max(y1 - y0, (x1 - x0) / 2) * 1.2
    sink.doc.set_modelspace_vport(height=height, center=((x0 + x1) / 2, (y0 + y1) / 2))
