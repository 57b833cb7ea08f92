"""The font's measures, against a second reader of the same tables."""

from __future__ import annotations

import pytest

from ifcgrid.outputs.paper.font import font_path, read_font, shown
from ifcgrid.outputs.paper.text import Label, fit_text, measure_text, wrap_text

LETTERS = "Hamburgefonstiv 0123456789 ′″×°'\"½⅛ÄÖÜäöüß Ωδ Жук łŽ חדר…–—□≥±·²"


@pytest.mark.parametrize("is_bold", [False, True])
def test_every_letter_is_as_wide_as_the_pdf_library_says(is_bold: bool) -> None:
    ttfonts = pytest.importorskip("reportlab.pdfbase.ttfonts")
    second = ttfonts.TTFont("second", str(font_path(is_bold=is_bold)))
    font = read_font(is_bold=is_bold)
    codes = [code for code in second.face.charToGlyph if 32 <= code < 0xFFFF]
    assert len(codes) > 2300
    for code in codes:
        letter = chr(code)
        assert font.has(letter)
        # The library keeps widths in whole thousandths of an em.
        assert font[letter].advance * 1000 == pytest.approx(second.face.charWidths[code], abs=1.0)
    assert measure_text(LETTERS, 10, is_bold=is_bold) == pytest.approx(
        second.stringWidth(LETTERS, 10), rel=1e-3
    )


def test_letters_of_known_width_in_units_of_2048() -> None:
    # Widths of the metric class that the font belongs to: space and digits 0.278 and 0.556 em (from memory).
    font = read_font()
    assert font[" "].advance == pytest.approx(569 / 2048)
    assert {font[digit].advance for digit in "0123456789"} == {1139 / 2048}


def test_a_letter_that_the_font_lacks_takes_a_whole_em_and_shows_as_a_box() -> None:
    assert not read_font().has("会")
    assert measure_text("会", 3) == pytest.approx(3.0)
    assert shown("12 会議") == "12 □□"
    assert shown("a\ufe0fb") == "ab"
    assert shown("ok", is_bold=True) == "ok"


def test_accents_on_capitals_reach_above_the_usual_line() -> None:
    plain, accented = (Label(x=0, y=10, text=text, size=10).box for text in ("Au", "Ǻu"))
    assert plain.top == pytest.approx(10 - 7.6)
    assert accented.top < plain.top


def test_a_text_that_is_cut_fits_and_ends_in_an_ellipsis() -> None:
    for width in (3.0, 10.0, 24.4):
        cut = fit_text("Besprechungsraum mit Küche", width, 3.0, is_bold=True)
        assert cut.endswith("…")
        assert measure_text(cut, 3.0, is_bold=True) <= width


def test_lines_of_a_wrapped_text_fit_and_hold_every_word() -> None:
    text = "The quick brown fox jumps over Donaudampfschifffahrtsgesellschaft twice"
    lines = wrap_text(text, 30.0, 3.0)
    assert all(measure_text(line, 3.0) <= 30.0 for line in lines)
    assert " ".join(" ".join(lines).split()).startswith("The quick brown fox jumps over Donau")
    assert lines[-1].strip() == "twice"
