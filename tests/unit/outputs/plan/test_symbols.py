"""Symbols: as large, as turned and where the device is; small ones large enough to be seen."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import example, given
from hypothesis import strategies as st
from shapely import Point, Polygon, affinity, box

from ifcgrid.domain.obstacle import DEVICES, Kind
from ifcgrid.outputs.plan.drawing import Part
from ifcgrid.outputs.plan.symbols import KIND_WORDS, SYMBOLS, corners_of, device_mark


def mark(kind: Kind, outline: Polygon, scale: float = 100.0):
    return device_mark(kind, outline, scale, key="k", zone="z", facts={"NAME": "n"})


@given(
    st.floats(200, 3000),
    st.floats(200, 3000),
    st.floats(0, 360),
    st.floats(-1e6, 1e6),
    st.floats(-1e6, 1e6),
)
@example(2647.0, 2649.0, 0.0, 0.0, 0.0)
@example(600.0, 600.0, 30.0, 0.0, 0.0)
def test_a_light_covers_what_it_covers_in_the_model(length, width, angle, x, y) -> None:
    outline = affinity.rotate(box(x, y, x + length, y + width), angle)
    found = mark(Kind.LIGHT, outline)
    drawn = Polygon(corners_of(found, 100.0))
    assert drawn.symmetric_difference(outline).area < 1e-3 * outline.area
    assert found.size[0] >= found.size[1] - 1.0
    assert 0 <= found.angle_deg < 180


@pytest.mark.parametrize("kind", sorted(DEVICES))
def test_every_kind_has_a_symbol_a_word_and_a_layer(kind: Kind) -> None:
    found = mark(kind, box(0, 0, 100, 100))
    assert found.symbol in SYMBOLS
    assert kind in KIND_WORDS
    assert found.part is Part(kind.value)
    assert found.point == pytest.approx((50, 50))


def test_what_is_round_gets_a_round_symbol_as_wide_as_it_is() -> None:
    for kind in (Kind.LIGHT, Kind.AIR_TERMINAL, Kind.DEVICE):
        found = mark(kind, Point(1000, 2000).buffer(150))
        assert found.symbol.endswith("-round")
        assert found.size == pytest.approx((300, 300), rel=0.01)
        assert not mark(kind, box(0, 0, 300, 300)).symbol.endswith("-round")


def test_small_heads_are_drawn_large_enough_at_every_scale() -> None:
    for scale in (20, 50, 100, 200, 500):
        for kind, least in ((Kind.SPRINKLER, 2.2), (Kind.DETECTOR, 3.0), (Kind.LIGHT, 1.2)):
            found = mark(kind, box(0, 0, 20, 20), scale)
            on_paper = found.size[0] * (1.0 if found.is_sign else 1.0 / scale)
            assert on_paper >= least - 1e-9


def test_of_a_device_in_parts_the_largest_is_drawn() -> None:
    parts = shapely.MultiPolygon([box(0, 0, 100, 100), box(1000, 0, 1600, 600)])
    assert mark(Kind.LIGHT, parts).point == pytest.approx((1300, 300))


def test_symbols_are_told_apart_without_colour() -> None:
    looks = {repr(symbol) for symbol in SYMBOLS.values()}
    assert len(looks) == len(SYMBOLS)


def test_symbols_stay_in_their_square() -> None:
    for name, symbol in SYMBOLS.items():
        points = [p for ring in (*symbol.rings, *symbol.strokes, *(r for r, _ in symbol.fills)) for p in ring]
        reach = np.abs(np.array([*points, (0.0, 0.0)]))
        assert reach[:, 0].max() <= 0.5
        assert reach[:, 1].max() <= (1.0 if name.startswith("finding") else 0.5)
        assert all(np.hypot(x, y) + r <= 0.5 + 1e-9 for x, y, r, _ in symbol.circles)
