"""Frames of turned buildings follow their walls to a hundredth of a degree.

gymzaal_grf005 is from buildingSMART/ifc-gherkin-rules, MIT; the demo's wing is our own.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from shapely import Polygon

from ifcgrid.domain.layout import Layout
from ifcgrid.ifc.project import open_model
from ifcgrid.pipeline import build

MODELS = Path(__file__).resolve().parents[2] / "models"


def away_from_walls(outline: Polygon, layout: Layout) -> float:
    """Degrees between the grid and the longest wall, modulo a quarter turn, from the corners alone."""
    points = np.asarray(outline.exterior.coords)[:, :2]
    run = np.diff(points, axis=0)
    dx, dy = run[np.argmax(np.hypot(*run.T))]
    away = np.degrees(np.arctan2(dy, dx)) - layout.frame.angle_deg
    return float(abs((away + 45.0) % 90.0 - 45.0))


@pytest.mark.models
def test_the_grids_of_a_turned_gymnasium_follow_its_walls(shared_models):
    result = build(open_model(shared_models / "gymzaal_grf005.ifc"))
    assert len(result.ceilings) > 5
    for ceiling in result.ceilings:
        assert away_from_walls(ceiling.zone.outline, ceiling.layout) < 0.01
    turned = [c for c in result.ceilings if 1.0 < c.layout.frame.angle_deg % 90.0 < 89.0]
    assert len(turned) == len(result.ceilings)


def test_the_grids_of_the_demo_wing_follow_its_walls():
    result = build(open_model(MODELS / "sandrell-architecture.ifc"))
    turned = [c for c in result.ceilings if 1.0 < c.layout.frame.angle_deg % 90.0 < 89.0]
    assert len(turned) >= 3
    for ceiling in turned:
        assert away_from_walls(ceiling.zone.outline, ceiling.layout) < 0.01
