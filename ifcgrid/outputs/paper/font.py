"""The measures of the sheets' own font, read from its TrueType tables without a library.

The font (SIL Open Font License 1.1) lies beside this module. Its letters are as wide as
those of the sans-serif fonts that come with most systems, so what is measured here holds
for an SVG shown with one of them too. Tables as in the OpenType specification (ISO/IEC 14496-22).
"""

from __future__ import annotations

import struct
import unicodedata
from dataclasses import dataclass
from functools import cache
from pathlib import Path

__all__ = ["FAMILY", "SUBSTITUTE", "Font", "Glyph", "font_path", "read_font", "shown"]

FAMILY = "'Liberation Sans', Arial, Helvetica, 'DejaVu Sans', sans-serif"
"""Font families of an SVG, the first three with letters of the same widths."""

SUBSTITUTE = "□"
"""Stands for a letter that the font lacks, where no other font can step in."""

_FOLDER = Path(__file__).parent / "fonts"
_ASCENT, _DESCENT = 0.76, 0.22
"""A line's usual reach above and below its baseline in em; accents on capitals reach higher."""

_UNKNOWN = (1.0, 0.92, 0.24)
_PICTURE = (1.4, 1.1, 0.35)
_FIRST_PICTURE = 0x1F000


@dataclass(frozen=True, slots=True)
class Glyph:
    """One letter's advance, reach above and reach below the baseline, in em."""

    advance: float
    above: float
    below: float
    is_known: bool = True


class Font(dict[str, Glyph]):
    """Glyphs by letter, looked up in the font when first asked for."""

    def __init__(self, data: bytes) -> None:
        super().__init__()
        self._data = data
        count = struct.unpack_from(">H", data, 4)[0]
        tables = (struct.unpack_from(">4sLLL", data, 12 + 16 * k) for k in range(count))
        self._at = {tag.decode("ascii"): offset for tag, _, offset, _ in tables}
        self._em = struct.unpack_from(">H", data, self._at["head"] + 18)[0]
        self._is_long = struct.unpack_from(">h", data, self._at["head"] + 50)[0] == 1
        self._advances = struct.unpack_from(">H", data, self._at["hhea"] + 34)[0]
        self._letters = _read_cmap(data, self._at["cmap"])

    def __missing__(self, letter: str) -> Glyph:
        index = self._letters.get(ord(letter), 0)
        glyph = self._glyph(index) if index else _unknown(letter)
        self[letter] = glyph
        return glyph

    def has(self, letter: str) -> bool:
        """Whether the font has this letter."""
        return self[letter].is_known

    def _glyph(self, index: int) -> Glyph:
        place = self._at["hmtx"] + 4 * min(index, self._advances - 1)
        advance = struct.unpack_from(">H", self._data, place)[0]
        form, width = (">LL", 4) if self._is_long else (">HH", 2)
        start, end = struct.unpack_from(form, self._data, self._at["loca"] + width * index)
        if start == end:  # a space
            return Glyph(advance / self._em, 0.0, 0.0)
        start *= 1 if self._is_long else 2
        low, high = struct.unpack_from(">hxxh", self._data, self._at["glyf"] + start + 4)
        return Glyph(advance / self._em, max(high, 0) / self._em, max(-low, 0) / self._em)

    def reach(self, text: str) -> tuple[float, float]:
        """How far a line of text reaches above and below its baseline, in em."""
        above, below = _ASCENT, _DESCENT
        for letter in text:
            glyph = self[letter]
            above, below = max(above, glyph.above), max(below, glyph.below)
        return above, below


def _unknown(letter: str) -> Glyph:
    if letter < " ":
        return Glyph(0.28, 0.0, 0.0, is_known=False)
    return Glyph(*(_PICTURE if ord(letter) >= _FIRST_PICTURE else _UNKNOWN), is_known=False)


def _read_cmap(data: bytes, at: int) -> dict[int, int]:
    """Glyph indices by code point from the font's Unicode table (format 4)."""
    count = struct.unpack_from(">H", data, at + 2)[0]
    for k in range(count):
        platform, _, offset = struct.unpack_from(">HHL", data, at + 4 + 8 * k)
        if platform == 3 and struct.unpack_from(">H", data, at + offset)[0] == 4:
            return dict(_segments(data, at + offset))
    raise ValueError("the font has no Unicode table of format 4")


def _segments(data: bytes, at: int) -> list[tuple[int, int]]:
    doubled = struct.unpack_from(">H", data, at + 6)[0]
    many = f">{doubled // 2}H"
    ends, starts, deltas, ranges = (
        struct.unpack_from(many, data, at + place)
        for place in (14, 16 + doubled, 16 + 2 * doubled, 16 + 3 * doubled)
    )
    found = []
    for k, (first, last) in enumerate(zip(starts, ends, strict=True)):
        for code in range(first, min(last, 0xFFFE) + 1):
            index = code
            if ranges[k]:
                place = at + 16 + 3 * doubled + 2 * k + ranges[k] + 2 * (code - first)
                index = struct.unpack_from(">H", data, place)[0]
                if index == 0:
                    continue
            found.append((code, (index + deltas[k]) & 0xFFFF))
    return found


def font_path(*, is_bold: bool = False) -> Path:
    """Where the font file lies."""
    return _FOLDER / f"LiberationSans-{'Bold' if is_bold else 'Regular'}.ttf"


@cache
def read_font(*, is_bold: bool = False) -> Font:
    """The measures of the regular or the bold font."""
    return Font(font_path(is_bold=is_bold).read_bytes())


def shown(text: str, *, is_bold: bool = False) -> str:
    r"""The text with what the font lacks replaced by `SUBSTITUTE`; marks that need no ink are left out.

    >>> shown("Büro 会 2"), shown("no\ufe0fgap")
    ('Büro □ 2', 'nogap')
    """
    font = read_font(is_bold=is_bold)
    return "".join(
        letter if font.has(letter) else SUBSTITUTE
        for letter in text
        if font.has(letter) or unicodedata.category(letter) not in ("Cf", "Mn")
    )
