"""The room's set-out sheet: what stands on it, that no two texts overlap, that it is true to scale."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from drawn import SVG, crossing_texts, outside_texts, texts_of, words_of
from handmade_ceilings import (
    HALL,
    HALL_TURNED,
    L2,
    ROUND_ENDED,
    T1,
    TP1,
    build_ceiling,
    light,
    rectangle,
)
from shapely import Point, Polygon, box

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.errors import OutputError, UnitError
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.outputs.paper.canvas import Path
from ifcgrid.outputs.paper.sheet import PAPER_NAMES
from ifcgrid.outputs.paper.svg import write_svg
from ifcgrid.outputs.setout import Wish, draw_setout, setout_pages
from ifcgrid.outputs.setout.room_sheet import page_frame

INCH = 25.4
STAMP = {"model": "hall.ifc", "sha256": "3f2a9c0d41b7", "policy": "half-module", "library": "ifcgrid 0"}

ROOMS = {
    "rectangle": (lambda: build_ceiling(rectangle(6100, 4270), (350, 335)), "mm"),
    "L": (lambda: build_ceiling(L2, (13 * INCH, 15 * INCH), system="lay-in-2x2-ft"), "ft-in"),
    "L in mm": (lambda: build_ceiling(L2, (13 * INCH, 15 * INCH), system="lay-in-2x2-ft"), "mm"),
    "T": (lambda: build_ceiling(TP1, (212.5, 300)), "mm"),
    "trapezoid": (
        lambda: build_ceiling(T1, (22.25 * INCH, 14 * INCH), system="lay-in-2x2-ft"),
        "ft-in",
    ),
    "round end": (lambda: build_ceiling(ROUND_ENDED, (300, 600)), "mm"),
    "circle": (lambda: build_ceiling(Point(0, 0).buffer(3000, quad_segs=16), (600, 600)), "mm"),
    "turned 17 degrees": (
        lambda: build_ceiling(rectangle(7310, 5200), (355, 500), angle_deg=17, at=(5e4, -3e4)),
        "mm",
    ),
    "hall": (
        lambda: build_ceiling(HALL_TURNED, (16 * INCH, 16.5 * INCH), system="lay-in-2x2-ft"),
        "ft-in",
    ),
    "hall on end": (
        lambda: build_ceiling(HALL, (16.5 * INCH, 16 * INCH), system="lay-in-2x2-ft"),
        "ft-in",
    ),
    "cell": (lambda: build_ceiling(rectangle(500, 420), (500, 420)), "mm"),
    "corridor": (lambda: build_ceiling(rectangle(24100, 1500), (350, 450)), "mm"),
    "large with columns": (
        lambda: build_ceiling(
            rectangle(42000, 31000) - box(12000, 9000, 12500, 9500) - box(30000, 9000, 30500, 9500),
            (600, 500),
        ),
        "mm",
    ),
}


def pages_of(ceiling: Ceiling, **given: object) -> list[str]:
    """The sheet's pages, each as the SVG file that it is written to."""
    return [write_svg([page]) for page in setout_pages(ceiling, **{"stamp": STAMP, **given})]  # type: ignore[arg-type]


def finding(message: str = "duct below the grid", **kind: object) -> Finding:
    facts = {
        "rule": "duct_clearance_min",
        "source": "common practice, no source",
        "clause": "",
        "verdict": Verdict.FAIL,
        "room": "3vB2YO$MX4xv5uCqZZG05x",
        "subjects": ("0xyz",),
        "message": message,
        "point": (1500.0, 1200.0, 2700.0),
    }
    return Finding(**{**facts, **kind})  # type: ignore[arg-type]


Drawn = tuple[Ceiling, str, list[str]]


@pytest.fixture(scope="module", params=ROOMS)
def sheet(request: pytest.FixtureRequest) -> Drawn:
    make, units = ROOMS[request.param]
    ceiling = make()
    return ceiling, units, pages_of(ceiling, units=units, north_deg=75.0, storey=[ceiling.zone.outline])


def test_no_two_texts_overlap_and_all_stand_on_the_page(sheet: Drawn) -> None:
    for svg in sheet[2]:
        assert crossing_texts(svg) == []
        assert outside_texts(svg) == []


@pytest.mark.parametrize("paper", PAPER_NAMES)
@pytest.mark.parametrize("name", ["rectangle", "L", "round end", "turned 17 degrees", "cell", "hall"])
def test_on_every_paper_no_two_texts_overlap_and_none_leaves_the_page(name: str, paper: str) -> None:
    make, units = ROOMS[name]
    ceiling = make()
    for way in ("portrait", "landscape"):
        storey = [ceiling.zone.outline, Polygon([(0, 0), (1, 0), (90000, 9000)])]
        pages = pages_of(ceiling, units=units, wish=Wish(paper=paper, way=way), north_deg=10.0, storey=storey)
        for svg in pages:
            assert crossing_texts(svg) == []
            assert outside_texts(svg) == []
        assert f"{paper.capitalize()} {way}" in words_of(pages[0])


