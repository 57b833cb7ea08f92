"""Earthquake forces: cases derived on second-hand equations of ASCE 7-16 and 7-22."""

from __future__ import annotations

import math

import pytest

from ifcgrid.domain.errors import PlanError
from ifcgrid.domain.seismic import Seismic, force_7_16, force_7_22, splay_tension

WEIGHT = 4 * 144
"""lb: 4 psf (floor of Wp from memory) on 12 x 12 ft."""

CASES = [
    ("7-16", 1.0, 1.0, 0.480, 276.48, 391.00, 193.54, 273.70, 547.4),
    ("7-16", 1.0, 0.5, 0.320, 184.32, 260.67, 129.02, 182.47, 364.9),
    ("7-16", 1.0, 0.0, 0.300, 172.80, 244.38, 120.96, 171.06, 342.1),
    ("7-16", 0.5, 1.0, 0.240, 138.24, 195.50, 96.77, 136.85, 273.7),
    ("7-22", 1.0, 1.0, 0.7179, 413.54, 584.83, 289.48, 409.38, 818.8),
    ("7-22", 1.0, 0.0, 0.300, 172.80, 244.38, 120.96, 171.06, 342.1),
]


@pytest.mark.parametrize(("edition", "sds", "height", "share", "fp", "wire", "fp7", "wire7", "joint"), CASES)
def test_force_on_a_brace_set(edition, sds, height, share, fp, wire, fp7, wire7, joint):
    force = (force_7_16 if edition == "7-16" else force_7_22)(sds, height)
    assert force.share == pytest.approx(share, abs=5e-5)
    assert force.share * WEIGHT == pytest.approx(fp, abs=6e-3)
    tension = splay_tension(force.share * WEIGHT, 45.0)
    assert tension == pytest.approx(wire, abs=6e-3)
    assert 0.7 * force.share * WEIGHT == pytest.approx(fp7, abs=6e-3)
    assert 0.7 * tension == pytest.approx(wire7, abs=6e-3)
    # max(200, 2 x load): NWCB Technical Document 401 (second-hand).
    assert max(200, 2 * 0.7 * tension) == pytest.approx(joint, abs=0.06)
    assert tension * math.sin(math.radians(45)) == pytest.approx(fp, abs=6e-3)


def test_at_grade_the_least_force_counts():
    assert force_7_16(1.0, 0.0).calculated == pytest.approx(0.160)
    assert force_7_22(1.0, 0.0).calculated == pytest.approx(0.2667, abs=5e-5)
    assert force_7_22(1.0, 0.0, ductility=1.3).calculated == pytest.approx(0.2051, abs=5e-5)
    assert force_7_22(1.0, 0.0).share == pytest.approx(0.3)


def test_the_greatest_force_counts_too():
    assert force_7_16(1.0, 1.0, 1.0, amplification=9.0).share == pytest.approx(1.6)


@pytest.mark.parametrize(
    ("values", "part"),
    [
        ({"edition": "7-10"}, "7-16, 7-22"),
        ({"sds": -1.0}, "sds"),
        ({"sds": float("nan")}, "sds"),
        ({"z_over_h": 1.5}, "0 to 1"),
        ({"importance": 0.0}, "importance"),
        ({"sds": "1"}, "sds"),
        ({"walls_to_structure": "yes"}, "true or false"),
    ],
)
def test_a_wrong_site_names_what_would_be_right(values, part):
    with pytest.raises(PlanError, match=part):
        Seismic(**values)
