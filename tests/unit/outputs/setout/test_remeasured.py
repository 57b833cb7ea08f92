"""Every dimension printed on a set-out sheet, measured again on paper and held against the layout."""

from __future__ import annotations

import re
from collections import Counter

import numpy as np
import pytest
import shapely
from drawn import Dimension, dimensions_of, texts_of, words_of
from handmade_ceilings import L2, ROUND_ENDED, T1, TP1, build_ceiling, rectangle
from hypothesis import given, settings
from hypothesis import strategies as st

from ifcgrid.domain import tolerance
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.units import parse_length
from ifcgrid.outputs.paper.dimension import format_length, fraction_of
from ifcgrid.outputs.paper.sheet import PAPER_NAMES
from ifcgrid.outputs.paper.svg import write_svg
from ifcgrid.outputs.setout import Wish, setout_pages

INCH = 25.4
ROOMS = {
    "rectangle": (lambda: build_ceiling(rectangle(6100, 4270), (350, 335)), "mm"),
    "inches": (lambda: build_ceiling(rectangle(6103.9375, 4271.0), (351.7, 335.2)), "ft-in/8"),
    "L": (lambda: build_ceiling(L2, (13 * INCH, 15 * INCH), system="lay-in-2x2-ft"), "ft-in"),
    "T": (lambda: build_ceiling(TP1, (212.5, 300)), "mm"),
    "trapezoid": (lambda: build_ceiling(T1, (22.25 * INCH, 14 * INCH), system="lay-in-2x2-ft"), "ft-in"),
    "round end": (lambda: build_ceiling(ROUND_ENDED, (300, 600)), "mm"),
    "turned": (
        lambda: build_ceiling(rectangle(7310, 5200), (355, 500), angle_deg=17, at=(5e4, -3e4)),
        "mm",
    ),
    "on end": (lambda: build_ceiling(rectangle(4271.4, 6100.6), (335, 350), angle_deg=90), "mm"),
    "closet": (lambda: build_ceiling(rectangle(900, 900), (150, 150)), "mm"),
}


def drawn(ceiling: Ceiling, units: str, paper: str = "auto") -> tuple[list[Dimension], float, str]:
    """All dimensions of the first page, its scale, and its text."""
    svg = write_svg([setout_pages(ceiling, units=units, stamp={}, wish=Wish(paper=paper))[0]])
    scale = re.search(r"Scale 1:(\d+)", svg)
    assert scale
    return dimensions_of(svg), float(scale[1]), svg


def value_of(says: str, units: str) -> float:
    return float(says) if units == "mm" else parse_length(says)


def step_of(units: str) -> float:
    return 1.0 if units == "mm" else INCH / fraction_of(units)