LIGHTS = tuple(light(i, j) for i in range(2, 68, 3) for j in range(2, 32, 4))
ODD = {
    "a very long name": lambda: build_ceiling(rectangle(6100, 4270), (350, 335), name="Very long " * 30),
    "one endless word": lambda: build_ceiling(rectangle(6100, 4270), (350, 335), name="W" * 400),
    "letters beyond the font": lambda: build_ceiling(
        rectangle(6100, 4270), (350, 335), name="会議室 غرفة 👷 \u0327\u0301x"
    ),
    "a closet": lambda: build_ceiling(rectangle(900, 900), (150, 150)),
    "a hall of 80 m": lambda: build_ceiling(rectangle(80000, 42000), (400, 300)),
    "many devices": lambda: build_ceiling(rectangle(42000, 21000), (300, 300), openings=LIGHTS),
}


@pytest.mark.parametrize("paper", ["a4", "tabloid"])
@pytest.mark.parametrize("name", ODD)
def test_odd_rooms_stay_on_the_page_and_apart(name: str, paper: str) -> None:
    ceiling = ODD[name]()
    pages = pages_of(ceiling, wish=Wish(paper=paper), storey=[ceiling.zone.outline])
    for svg in pages:
        assert crossing_texts(svg) == []
        assert outside_texts(svg) == []
    words = words_of(*pages)
    assert "Start here" in words_of(pages[0])
    assert "Hold 4." in words
    if name == "many devices":
        assert len(re.findall(r"D\d+ [^:]+: device, laid in", words)) == len(LIGHTS)
        assert len(pages) > 1


@pytest.mark.parametrize("name", ["rectangle", "L", "T", "trapezoid", "turned 17 degrees"])
def test_no_text_hides_a_hanger(name: str) -> None:
    make, units = ROOMS[name]
    ceiling = make()
    page, *_ = setout_pages(ceiling, units=units, stamp=STAMP)
    (crosses,) = [s for s in page.shapes if isinstance(s, Path) and len(s.parts) == 2 * len(ceiling.hangers)]
    boxes = [text.label.box for text in page.texts]
    for part in crosses.parts:
        x, y = part.mean(axis=0)
        assert not any(b.left < x < b.right and b.top < y < b.bottom for b in boxes)


def test_many_findings_go_on_to_the_next_page_and_none_is_lost() -> None:
    ceiling = ROOMS["rectangle"][0]()
    found = [finding(f"thing {k} is in the way and has to be moved by the trade") for k in range(60)]
    pages = pages_of(ceiling, findings=found, wish=Wish(paper="a4"))
    words = words_of(*pages)
    assert all(f"{k + 1}. thing {k} is" in words for k in range(60))
    assert "Open clashes and findings (continued)" in words
    assert len(pages) > 1
    for svg in pages:
        assert crossing_texts(svg) == []


def test_the_way_up_is_the_one_in_which_the_drawing_is_largest() -> None:
    def scale(ceiling: Ceiling, way: str) -> int:
        svg = pages_of(ceiling, wish=Wish(paper="a4", way=way))[0]
        return int(re.search(r"Scale 1:(\d+)", svg)[1])  # type: ignore[index]

    for width, depth in ((9000, 2400), (2400, 9000), (6100, 4270), (15000, 14000)):
        ceiling = build_ceiling(rectangle(width, depth), (300, 400))
        scales = [scale(ceiling, way) for way in ("auto", "portrait", "landscape")]
        assert scales[0] == min(scales[1:])


def test_papers_and_ways_that_there_are_not_are_refused() -> None:
    with pytest.raises(OutputError, match="auto or one of a4"):
        Wish(paper="B5")
    with pytest.raises(OutputError, match="auto, portrait, landscape"):
        Wish(way="upside down")


def test_texts_are_large_enough_to_read(sheet: Drawn) -> None:
    for svg in sheet[2]:
        assert min(label.size for label in texts_of(svg)) >= 2.2
        assert max(label.size for label in texts_of(svg)) >= 6.0


