"""A reflected plan keeps the orientation of the floor plan: left stays left, nothing is mirrored.

The ceiling is drawn as a mirror on the floor shows it (common practice, no source): seen
from above, not as it is seen by somebody who looks up.
"""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from drawn_storeys import STAMP, device
from handmade_ceilings import L2, build_ceiling
from shapely import LinearRing, affinity

from ifcgrid.domain.obstacle import Kind
from ifcgrid.outputs.plan import draw_storey, lay_out_storey
from ifcgrid.outputs.plan.drawing import Mark, Outline, Part

SVG = "{http://www.w3.org/2000/svg}"

# Unlike its mirror image: an L with a light in its west, a head in its north, an air terminal in its east.
PLACES = {Kind.LIGHT: (600.0, 1000.0), Kind.SPRINKLER: (1800.0, 4200.0), Kind.AIR_TERMINAL: (5400.0, 900.0)}
THINGS = [device(kind, x - 100, y - 100, 200.0) for kind, (x, y) in PLACES.items()]


def turn(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> float:
    """Twice the area of a triangle, positive when it runs counter-clockwise with y upwards."""
    (x1, y1), (x2, y2) = b - a, c - a
    return float(x1 * y2 - x2 * y1)


def ring_of(data: str) -> np.ndarray:
    return np.array([[float(n) for n in p.split()] for p in re.split("[MLZ]", data) if p])


def test_the_outline_on_paper_runs_as_it_does_in_the_model() -> None:
    ceiling = build_ceiling(L2, (300, 300))
    svg = draw_storey("x", [ceiling], obstacles=THINGS, stamp=STAMP)
    (room,) = [g for g in ElementTree.fromstring(svg.encode()).iter(f"{SVG}g") if g.get("class") == "room"]
    paper = ring_of(room[0].get("d", "")) * [1, -1]  # y of paper runs down
    model = np.asarray(ceiling.zone.outline.exterior.coords)[:-1]
    assert LinearRing(paper).is_ccw == LinearRing(model).is_ccw
    # Point by point, a shift and one scale: no turn, no mirror.
    scale = np.ptp(model[:, 0]) / np.ptp(paper[:, 0])
    assert (paper - paper[0]) * scale == pytest.approx(model - model[0], abs=1.0)


def test_devices_keep_their_sides_and_a_mirrored_room_does_not_pass() -> None:
    ceiling = build_ceiling(L2, (300, 300))
    sheet = lay_out_storey("x", [ceiling], obstacles=THINGS, stamp=STAMP)
    at = {thing.part: thing.point for thing in sheet.drawing.things if isinstance(thing, Mark)}
    for kind, place in PLACES.items():
        assert at[Part(kind.value)] == pytest.approx(place, abs=1e-6)
    paper = sheet.view.paper([at[Part.LIGHT], at[Part.SPRINKLER], at[Part.AIR_TERMINAL]])
    light, sprinkler, terminal = paper * [1, -1]
    assert turn(light, sprinkler, terminal) < 0  # clockwise, as west, north, east are on a floor plan
    assert light[0] < terminal[0]
    assert sprinkler[1] > light[1]
    # The same check refuses a plan seen from below.
    mirrored = affinity.scale(ceiling.zone.outline, -1, 1)
    outline = next(t.shape for t in sheet.drawing.things if isinstance(t, Outline) and t.part is Part.CEILING)
    assert not outline.equals(affinity.translate(mirrored, outline.bounds[2]))
    assert outline.equals(ceiling.zone.outline)


def test_texts_are_not_mirrored_and_the_sheet_says_how_it_is_seen() -> None:
    svg = draw_storey("x", [build_ceiling(L2, (300, 300))], stamp=STAMP)
    assert "scale(-1" not in svg
    assert "matrix" not in svg
    words = " ".join(e.text or "" for e in ElementTree.fromstring(svg.encode()).iter(f"{SVG}text"))
    assert "as in a mirror on the floor: same orientation as the floor plan" in words


def test_north_is_where_the_model_has_it() -> None:
    # North along the model's Y axis points up the sheet, along its X axis to the right.
    for north, (dx, dy) in {90.0: (0, -1), 0.0: (1, 0)}.items():
        sheet = lay_out_storey("x", [build_ceiling(L2, (300, 300))], stamp=STAMP, north_deg=north)
        (letter,) = [t.label for t in sheet.furniture.texts if t.label.text == "N"]
        shaft = next(
            s
            for s in sheet.furniture.shapes
            if len(s.parts) == 1
            and len(s.parts[0]) == 2
            and s.weight == 0.35
            and abs(np.ptp(s.parts[0], axis=0)).max() == pytest.approx(9.0)
        )
        way = shaft.parts[0][1] - shaft.parts[0][0]
        assert way / np.hypot(*way) == pytest.approx([dx, dy], abs=1e-9)
        middle = np.array(
            [(letter.box.left + letter.box.right) / 2, (letter.box.top + letter.box.bottom) / 2]
        )
        assert (middle - shaft.parts[0][1]) @ [dx, dy] > 0
