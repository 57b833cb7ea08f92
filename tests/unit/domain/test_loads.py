"""Published and derived load cases; each names where its numbers come from."""

from __future__ import annotations

import math

import pytest

from ifcgrid.domain import loads
from ifcgrid.domain.system import Section

LEAST = {"light": 5.0, "intermediate": 12.0, "heavy": 16.0}
"""lb/ft, direct-hung, ASTM C635 Table 1 (from memory, high confidence)."""


@pytest.mark.parametrize(
    ("psf", "duty"),
    [
        *((1.25, "light"), (1.26, "intermediate"), (3.0, "intermediate")),
        *((3.01, "heavy"), (4.0, "heavy"), (4.01, "over")),
    ],
)
def test_the_class_needed_with_mains_at_four_feet(psf, duty):
    # Arithmetic on the table above (which is from memory).
    assert loads.class_needed(loads.line_load(psf, 4.0), LEAST) == duty


def test_the_seismic_weight_limits_as_line_loads():
    # 4 psf (California DSA IR 25-2, scope) and 2.5 psf (ASTM E580 4, from memory) on 4 ft.
    assert loads.line_load(4.0, 4.0) == LEAST["heavy"]
    assert loads.line_load(2.5, 4.0) == 10.0
    assert [loads.area_load(w, 4.0) for w in LEAST.values()] == [1.25, 3.0, 4.0]


@pytest.mark.parametrize(
    ("span", "factor"),
    [(24, 8.0), (36, 2.3704), (42, 1.4927), (48, 1.0), (54, 0.7023), (60, 0.5120)],
)
def test_the_same_section_on_another_span(span, factor):
    # w2 = w1 (L1 / L2)^3, beam theory; factors recomputed independently.
    assert loads.scaled_line_load(1.0, 48, span) == pytest.approx(factor, abs=5e-5)


@pytest.mark.parametrize(("span", "limit"), [(36, 0.1), (42, 0.1167), (48, 0.1333), (54, 0.15), (60, 0.1667)])
def test_the_deflection_limit_of_a_span(span, limit):
    # L/360: ASTM C635/C635M-17 4.1.1-4.1.2 states 0.133 in at 48 in.
    assert span / 360 == pytest.approx(limit, abs=5e-5)


@pytest.mark.parametrize(
    ("ksi", "inertias"), [(29_500, [0.00732, 0.01757, 0.02343]), (29_000, [0.00745, 0.01788, 0.02383])]
)
def test_the_inertia_at_which_each_class_load_deflects_by_the_limit(ksi, inertias):
    # I = 5 w L^4 / (384 E L/360), L = 48 in; class loads from memory.
    found = [loads.inertia_for(w / 12, 48, ksi * 1000, 48 / 360) for w in LEAST.values()]
    assert found == pytest.approx(inertias, abs=6e-6)
    assert loads.midspan_deflection(16 / 12, 48.0, ksi * 1000, found[2]) == pytest.approx(48 / 360)


def test_a_hanger_of_a_four_foot_grid_carries_sixty_four_pounds():
    # 16 ft2 x 4 psf; least connection 100 lb: City of Daly City, brochure b18.
    assert 4 * 4 * 4 == 64 <= 100
    # 1 in 6 out of plumb: City of Daly City, brochure b18; statics.
    assert loads.side_pull(64, 1, 6) == pytest.approx(10.67, abs=5e-3)
    assert loads.wire_tension(64, 1, 6) == pytest.approx(64.88, abs=5e-3)
    assert math.degrees(math.atan(1 / 6)) == pytest.approx(9.46, abs=5e-3)


@pytest.mark.parametrize(
    ("inches", "millimetres", "square_inches", "square_mm"),
    [
        (0.1055, 2.680, 0.008742, 5.640),
        (0.1350, 3.429, 0.014314, 9.235),
        (0.1483, 3.767, 0.017273, 11.144),
        (0.1620, 4.115, 0.020612, 13.298),
    ],
)
def test_wire_areas_of_the_steel_wire_gauge(inches, millimetres, square_inches, square_mm):
    # 12, 10, 9 and 8 ga of the W&M column of the US steel wire gauge.
    assert inches * 25.4 == pytest.approx(millimetres, abs=6e-4)
    assert loads.wire_area(inches) == pytest.approx(square_inches, abs=6e-7)
    assert loads.wire_area(inches * 25.4) == pytest.approx(square_mm, abs=6e-4)


def test_stress_in_a_twelve_gauge_wire_at_three_times_the_load():
    # 3 x 64 lb; 70 ksi and the factor 2 are from memory (low confidence).
    assert 3 * 64 / loads.wire_area(0.1055) / 1000 == pytest.approx(21.96, abs=5e-3)
    assert 70_000 * loads.wire_area(0.1055) == pytest.approx(611.9, abs=0.05)


def test_constants_are_exact():
    assert pytest.approx(4.4482216152605) == loads.POUND_N
    assert pytest.approx(203_395.0, rel=1e-5) == loads.ELASTICITY
    assert pytest.approx(0.2836, abs=5e-5) == loads.STEEL_KG_PER_MM3 * 25.4**3 / 0.45359237


def test_the_inertia_of_a_section_is_that_of_its_sheets():
    section = Section(height=38.0, face=24.0, thickness=0.3)
    # Strips of a thousandth of the height, summed: an independent way to the same number.
    n, t = 1000, 0.6
    strips = [(38 * (k + 0.5) / n, t * 38 / n) for k in range(n)] + [(0.0, t * 24)]
    middle = sum(y * a for y, a in strips) / sum(a for _, a in strips)
    assert loads.section_inertia(section) == pytest.approx(
        sum(a * (y - middle) ** 2 for y, a in strips), rel=1e-5
    )
    assert loads.section_area(section) == pytest.approx(t * 62)
