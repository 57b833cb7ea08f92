"""The storey's plan: every room once, nothing overlapping, true to scale, nothing by colour alone."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations
from xml.etree import ElementTree

import numpy as np
import pytest
from drawn_storeys import DEVICES, OMITTED, STAMP, WALLS, finding, storey
from handmade_ceilings import build_ceiling, rectangle
from shapely import box

from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.waiver import Waiver
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.text import Label
from ifcgrid.outputs.plan import OmittedRoom, draw_storey

SVG = "{http://www.w3.org/2000/svg}"


def texts_of(svg: str) -> list[Label]:
    return [
        Label(
            x=float(e.get("x", "nan")),
            y=float(e.get("y", "nan")),
            text=e.text or "",
            size=float(e.get("font-size", "nan")),
            anchor=e.get("text-anchor", "start"),
            is_vertical="rotate(-90" in e.get("transform", ""),
            is_bold=e.get("font-weight") == "bold",
        )
        for e in ElementTree.fromstring(svg.encode()).iter(f"{SVG}text")
    ]


def words_of(svg: str) -> str:
    return " ".join(" ".join(label.text for label in texts_of(svg)).split())


def crossing_texts(svg: str) -> list[tuple[str, str]]:
    return [(a.text, b.text) for a, b in combinations(texts_of(svg), 2) if a.box.meets(b.box)]


@pytest.fixture(scope="module")
def plan() -> str:
    return draw_storey(
        "Ground floor",
        storey(),
        OMITTED,
        obstacles=[*DEVICES, *WALLS],
        findings=[finding("duct too low"), finding("fine", Verdict.PASS), finding("pipe", x=3100.0)],
        stamp=STAMP,
        north_deg=90.0,
    )


def test_no_two_texts_overlap_and_all_stand_on_the_page(plan: str) -> None:
    assert crossing_texts(plan) == []
    width, height = map(float, ElementTree.fromstring(plan.encode()).get("viewBox", "").split()[2:])
    assert all(Box(0, 0, width, height).holds(label.box) for label in texts_of(plan))


def test_every_room_is_tagged_with_number_name_level_and_kind_of_ceiling(plan: str) -> None:
    words = words_of(plan)
    for tag in (
        "101 Reading room +2700 C1",
        "102 Loans +2700 C1",
        "103 Story room +2700 C1",
        "104 Corridor +2700 C1",
        "106 Wing +2700 C1",
    ):
        assert tag in words


def test_the_list_says_what_each_kind_of_ceiling_is(plan: str) -> None:
    ceiling = storey()[0]
    assert f"C1: {ceiling.system.title}." in words_of(plan)
    assert f"lay-in panels {ceiling.system.panel_thickness:g} mm thick" in words_of(plan)


def test_a_room_too_small_for_its_tag_is_in_the_list(plan: str) -> None:
    assert "107, Duct, +2700 C1" in words_of(plan)


def test_rooms_without_a_ceiling_are_listed_with_their_reason(plan: str) -> None:
    words = words_of(plan)
    assert "108 Shaft: a shaft" in words
    assert "109 Stair: no body" in words
    assert 'stroke-dasharray="0.25 1.35"' in plan  # dots on the one whose outline is known


def test_failing_findings_are_numbered_and_others_are_not(plan: str) -> None:
    words = words_of(plan)
    assert "1. 101: duct too low" in words
    assert "2. 101: pipe" in words
    assert "fine" not in words


def test_an_accepted_finding_is_hollow_and_the_list_says_who_accepted_it() -> None:
    waiver = Waiver(reason="beam stays as it is", by="R. Ito")
    found = replace(finding("duct too low"), waiver=waiver)
    svg = draw_storey("x", storey()[:1], findings=[found, finding("pipe", x=5000.0)], stamp=STAMP)
    words = words_of(svg)
    assert "1. 101: duct too low - accepted by R. Ito: beam stays as it is" in words
    assert "finding, by number, accepted" in words
    assert "2. 101: pipe" in words
    assert "pipe - accepted" not in words


def test_legend_names_each_kind_of_device_that_occurs_and_no_other(plan: str) -> None:
    words = words_of(plan)
    for name in ("light", "air terminal", "sprinkler", "detector", "other device"):
        assert name in words
    assert "sprinkler" not in words_of(draw_storey("", storey(), obstacles=DEVICES[:1], stamp=STAMP))


def test_no_colour_but_grey_is_used(plan: str) -> None:
    for colour in set(re.findall(r"#([0-9a-f]{3,6})", plan)):
        parts = set(colour) if len(colour) == 3 else {colour[:2], colour[2:4], colour[4:]}
        assert len(parts) == 1


def test_hangers_and_members_measured_on_paper_are_those_of_the_ceiling() -> None:
    ceiling = storey()[4]
    svg = draw_storey("Wing", [ceiling], stamp=STAMP)
    scale = int(re.search(r"Scale 1:(\d+)", svg)[1])  # type: ignore[index]
    # The wall outline is the last area drawn with the weight of a wall.
    ring = re.findall(r'<path d="M([^"]+)Z" fill="none" fill-rule="evenodd" [^>]*width="0.5"', svg)[-1]
    paper = np.array([[float(n) for n in p.split()] for p in ring.split("L")])
    world = np.asarray(ceiling.zone.outline.exterior.coords)[:-1]
    to_paper = paper[0] - world[0] / scale * [1, -1]
    assert paper == pytest.approx(world / scale * [1, -1] + to_paper, abs=0.011)
    mains = re.findall(r'<path d="([^"]+)" fill="none" stroke="#000" stroke-width="0.35"/>', svg)
    mains = max(mains, key=len)  # the head, the foot and the legend have lines of that weight too
    drawn = np.array([[float(n) for n in p.split()] for p in re.split("[ML]", mains)[1:]])
    is_main = ceiling.members.role == 0
    ends = np.stack([ceiling.members.start[is_main], ceiling.members.end[is_main]], axis=1).reshape(-1, 2)
    expected = ceiling.layout.frame.to_world(ends) / scale * [1, -1] + to_paper
    assert drawn == pytest.approx(expected, abs=0.011)


def test_larger_paper_is_taken_to_stay_at_a_readable_scale() -> None:
    small = draw_storey("", storey()[:1], stamp=STAMP)
    large = draw_storey("", [build_ceiling(rectangle(44000, 28000), (600, 600))], stamp=STAMP)
    assert 'width="420mm"' in small
    assert 'width="594mm"' in large
    assert "Scale 1:100" in large


def test_an_empty_storey_is_a_sheet_that_says_so() -> None:
    svg = draw_storey("Roof", [], [OMITTED[1]], stamp=STAMP)
    assert "109 Stair: no body" in words_of(svg)
    assert crossing_texts(svg) == []


def test_many_small_rooms_never_put_one_text_on_another() -> None:
    rooms = [
        build_ceiling(
            rectangle(1500, 1300),
            (450, 350),
            number=f"2{k:02d}",
            name="Cell with a long name",
            at=(1600 * (k % 12), 1400 * (k // 12)),
        )
        for k in range(60)
    ]
    svg = draw_storey("Cells", rooms, stamp=STAMP)
    assert crossing_texts(svg) == []
    numbers = {label.text for label in texts_of(svg)}
    assert {f"2{k:02d}" for k in range(60)} <= numbers


@pytest.mark.parametrize("name", ["<script>alert(1)</script>", "=1+1", 'a & "b"'])
def test_names_are_text_whatever_they_hold(name: str) -> None:
    room = build_ceiling(rectangle(9000, 6000), (600, 600), name=name)
    omitted = OmittedRoom(number=name, name=name, reason=name, outline=box(9500, 0, 16000, 4000))
    svg = draw_storey(name, [room], [omitted], stamp={"model": name}, findings=[finding(name)])
    tags = {e.tag.removeprefix(SVG) for e in ElementTree.fromstring(svg.encode()).iter()}
    assert tags <= {"svg", "title", "rect", "g", "path", "circle", "text"}
    assert name in {label.text for label in texts_of(svg)}


def test_the_same_storey_gives_the_same_bytes() -> None:
    first, second = (draw_storey("x", storey(), OMITTED, obstacles=DEVICES, stamp=STAMP) for _ in "ab")
    assert first == second


@pytest.mark.parametrize(
    ("width", "depth", "paper"),
    [(70000, 24000, (891, 420)), (24000, 50000, (420, 594)), (25000, 20000, (420, 297))],
)
def test_a_long_building_gets_a_long_sheet_and_a_deep_one_a_deep_sheet(width, depth, paper) -> None:
    svg = draw_storey("", [build_ceiling(rectangle(width, depth), (600, 600))], stamp=STAMP)
    assert f'width="{paper[0]}mm" height="{paper[1]}mm"' in svg
    assert "Scale 1:100" in svg


def test_in_feet_and_inches_every_length_is_in_them() -> None:
    svg = draw_storey(
        "", storey(), obstacles=DEVICES, findings=[finding("duct 51 mm too low")], stamp=STAMP, units="ft-in"
    )
    words = words_of(svg)
    assert "+8'-10 5/16\"" in words  # 2700 mm
    assert "1'-1 3/4\"" in words  # 350 mm
    assert "1'-1 3/16\"" in words  # 335 mm
    assert 'duct 2" too low' in words
    assert "Lengths in feet and inches, to 1/16 in" in words
    assert crossing_texts(svg) == []


def test_a_list_longer_than_its_column_says_how_much_is_left_out() -> None:
    many = [OmittedRoom(number=str(k), name="Room", reason="a long reason " * 9) for k in range(400)]
    svg = draw_storey("", storey()[:1], many, stamp=STAMP)
    assert re.search(r"\.\.\. and \d+ lines more: see the record", words_of(svg))
    assert crossing_texts(svg) == []


def test_rooms_tags_and_findings_are_groups_that_bear_their_keys(plan: str) -> None:
    groups = list(ElementTree.fromstring(plan.encode()).iter(f"{SVG}g"))
    rooms = {g.get("data-room"): g for g in groups if g.get("class") == "room"}
    assert set(rooms) == {c.key for c in storey()}
    for ceiling in storey():
        (path,) = rooms[ceiling.key]
        assert path.get("fill") == "none"
        assert path.get("stroke") is None
        assert rooms[ceiling.key].get("data-zone") == ceiling.key
        assert rooms[ceiling.key].get("data-number") == ceiling.zone.rooms[0].number
        tag = " ".join(
            e.text or ""
            for g in groups
            if g.get("class") == "tag" and g.get("data-room") == ceiling.key
            for e in g
        )
        assert ceiling.zone.rooms[0].number in tag
    assert {g.get("data-finding") for g in groups} - {None} == {"1", "2"}


def test_keys_are_escaped_in_groups() -> None:
    room = build_ceiling(rectangle(3000, 3000), (600, 600), number='"><x a="')
    svg = draw_storey("x", [room], stamp=STAMP)
    (group,) = [g for g in ElementTree.fromstring(svg.encode()).iter(f"{SVG}g") if g.get("class") == "room"]
    assert group.get("data-number") == '"><x a="'
