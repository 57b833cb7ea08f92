"""Drawings as a PDF: one page each, true to scale, with the sheets' own font embedded.

Needs the extra `drawings`. The file holds no date, so that the same drawing gives the same bytes.
"""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Sequence
from typing import Any

from ifcgrid.domain.errors import OutputError
from ifcgrid.outputs.paper.canvas import Canvas, Path, Text
from ifcgrid.outputs.paper.font import font_path, shown

__all__ = ["has_pdf", "write_pdf"]

_POINT = 72.0 / 25.4
"""Points in a millimetre (ISO 32000-1, 8.3.2.3: a unit of user space is 1/72 in)."""

_FACES = {False: "ifcgrid-regular", True: "ifcgrid-bold"}


def has_pdf() -> bool:
    """Whether the library that PDF needs is there."""
    try:
        import reportlab  # noqa: F401
    except ImportError:
        return False
    return True


def _library() -> Any:
    """The library's canvas, with the fonts made known to it.

    Raises:
        OutputError: the library is not there.
    """
    try:
        from reportlab.pdfbase import pdfmetrics
        from reportlab.pdfbase.ttfonts import TTFont
        from reportlab.pdfgen import canvas
    except ImportError as error:
        raise OutputError(
            "PDF needs the library reportlab, which is not installed: pip install 'ifcgrid[drawings]', or "
            "choose the format svg"
        ) from error
    for is_bold, name in _FACES.items():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(font_path(is_bold=is_bold))))
    return canvas


def write_pdf(pages: Sequence[Canvas], *, title: str = "") -> bytes:
    """The pages as one PDF file.

    Args:
        pages: drawings in their order; each page has its drawing's size.
        title: the document's title, the first page's if "".

    Raises:
        OutputError: the extra `drawings` is not installed.
    """
    library = _library()
    target = io.BytesIO()
    file = library.Canvas(target, invariant=1, pageCompression=1, lang="en")
    file.setTitle(title or (pages[0].title if pages else ""))
    file.setAuthor("ifcgrid")
    file.setSubject("suspended ceilings")
    file.setCreator("ifcgrid")
    for page in pages:
        file.setPageSize((page.page.width * _POINT, page.page.height * _POINT))
        file.saveState()
        file.scale(_POINT, _POINT)
        file.setLineJoin(1)
        _draw(file, page)
        file.restoreState()
        file.showPage()
    file.save()
    return target.getvalue()


def _draw(file: Any, page: Canvas) -> None:
    height = page.page.height
    for shape in page.shapes:
        if isinstance(shape, Path):
            _path(file, shape, height)
        else:
            is_filled = _fill(file, shape.fill)
            _stroke(file, shape.weight, "#000", "")
            file.circle(shape.x, height - shape.y, shape.radius, stroke=1, fill=int(is_filled))
    for text in page.texts:
        if text.has_rim:
            _clear(file, text, height)
    for text in page.texts:
        _text(file, text, height)


def _grey(colour: str) -> float:
    """The grey of #rgb or #rrggbb, 0 black to 1 white."""
    digits = colour.lstrip("#")
    return int(digits[0] * 2 if len(digits) == 3 else digits[:2], 16) / 255


def _fill(file: Any, fill: str) -> bool:
    if fill == "none":
        return False
    file.setFillGray(_grey(fill))
    return True


def _stroke(file: Any, weight: float, colour: str, dash: str) -> None:
    file.setStrokeGray(_grey(colour))
    file.setLineWidth(weight)
    file.setDash([float(part) for part in dash.split()])


def _path(file: Any, path: Path, height: float) -> None:
    outline = file.beginPath()
    for part in path.parts:
        (x, y), *rest = part.tolist()
        outline.moveTo(x, height - y)
        for x, y in rest:
            outline.lineTo(x, height - y)
        if path.is_closed:
            outline.close()
    is_filled = _fill(file, path.fill)
    if path.weight:
        _stroke(file, path.weight, path.colour, path.dash)
    if is_filled or path.weight:
        file.drawPath(outline, stroke=int(bool(path.weight)), fill=int(is_filled), fillMode=0)


def _clear(file: Any, text: Text, height: float) -> None:
    """White under a text, where an SVG has a white rim around its letters."""
    box = text.label.box
    file.setFillGray(1.0)
    file.rect(box.left, height - box.bottom, box.width, box.height, stroke=0, fill=1)


def _in_reading_order(text: str) -> str:
    """Letters in the order in which they stand from left to right: runs of right-to-left ones turned."""
    kinds = [unicodedata.bidirectional(letter) for letter in text]
    places = [k for k, kind in enumerate(kinds) if kind in ("R", "AL")]
    if not places:
        return text
    letters, k = list(text), 0
    while k < len(places):
        first = last = places[k]
        while k < len(places) and not any(kind in ("L", "EN") for kind in kinds[last : places[k]]):
            last, k = places[k], k + 1
        letters[first : last + 1] = letters[first : last + 1][::-1]
    return "".join(letters)


def _text(file: Any, text: Text, height: float) -> None:
    label = text.label
    words = _in_reading_order(shown(label.text, is_bold=label.is_bold))
    if not words.strip():
        return
    box = label.box
    file.setFillGray(_grey(text.colour))
    line = file.beginText()
    if label.is_vertical:
        line.setTextTransform(0, 1, -1, 0, label.x, height - box.bottom)
    else:
        line.setTextOrigin(box.left, height - label.y)
    line.setFont(_FACES[label.is_bold], label.size)
    line.textOut(words)
    file.drawText(line)
