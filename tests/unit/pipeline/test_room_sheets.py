"""Set-out sheets as files: PDF read back by another library, papers, laser, fraction, the first cut."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest
import shapely
from drawn import words_of

from ifcgrid.cli import main
from ifcgrid.domain.errors import OutputError, UnitError
from ifcgrid.domain.units import parse_length
from ifcgrid.outputs.paper.sheet import PAPER_NAMES, papers_named
from ifcgrid.outputs.setout.control import plan_setout
from ifcgrid.outputs.setout.start import start_block
from ifcgrid.pipeline.flow import hang_ceiling
from ifcgrid.pipeline.one_room import lay_out_one, room_zone
from ifcgrid.pipeline.room_sheets import check_sheets
from ifcgrid.policies import read_policy
from ifcgrid.systems import read_system

pypdf = pytest.importorskip("pypdf")
pytest.importorskip("reportlab")

ROOM = {"room": "6010 mm x 4270 mm", "module": "600 x 600"}
POINT = 72 / 25.4

TOLD = {
    "level": "to the UNDERSIDE OF THE GRID|No ceiling height was given",
    "laser": "Laser plane: 100 below the underside of the grid",
    "control lines": "String 1 beside the first main: 947 from wall",
    "second control line": "String 2 through the centre of the first full panels: 605 from wall",
    "first tee line": "First tee line at 305",
    "first cut, hole phase": r"First cut: the first main .* its first hole is \d+ from there; hole \d",
    "room diagonals": "diagonals from corner ./. to ./. 7372 and ./. to ./. 7372",
    "square check of the strings": "3600 on string 1 and 2700 on string 2 from their crossing, 4500 across",
    "square check of the grid": "both diagonals of the 9 x 6 full panels .* are 6490",
    "walls and borders": "A: .*, border .* B: ",
    "residual": r"what is left at the far end is \d+ \(rounding ",
    "order of work": "Order of work .* 1. Level: a line round the room",
    "hangers": r"18 on 3 mains; .* \(H1-18\)",
    "hold points": "Hold 1. Before setting out: .* Name, date: _+ .* Hold 4. ",
    "cut list": "Cut list Mains are laid from wall",
    "findings": "Open clashes and findings None among the checks that were run",
    "cautions": "Cautions: .* authority having jurisdiction",
    "provenance": "sheet: 1 of .* library: ifcgrid ",
    "scale": "Scale 1:50",
}


def pages_of(path: Path) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(path).pages]


@pytest.mark.parametrize("what", TOLD)
def test_the_pdf_of_a_room_tells_all_that_a_foreman_needs(what, sheet):
    assert re.search(TOLD[what], " ".join(pages_of(sheet)))


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    path = tmp_path_factory.mktemp("sheet") / "room.pdf"
    lay_out_one(**ROOM, sheet=path)
    return path


@pytest.mark.parametrize("orientation", ["portrait", "landscape"])
@pytest.mark.parametrize("paper", PAPER_NAMES)
def test_every_page_of_the_pdf_has_the_paper_that_was_asked_for(paper, orientation, tmp_path):
    path = tmp_path / "room.pdf"
    lay_out_one(**ROOM, sheet=path, style=check_sheets(paper=paper, orientation=orientation))
    wanted = papers_named(paper)[orientation == "portrait"]
    texts = pages_of(path)
    for number, page in enumerate(pypdf.PdfReader(path).pages, start=1):
        assert float(page.mediabox.width) == pytest.approx(wanted.width * POINT, abs=1e-3)
        assert float(page.mediabox.height) == pytest.approx(wanted.height * POINT, abs=1e-3)
        assert f"sheet: {number} of {len(texts)}" in texts[number - 1]
        fonts = page["/Resources"]["/Font"].values()
        used = [f.get_object() for f in fonts if "Liberation" in f.get_object()["/BaseFont"]]
        assert used
        assert all("/FontFile2" in f["/FontDescriptor"].get_object() for f in used)


def test_an_svg_has_one_file_a_page_and_the_same_words_as_the_pdf(tmp_path, sheet):
    record = lay_out_one(**ROOM, sheet=tmp_path / "room.svg")
    names = [Path(name).name for name in record["outputs"]]
    assert names == ["room.svg", *(f"room-page-{k}.svg" for k in range(2, len(names) + 1))]
    assert len(names) == len(pages_of(sheet))
    for name, page in zip(names, pages_of(sheet), strict=True):
        words = words_of((tmp_path / name).read_text(encoding="utf-8"))
        assert sorted(words.split()) == sorted(page.split())


def test_the_same_room_gives_the_same_pdf(tmp_path, sheet):
    again = tmp_path / "again.pdf"
    lay_out_one(**ROOM, sheet=again)
    assert again.read_bytes() == sheet.read_bytes()


@pytest.mark.parametrize(
    ("laser", "told"),
    [
        ("50 mm", "Laser plane: 50 below the underside"),
        ("2 in", "Laser plane: 51 below the underside"),
        ("0", "Laser plane: at the underside of the grid itself"),
        ("-30 mm", "Laser plane: 30 above the underside"),
    ],
)
def test_the_laser_s_plane_is_told_as_it_was_given(laser, told, tmp_path):
    path = tmp_path / "room.pdf"
    lay_out_one(**ROOM, sheet=path, style=check_sheets(laser=laser))
    assert told in " ".join(pages_of(path))
    assert "chosen by default" not in " ".join(pages_of(path))


def test_lengths_are_printed_to_the_fraction_that_was_asked_for(tmp_path):
    path = tmp_path / "room.pdf"
    style = check_sheets(fraction=8)
    lay_out_one(room="20' 0 5/16 x 14' 0 1/8", module="2 x 2 ft", sheet=path, style=style)
    words = " ".join(pages_of(path))
    assert "to 1/8 in" in words
    assert "20'-0 3/8\"" in words  # 5/16 in lies half way between 2/8 and 3/8 in: away from zero
    assert not re.search(r"\d+/16\"", words.partition("rounding")[0])


def test_wishes_that_cannot_be_met_are_refused_before_the_work():
    with pytest.raises(OutputError, match="auto, svg, pdf, both"):
        check_sheets("dwf")
    with pytest.raises(OutputError, match="a4, a3, letter, tabloid"):
        check_sheets(paper="a0")
    with pytest.raises(UnitError, match="1/8,"):
        check_sheets(fraction=7)
    with pytest.raises(UnitError, match="ten"):
        check_sheets(laser="ten")


def test_without_the_library_there_is_svg_and_one_line_that_says_why(monkeypatch):
    for name in [n for n in sys.modules if n.split(".")[0] == "reportlab"] + ["reportlab"]:
        monkeypatch.setitem(sys.modules, name, None)
    style = check_sheets()
    assert style.formats == ("svg",)
    assert "pip install 'ifcgrid[drawings]'" in style.note
    with pytest.raises(OutputError, match=r"ifcgrid\[drawings\]"):
        check_sheets("pdf")


def test_the_command_line_hands_its_words_on(tmp_path, capsys):
    path = tmp_path / "room.pdf"
    words = ["--paper", "letter", "--orientation", "landscape", "--laser", "3 in", "--fraction", "4"]
    assert main(["layout", "--room", "20' x 14'", "--module", "2 x 2 ft", "--sheet", str(path), *words]) == 0
    page = pypdf.PdfReader(path).pages[0]
    assert (round(page.mediabox.width), round(page.mediabox.height)) == (792, 612)
    assert 'Laser plane: 3" below' in " ".join(pages_of(path))
    assert "to 1/4 in" in " ".join(pages_of(path))
    assert main(["layout", "--room", "4 m x 3 m", "--sheet", str(path), "--laser", "far"]) == 2
    assert "far" in capsys.readouterr().err


@pytest.mark.parametrize("size", [(6010, 4270), (7360, 4820), (24100, 5000), (3000, 2600), (1900, 1900)])
def test_the_first_cut_brings_the_hole_it_names_onto_the_first_tee_line(size):
    system = read_system("lay-in-600x600")
    ceiling = hang_ceiling(room_zone(shapely.box(0, 0, *size)), system, read_policy("half-module"))
    words = " ".join(start_block(ceiling, plan_setout(ceiling), "mm").lines)
    found = re.search(
        r"is cut (\d+) off .*; its first hole is (\d+) from there; (?:that hole|hole (\d+)) lies on the "
        r"first tee line there, (\d+) from",
        words,
    )
    assert found
    off, hole, number, at = (int(text or 1) for text in found.groups())
    cutting = system.cutting
    assert cutting
    # A main begins its end gap from the wall; holes of a stock main lie at first_hole + k x pitch.
    assert cutting.end_gap + hole + (number - 1) * cutting.hole_pitch == pytest.approx(at, abs=2)
    assert (off + hole - cutting.first_hole) % cutting.hole_pitch == pytest.approx(0, abs=2)
    assert parse_length(f"{at} mm") < 600