def told_lengths(ceiling: Ceiling) -> list[float]:
    """Walls, borders and lattice lines straight from outline and layout, exact, in no order."""
    outline, layout = ceiling.zone.outline, ceiling.layout
    points = np.asarray(outline.exterior.coords)
    lengths = np.hypot(*np.diff(points, axis=0).T).tolist()
    for border in layout.borders:
        lengths += [border.least, border.greatest]
    u0, v0, u1, v1 = layout.frame.shape_to_local(outline).bounds
    for low, high, module in ((u0, u1, layout.along), (v0, v1, layout.across)):
        lines = [k * module for k in range(int(low // module) - 1, int(high // module) + 3)]
        lengths += [abs(x - end) for x in (*lines, low, high) for end in (low, high)]
        # Strings: half a main's face beside a line, and in the middle between two.
        half = ceiling.system.main.face / 2
        beside = [x + off for x in lines for off in (half, -half, module / 2)]
        lengths += [abs(x - end) for x in beside for end in (low, high)]
    corners = points[:-1]
    for k in range(len(corners)):
        lengths += np.hypot(*(corners - corners[k]).T).tolist()
    return lengths


@pytest.mark.parametrize("paper", ["auto", *PAPER_NAMES])
@pytest.mark.parametrize("room", ROOMS)
def test_each_printed_length_is_its_line_on_paper_times_the_scale(room: str, paper: str) -> None:
    make, units = ROOMS[room]
    dimensions, scale, _ = drawn(make(), units, paper)
    assert len(dimensions) >= 8
    # Places are written to 0.001 mm of paper.
    slack = step_of(units) / 2 + 0.0015 * scale
    wrong = [
        (d.says, d.length * scale)
        for d in dimensions
        if abs(d.length * scale - value_of(d.says, units)) > slack
    ]
    assert wrong == []


@pytest.mark.parametrize("room", [name for name in ROOMS if name != "round end"])
def test_each_printed_length_is_one_of_the_layout(room: str) -> None:
    make, units = ROOMS[room]
    ceiling = make()
    dimensions, *_ = drawn(ceiling, units)
    exact = {format_length(length, units) for length in told_lengths(ceiling)}
    assert [d.says for d in dimensions if d.says not in exact] == []


@pytest.mark.parametrize("room", ROOMS)
def test_a_dimension_s_text_stands_on_the_sheet(room: str) -> None:
    make, units = ROOMS[room]
    dimensions, _, svg = drawn(make(), units)
    texts = Counter(t.text.split("  ")[-1].removeprefix("diagonal ") for t in texts_of(svg))
    missing = Counter(d.says for d in dimensions) - texts
    # A wall too short for its length beside it has its letter there and its length in the list.
    words = words_of(svg)
    assert [says for says in missing if says not in words] == []


@pytest.mark.parametrize(("room", "count"), [("rectangle", 4), ("L", 6), ("T", 8), ("turned", 4)])
def test_every_wall_has_its_length_and_the_room_both_diagonals(room: str, count: int) -> None:
    make, units = ROOMS[room]
    ceiling = make()
    dimensions, _, svg = drawn(ceiling, units)
    ring = np.asarray(ceiling.zone.outline.exterior.coords)
    walls = Counter(format_length(float(x), units) for x in np.hypot(*np.diff(ring, axis=0).T))
    assert sum(walls.values()) == count
    assert not walls - Counter(d.says for d in dimensions)
    assert len(re.findall(r"diagonal \d", svg)) == 2


def test_the_square_check_is_the_distance_of_its_rings() -> None:
    make, units = ROOMS["rectangle"]
    _, scale, svg = drawn(make(), units)
    rings = [
        (float(x), float(y))
        for x, y in re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="0.9" fill="#fff"', svg)
    ]
    corners = rings[-4:]  # the legend has one before
    across = max(np.hypot(a[0] - b[0], a[1] - b[1]) for a in corners for b in corners) * scale
    # 9 x 6 panels of 600: sqrt(5400^2 + 3600^2) = 6490 (derived).
    assert across == pytest.approx(6490.0, abs=0.3)
    assert "are 6490; out of square by 3 they differ by 5" in words_of(svg)
    # Sheared by 3 mm over its depth the two diagonals are (derived, by Pythagoras):
    longer, shorter = np.hypot(5400 + 3, 3600), np.hypot(5400 - 3, 3600)
    assert longer - shorter == pytest.approx(2 * 5400 * 3 / 6490, abs=0.01)


@settings(max_examples=15, deadline=None)
@given(
    width=st.integers(900_0, 30000_0),
    depth=st.integers(900_0, 20000_0),
    units=st.sampled_from(["mm", "ft-in", "ft-in/8", "ft-in/32"]),
    paper=st.sampled_from(PAPER_NAMES),
)
def test_rooms_of_any_size_print_what_they_draw(width: int, depth: int, units: str, paper: str) -> None:
    wide, deep = width / 10, depth / 10
    borders = tuple((x % 600) / 2 + 300 if x > 1200 else (x % 600) / 2 or 300.0 for x in (wide, deep))
    ceiling = build_ceiling(rectangle(wide, deep), borders)  # type: ignore[arg-type]
    dimensions, scale, _ = drawn(ceiling, units, paper)
    slack = step_of(units) / 2 + 0.0015 * scale
    assert all(abs(d.length * scale - value_of(d.says, units)) <= slack for d in dimensions)
    diagonal = float(np.hypot(wide, deep))
    assert [d.says for d in dimensions].count(format_length(diagonal, units)) >= 2


def test_the_room_diagonals_stay_in_the_room_and_cross() -> None:
    from ifcgrid.outputs.setout.corners import find_diagonals
    from ifcgrid.outputs.setout.wall import name_walls

    for name, (make, _) in ROOMS.items():
        ceiling = make()
        found = find_diagonals(ceiling, name_walls(ceiling))
        assert len(found) == 2, name
        lines = [shapely.LineString([d.start.point, d.end.point]) for d in found]
        room = ceiling.layout.frame.shape_to_local(ceiling.zone.outline).buffer(tolerance.SHORTEST_EDGE)
        assert all(room.covers(line) for line in lines)
        assert lines[0].crosses(lines[1])