def test_the_outline_measured_on_paper_is_the_room_at_the_printed_scale(
    sheet: Drawn,
) -> None:
    ceiling, _, (svg, *_) = sheet
    scale = int(re.search(r"Scale 1:(\d+)", svg)[1])  # type: ignore[index]
    path = re.search(r'<path d="([^"]+)" fill="none" fill-rule="evenodd" [^>]*stroke-width="0.8"', svg)
    assert path is not None
    ring = re.split("Z", path[1])[0].removeprefix("M").split("L")
    paper = np.array([[float(n) for n in point.split()] for point in ring])
    frame = page_frame(ceiling.layout.frame)
    local = frame.to_local(np.asarray(ceiling.zone.outline.exterior.coords)[:-1])
    expected = (local - local[0]) / scale * [1, -1]
    assert paper - paper[0] == pytest.approx(expected, abs=0.011)


def test_every_wall_has_its_letter_and_length_in_the_list(sheet: Drawn) -> None:
    words = words_of(*sheet[2])
    assert "Walls and borders" in words
    assert re.search(r"\bA: (curve )?\d", words)


def test_stamp_and_cautions_stand_on_every_sheet(sheet: Drawn) -> None:
    for number, svg in enumerate(sheet[2], start=1):
        words = words_of(svg)
        assert "sha256: 3f2a9c0d41b7" in words
        assert "authority having jurisdiction" in words
        assert f"sheet: {number} of {len(sheet[2])}" in words
    words = words_of(*sheet[2])
    assert not re.search(r"\b(safe|complies|compliant)\b", words)


def test_the_sheet_of_the_trade_check_says_41_and_28_inches() -> None:
    make, units = ROOMS["hall"]
    words = words_of(draw_setout(make(), units=units, stamp=STAMP))
    assert "String 1 beside the first main: 3'-5\" from wall D" in words
    assert "String 2 through the centre of the first full panels: 2'-4\" from wall C" in words
    assert "A: 28'-9\", border 1'-4\"" in words
    assert "B: 68'-8\", border 1'-4 1/2\"" in words


def test_running_dimensions_on_the_plan_count_from_the_datum_wall() -> None:
    # 6100 x 4270 at 600 (derived): tee lines at 350, 950 ... 5750, lines along at 335 ... 3935.
    make, units = ROOMS["rectangle"]
    texts = [label.text for label in texts_of(draw_setout(make(), units=units, stamp=STAMP))]
    for length in (*range(350, 5751, 600), *range(335, 3936, 600), 6100, 4270):
        assert str(length) in texts


def test_member_lengths_and_counts_are_those_of_the_ceiling() -> None:
    # The same room (derived): 3 mains, 20 + 20 cross tees, 36 + 8 second-rank tees.
    words = words_of(draw_setout(ROOMS["rectangle"][0](), units="mm", stamp=STAMP))
    assert "Main runners 3: 3 x 6100" in words
    assert "Cross tees 40: 20 x 1200, 20 x 935" in words
    assert "Second-rank tees 44: 36 x 600, 8 x 350" in words
    assert "54 full and 34 cut" in words


def test_a_turned_room_stands_level_and_the_turn_is_printed() -> None:
    make, units = ROOMS["turned 17 degrees"]
    svg = draw_setout(make(), units=units, stamp=STAMP)
    assert "turned 17 degrees clockwise from the model" in words_of(svg)
    level = draw_setout(build_ceiling(rectangle(7310, 5200), (355, 500)), units=units, stamp=STAMP)
    turned, straight = ([t for t in texts_of(s) if t.text.startswith("H")] for s in (svg, level))
    assert [t.text for t in turned] == [t.text for t in straight]
    # Places are printed to 0.01 mm of paper; the turned room's floats may round the other way.
    assert [t.x for t in turned] == pytest.approx([t.x for t in straight], abs=0.011)
    assert [t.y for t in turned] == pytest.approx([t.y for t in straight], abs=0.011)


@pytest.mark.parametrize(("angle", "turn"), [(0, 0), (17, 17), (90, 0), (107, 17), (180, 0), (-30, -30)])
def test_the_page_never_turns_more_than_half_a_right_angle(angle: float, turn: float) -> None:
    frame = build_ceiling(rectangle(3000, 2000), (300, 400), angle_deg=angle).layout.frame
    assert page_frame(frame).angle_deg == pytest.approx(turn)


def test_mains_that_run_up_the_page_keep_the_plan_as_in_the_model() -> None:
    # Mains along the model's Y axis: the page stays as the floor plan, running dimensions change sides.
    ceiling = build_ceiling(rectangle(4270, 6100), (335, 350), angle_deg=90)
    svg, *_ = pages_of(ceiling)
    assert crossing_texts(svg) == []
    assert "as it stands in the model" in words_of(svg)
    assert "6100" in [t.text for t in texts_of(svg) if t.is_vertical]


