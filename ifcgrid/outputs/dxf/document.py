"""An empty DXF document with units, layers, line kinds, text and dimension styles, and its bytes."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Lock
from typing import Any

from ifcgrid.domain.errors import OutputError
from ifcgrid.outputs.dxf.words import plain
from ifcgrid.outputs.paper.dimension import fraction_of, is_metric
from ifcgrid.outputs.plan.drawing import Drawing, Part
from ifcgrid.outputs.plan.layers import LINE_WEIGHTS, Layers
from ifcgrid.outputs.plan.paint import DASHES

__all__ = ["APP", "BOLD", "CAPITAL", "DIMENSIONS", "REGULAR", "Sink", "check_dxf", "make_sink", "to_bytes"]

APP = "IFCGRID"
"""Name under which entities carry the keys of our parts (extended data)."""

REGULAR, BOLD = "PLAN", "PLAN-BOLD"
DIMENSIONS = "BORDERS"

CAPITAL = 0.716
"""Height of a capital over the font's size, for Arial and fonts of its measures (its OS/2 table).

DXF texts are as high as their capitals, those of our sheets as their font's size.
"""

_VERSION = "R2010"
_TICK = 0.7
_GAP = 0.4
_LOCK = Lock()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sink:
    """A document to be filled: `factor` brings mm to its units, `scale` mm of paper to mm of building."""

    doc: Any
    factor: float
    scale: float
    units: str
    layers: Layers

    @property
    def paper(self) -> float:
        """Units of the model space in a mm of paper."""
        return self.factor * self.scale

    def style(self, part: Part) -> dict[str, Any]:
        """Layer of a part, and what it has in another way than its layer, which it may share."""
        own = self.layers[part]
        layer = self.doc.layers.get(own.layer)
        attributes: dict[str, Any] = {"layer": own.layer}
        if layer.dxf.color != own.colour:
            attributes["color"] = own.colour
        if layer.dxf.lineweight != round(own.weight * 100):
            attributes["lineweight"] = round(own.weight * 100)
        if layer.dxf.linetype != _line_name(own.line):
            attributes["linetype"] = _line_name(own.line)
        return attributes


def check_dxf() -> None:
    """Looks whether the library that DXF needs is there.

    Raises:
        OutputError: it is not.
    """
    _library()


def _library() -> Any:
    try:
        import ezdxf
    except ImportError as error:
        raise OutputError(
            "DXF needs the library ezdxf, which is not installed: pip install 'ifcgrid[drawings]'"
        ) from error
    return ezdxf


def make_sink(drawing: Drawing, layers: Layers, stamp: Mapping[str, str]) -> Sink:
    """A document for a drawing: model space in whole millimetres or inches, as its lengths are printed.

    Raises:
        OutputError: the extra `drawings` is not installed.
    """
    library = _library()
    with _pinned(library):
        doc = library.new(_VERSION, setup=False)
    factor = 1.0 if is_metric(drawing.units) else 1.0 / 25.4
    sink = Sink(doc=doc, factor=factor, scale=drawing.scale, units=drawing.units, layers=layers)
    _set_header(sink)
    _add_lines(sink)
    _add_layers(sink)
    _add_styles(sink)
    doc.appids.add(APP)
    for name, value in {"title": drawing.title, **stamp}.items():
        doc.header.custom_vars.append(plain(name), plain(str(value)))
    return sink


def _set_header(sink: Sink) -> None:
    header, metric = sink.doc.header, is_metric(sink.units)
    # DXF reference, header variables: 4 = millimetres, 1 = inches; 2 = decimal, 4 = architectural.
    header["$INSUNITS"] = 4 if metric else 1
    header["$MEASUREMENT"] = 1 if metric else 0
    header["$LUNITS"] = 2 if metric else 4
    header["$LUPREC"] = 0 if metric else _digits(sink.units)
    header["$LTSCALE"] = sink.paper
    header["$PSLTSCALE"] = 0
    header["$DIMSCALE"] = sink.paper
    header["$LWDISPLAY"] = 1


def _digits(units: str) -> int:
    """Precision of feet and inches: 1/2 is 1, 1/16 is 4 (DXF reference, DIMDEC)."""
    return fraction_of(units).bit_length() - 1


def _line_name(kind: str) -> str:
    return "Continuous" if kind == "continuous" else kind.upper()


def _add_lines(sink: Sink) -> None:
    for kind, dash in DASHES.items():
        if dash:
            lengths = [float(part) for part in dash.split()]
            signed = [length * (-1) ** k for k, length in enumerate(lengths)]
            sink.doc.linetypes.add(_line_name(kind), pattern=[sum(lengths), *signed], description=kind)


def _add_layers(sink: Sink) -> None:
    for part, own in sink.layers.items():
        if own.layer in sink.doc.layers:
            continue
        layer = sink.doc.layers.add(
            own.layer,
            color=own.colour,
            linetype=_line_name(own.line),
            lineweight=round(own.weight * 100),
            plot=part is not Part.VIEW,
        )
        layer.description = part.value


def _add_styles(sink: Sink) -> None:
    doc = sink.doc
    for name, font in ((REGULAR, "arial.ttf"), (BOLD, "arialbd.ttf")):
        doc.styles.add(name, font=font)
    style = doc.dimstyles.add(DIMENSIONS)
    metric = is_metric(sink.units)
    settings = {
        "dimscale": sink.paper,
        "dimtxsty": REGULAR,
        "dimtxt": 2.2 * CAPITAL,
        "dimtsz": _TICK,
        "dimgap": _GAP,
        "dimexo": 0.0,
        "dimexe": 0.0,
        "dimse1": 1,
        "dimse2": 1,
        "dimtih": 1,
        "dimtoh": 1,
        "dimtmove": 2,
        "dimlunit": 2 if metric else 4,
        "dimdec": 0 if metric else _digits(sink.units),
        "dimzin": 8 if metric else 3,
        "dimfrac": 2,
        "dimtfill": 1,
    }
    for name, value in settings.items():
        style.dxf.set(name, value)
    doc.header["$DIMSTYLE"] = DIMENSIONS
    doc.header["$TEXTSTYLE"] = REGULAR


def nearest_weight(weight: float) -> int:
    """The DXF line weight next to one in mm, in hundredths."""
    return round(min(LINE_WEIGHTS, key=lambda known: (abs(known - weight), known)) * 100)


@contextmanager
def _pinned(library: Any) -> Iterator[None]:
    """Dates and random ids of the file fixed, so that the same drawing gives the same bytes."""
    with _LOCK:
        before = library.options.write_fixed_meta_data_for_testing
        library.options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            library.options.write_fixed_meta_data_for_testing = before


def to_bytes(sink: Sink) -> bytes:
    """The document as a file."""
    target = io.StringIO()
    with _pinned(_library()):
        sink.doc.update_all()
        # The library names the classes of a file in the order of a set.
        classes = sink.doc.classes.classes
        ordered = sorted(classes.items())
        classes.clear()
        classes.update(ordered)
        sink.doc.write(target)
    return target.getvalue().encode("utf-8")
