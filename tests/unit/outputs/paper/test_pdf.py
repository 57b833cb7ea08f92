"""PDF files read back by another library: pages, sizes, text, fonts; letters beyond the font."""

from __future__ import annotations

import io
import sys

import numpy as np
import pytest

from ifcgrid.domain.errors import OutputError
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.pdf import has_pdf, write_pdf
from ifcgrid.outputs.paper.sheet import INCH_PAPERS, PAPER_NAMES, PAPERS, papers_named
from ifcgrid.outputs.paper.text import Label

pypdf = pytest.importorskip("pypdf")
pytest.importorskip("reportlab")

POINT = 72 / 25.4


def page(*texts: str, width: float = 210.0, height: float = 297.0) -> Canvas:
    canvas = Canvas(width, height, "A page")
    canvas.lines([[(10, 10), (110, 10)]], 0.5, dash="3 1")
    canvas.areas([[(10, 20), (60, 20), (60, 50), (10, 50)]], 0.25, fill="#ccc")
    canvas.hatch([[(10, 60), (60, 60), (60, 90), (10, 90)]], 0.2)
    canvas.circle(100, 40, 5, 0.3, fill="#fff")
    for place, text in enumerate(texts):
        canvas.put(Label(x=20, y=100 + 8 * place, text=text, size=4, is_bold=bool(place % 2)))
    return canvas


def read(data: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(data))


def test_each_drawing_is_a_page_of_its_own_size() -> None:
    sizes = [(p.width, p.height) for name in PAPER_NAMES for p in papers_named(name)]
    pages = read(write_pdf([page("x", width=w, height=h) for w, h in sizes])).pages
    assert len(pages) == 8
    for (width, height), found in zip(sizes, pages, strict=True):
        assert float(found.mediabox.width) == pytest.approx(width * POINT, abs=1e-3)
        assert float(found.mediabox.height) == pytest.approx(height * POINT, abs=1e-3)


def test_letter_and_a4_have_their_standard_sizes() -> None:
    # ISO 216: A4 is 210 x 297 mm; US letter is 8.5 x 11 in (from memory).
    assert (PAPERS["A4 portrait"].width, PAPERS["A4 portrait"].height) == (210.0, 297.0)
    assert INCH_PAPERS["Letter portrait"].width * POINT == pytest.approx(612)
    assert INCH_PAPERS["Tabloid landscape"].width * POINT == pytest.approx(1224)


def test_letters_of_several_scripts_and_the_marks_of_lengths_are_found_as_text() -> None:
    words = ["Büro Größe", "3′ 5″ × 2° ½", "3'-5 1/16\"", "Кабинет", "Αίθουσα", "Łódź Ž"]
    text = read(write_pdf([page(*words)])).pages[0].extract_text()
    for word in words:
        assert word in text


def test_letters_that_the_font_lacks_show_as_boxes_and_nothing_breaks() -> None:
    words = ["12 会議室", "غرفة", "\x00\x07 \ud800", "", "👷 room", "a\u0301"]
    text = read(write_pdf([page(*words)])).pages[0].extract_text()
    assert "12 □□□" in text
    assert "□□□□" in text
    assert "□ room" in text


def test_right_to_left_words_stand_in_their_order_on_paper() -> None:
    from ifcgrid.outputs.paper.pdf import _in_reading_order

    assert _in_reading_order("012 חדר ישיבות (A)") == "012 תובישי רדח (A)"
    assert _in_reading_order("plain") == "plain"


def test_all_fonts_are_embedded() -> None:
    fonts = read(write_pdf([page("regular", "bold", "Кабинет")])).pages[0]["/Resources"]["/Font"]
    used = [font.get_object() for font in fonts.values() if "Liberation" in font.get_object()["/BaseFont"]]
    assert {str(font["/BaseFont"]).split("+")[-1] for font in used} == {
        "LiberationSans",
        "LiberationSans-Bold",
    }
    assert all("/FontFile2" in font["/FontDescriptor"].get_object() for font in used)


def test_the_same_drawing_gives_the_same_bytes_and_no_date() -> None:
    data = write_pdf([page("a", "b")])
    assert data == write_pdf([page("a", "b")])
    assert b"D:2000" in data


def test_lines_keep_their_lengths() -> None:
    content = read(write_pdf([page()])).pages[0].get_contents()
    assert content is not None
    operations = content.get_data().decode("latin-1")
    scale = next(line for line in operations.splitlines() if line.endswith(" cm") and "2.83" in line)
    assert float(scale.split()[0]) == pytest.approx(POINT, abs=1e-5)
    assert "10 287 m 110 287 l" in " ".join(operations.split())


def test_without_the_library_the_error_names_the_extra(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in [n for n in sys.modules if n.split(".")[0] == "reportlab"] + ["reportlab"]:
        monkeypatch.setitem(sys.modules, name, None)
    assert not has_pdf()
    with pytest.raises(OutputError, match=r"ifcgrid\[drawings\]"):
        write_pdf([page()])


def test_a_paper_that_is_unknown_is_refused_with_the_right_names() -> None:
    with pytest.raises(OutputError, match="a4, a3, letter, tabloid"):
        papers_named("legal")


def test_a_hatch_fills_the_area_and_leaves_holes_free() -> None:
    canvas = Canvas(100, 100, "")
    ring = [(10, 10), (50, 10), (50, 50), (10, 50)]
    hole = [(20, 20), (40, 20), (40, 40), (20, 40)]
    canvas.hatch([ring, hole], 0.1, angle_deg=45, spacing=1.0)
    (path,) = canvas.shapes
    lengths = sum(float(np.hypot(*(part[1] - part[0]))) for part in path.parts)
    assert lengths * 1.0 == pytest.approx(40 * 40 - 20 * 20, rel=0.02)
    middles = np.array([part.mean(axis=0) for part in path.parts])
    assert not ((middles > 20.01) & (middles < 39.99)).all(axis=1).any()
    steps = np.array([part[1] - part[0] for part in path.parts])
    assert np.abs(steps[:, 0] + steps[:, 1]).max() < 1e-9  # counter-clockwise from the right, y down