def test_failing_findings_are_listed_and_flagged_and_others_are_not() -> None:
    ceiling = ROOMS["rectangle"][0]()
    passed = finding("all is well", verdict=Verdict.PASS)
    pages = pages_of(ceiling, findings=[passed, finding(), finding("pipe too low")])
    words = words_of(*pages)
    assert "1. duct below the grid" in words
    assert "2. pipe too low" in words
    assert "all is well" not in words
    assert [crossing_texts(svg) for svg in pages] == [[]] * len(pages)
    assert "None among the checks" in words_of(draw_setout(ceiling, stamp=STAMP, findings=[passed]))


def test_devices_are_told_apart_without_colour() -> None:
    ceiling = build_ceiling(
        rectangle(6100, 4270), (350, 335), openings=(light(3, 2), light(5, 2), light(7, 4))
    )
    kinds = (Kind.LIGHT, Kind.AIR_TERMINAL, Kind.SPRINKLER)
    obstacles = [
        Obstacle(key=o.key, kind=kind, name="", outline=o.outline, bottom=2700, top=2800)
        for o, kind in zip(ceiling.openings, kinds, strict=True)
    ]
    svg = draw_setout(ceiling, stamp=STAMP, obstacles=obstacles)
    words = words_of(svg)
    for kind in ("light", "air terminal", "sprinkler"):
        assert f"1 x {kind}, laid in the grid" in words
    colours = set(re.findall(r"#[0-9a-f]{3,6}", svg))
    assert all(
        len(set(colour[1:])) == 1 or len({colour[1:3], colour[3:5], colour[5:]}) == 1 for colour in colours
    )


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "=1+1", "a & b \"c\" 'd' \x07\x00"])
def test_names_are_text_whatever_they_hold(name: str) -> None:
    ceiling = build_ceiling(rectangle(3000, 2000), (300, 400), name=name)
    svg = draw_setout(ceiling, stamp={"model": name}, findings=[finding(name)])
    root = ElementTree.fromstring(svg.encode())
    assert {e.tag.removeprefix(SVG) for e in root.iter()} <= {
        "svg", "title", "rect", "g", "path", "circle", "text",
    }  # fmt: skip
    assert name.split(" ")[0].split("\x07")[0] in words_of(svg)


def test_units_other_than_the_two_are_refused() -> None:
    with pytest.raises(UnitError, match="cubit"):
        draw_setout(ROOMS["rectangle"][0](), units="cubit", stamp=STAMP)


def test_the_same_ceiling_gives_the_same_bytes() -> None:
    make, units = ROOMS["L"]
    assert draw_setout(make(), units=units, stamp=STAMP) == draw_setout(make(), units=units, stamp=STAMP)


def test_a_small_room_goes_on_a4_and_a_large_one_on_a3() -> None:
    small = build_ceiling(rectangle(4000, 3000), (200, 200))
    assert "A4 portrait" in words_of(draw_setout(small, stamp=STAMP))
    assert "A3 landscape" in words_of(draw_setout(ROOMS["hall"][0](), stamp=STAMP))
    assert "A3 portrait" in words_of(draw_setout(ROOMS["hall on end"][0](), stamp=STAMP))


@pytest.mark.parametrize(
    ("width", "depth", "paper", "scale"),
    [
        (18000, 1900, (420, 297), 50),  # a corridor: the lists stand below it, so that it has the whole width
        (38250, 2210, (841, 297), 50),
        (40000, 26000, (594, 420), 100),
    ],
)
def test_a_long_or_large_room_stays_readable(width: float, depth: float, paper, scale: int) -> None:
    svg, *_ = pages_of(build_ceiling(rectangle(width, depth), (400, 400)))
    assert f'width="{paper[0]}mm" height="{paper[1]}mm"' in svg
    assert f"Scale 1:{scale}<" in svg
    assert crossing_texts(svg) == []


def test_a_round_wall_is_one_wall_and_is_not_cut_out_of_square() -> None:
    points = list(ROUND_ENDED.exterior.coords)
    middle = [(a + b) / 2 for a, b in zip(points[8], points[9], strict=True)]
    met = Polygon([*points[:9], middle, *points[9:]])  # a wall from outside ends on it
    words = words_of(draw_setout(build_ceiling(met, (300, 600)), stamp=STAMP))
    assert "B: curve" in words
    assert "E:" not in words
    assert "Out of square" not in words


def test_rooms_under_one_ceiling_are_named_in_order_and_told_their_level_once() -> None:
    ceiling = build_ceiling(rectangle(9000, 4000), (300, 400))
    (room,) = ceiling.zone.rooms
    rooms = tuple(replace(room, key=k, number=k, outline=room.outline) for k in ("9", "3", "7"))
    words = words_of(draw_setout(replace(ceiling, zone=replace(ceiling.zone, rooms=rooms)), stamp=STAMP))
    assert words.startswith("3 Office, 7 Office, 9 Office")
    assert words.count("above the room's floor") == 1
    assert "3, 7, 9: 2700 above" in words
