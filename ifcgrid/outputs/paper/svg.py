"""A drawing as SVG: millimetres, so that it prints to scale; text as text.

Lengths have three decimals: at 1:100 a place on paper is then within 0.1 mm of the building's.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from ifcgrid.outputs.paper.canvas import Belongs, Canvas, Circle, Path, Text
from ifcgrid.outputs.paper.font import FAMILY, read_font
from ifcgrid.outputs.paper.text import measure_text

__all__ = ["write_svg"]


def _number(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _clean(text: str) -> str:
    """The text without characters that XML 1.0 forbids."""
    return "".join(c if c >= " " and not "\ud800" <= c <= "\udfff" and c < "\ufffe" else " " for c in text)


def _path_data(parts: Iterable[Any], end: str) -> str:
    return "".join(
        "M" + "L".join(f"{_number(x)} {_number(y)}" for x, y in part.tolist()) + end for part in parts
    )


def _path(path: Path) -> str:
    data = _path_data(path.parts, "Z" if path.is_closed else "")
    rule = ' fill-rule="evenodd"' if path.is_closed else ""
    dash = f' stroke-dasharray="{path.dash}"' if path.dash else ""
    stroke = f' stroke="{path.colour}" stroke-width="{path.weight}"{dash}' if path.weight else ""
    says = f" data-says={quoteattr(_clean(path.says))}" if path.says else ""
    return f'<path d="{data}" fill="{path.fill}"{rule}{stroke}{says}/>'


def _circle(circle: Circle) -> str:
    return (
        f'<circle cx="{_number(circle.x)}" cy="{_number(circle.y)}" r="{_number(circle.radius)}"'
        f' fill="{circle.fill}" stroke="#000" stroke-width="{circle.weight}"/>'
    )


def _text(text: Text) -> str:
    label = text.label
    x, y = _number(label.x), _number(label.y)
    extra = f' transform="rotate(-90 {x} {y})"' if label.is_vertical else ""
    extra += ' font-weight="bold"' if label.is_bold else ""
    extra += f' text-anchor="{label.anchor}"' if label.anchor != "start" else ""
    rim = ' stroke="#fff" stroke-width="0.7" paint-order="stroke"' if text.has_rim else ""
    words = _clean(label.text)
    font = read_font(is_bold=label.is_bold)
    if words and all(map(font.has, words)):
        # A viewer whose font is wider sets the letters closer, so that nothing overlaps there either.
        width = measure_text(words, label.size, is_bold=label.is_bold)
        extra += f' textLength="{_number(width)}" lengthAdjust="spacingAndGlyphs"'
    return (
        f'<text x="{x}" y="{y}" font-size="{_number(label.size)}" fill="{text.colour}"{rim}{extra}'
        f' xml:space="preserve">{escape(words)}</text>'
    )


def _grouped(told: Iterable[tuple[Belongs, str]]) -> list[str]:
    """Neighbours that belong to the same in one group with its names and values."""
    lines: list[str] = []
    for belongs, run in groupby(told, key=lambda one: one[0]):
        inside = [line for _, line in run]
        if belongs:
            names = " ".join(f"{name}={quoteattr(_clean(value))}" for name, value in belongs)
            inside = [f"<g {names}>", *inside, "</g>"]
        lines += inside
    return lines


def _page(page: Canvas, top: float) -> list[str]:
    shapes = _grouped(
        (shape.belongs, _path(shape) if isinstance(shape, Path) else _circle(shape)) for shape in page.shapes
    )
    texts = _grouped((text.belongs, _text(text)) for text in page.texts)
    group = '<g stroke-linejoin="round" stroke-linecap="butt">'
    body = [group, *shapes, "</g>", *texts]
    return body if not top else [f'<g transform="translate(0 {_number(top)})">', *body, "</g>"]


def write_svg(pages: Sequence[Canvas]) -> str:
    """One SVG document, its pages one below the other; sizes in mm, so that it prints to scale."""
    width = _number(max(page.page.width for page in pages))
    tops = [sum(page.page.height for page in pages[:k]) for k in range(len(pages))]
    height = _number(tops[-1] + pages[-1].page.height)
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm"'
            f' viewBox="0 0 {width} {height}" font-family={quoteattr(FAMILY)} style="font-kerning:none"'
            ' role="img">',
            f"<title>{escape(_clean(pages[0].title))}</title>",
            f'<rect width="{width}" height="{height}" fill="#fff"/>',
            *(line for page, top in zip(pages, tops, strict=True) for line in _page(page, top)),
            "</svg>",
            "",
        ]
    )
