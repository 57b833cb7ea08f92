"""The demo's reading hall held against earthquakes: laid out, clear of services, written, read back."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import shapely

from ifcgrid.domain.ceiling import Ceiling, Role
from ifcgrid.domain.obstacle import SERVICES, Obstacle
from ifcgrid.ifc.project import model_from_file, open_model
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.pipeline.flow import Intake, judge, lay_out, read_intake, read_plan_file
from ifcgrid.pipeline.written import read_back

MODELS = Path(__file__).resolve().parents[2] / "models"
FOOT = 304.8
CLEARANCE = 152.4
"""6 in, from memory: California DSA IR 25-2; ASTM E580 5.2.8."""


@dataclass(frozen=True)
class Hall:
    intake: Intake
    ceiling: Ceiling
    services: list[Obstacle]


@pytest.fixture(scope="module")
def hall() -> Hall:
    plan = read_plan_file(MODELS / "sandrell-seismic-plan.toml")
    model = open_model(MODELS / "sandrell-architecture.ifc")
    others = [open_model(MODELS / f"sandrell-{name}.ifc") for name in ("services", "structure")]
    intake = read_intake(model, others, plan)
    key = next(room.key for room in intake.rooms if room.number == "020")
    (ceiling,), failed = lay_out(intake, plan, only={key})
    assert failed == ()
    services = [o for o in intake.obstacles if o.kind in SERVICES]
    return Hall(intake, ceiling, services)


def _ends(ceiling: Ceiling) -> list[tuple[np.ndarray, np.ndarray]]:
    braces, frame = ceiling.braces, ceiling.layout.frame
    bottom = ceiling.zone.level + ceiling.system.main.height
    feet = frame.to_world(braces.point)
    found = []
    for k, foot in enumerate(feet):
        start = np.array([*foot, bottom])
        found.append((start, np.array([*foot, braces.post_top[k]])))
        for top in braces.wire_top[k]:
            found.append((start, np.array([*frame.to_world([top[:2]])[0], top[2]])))
    return found


def test_the_hall_has_brace_sets_and_other_rooms_have_none(hall: Hall):
    assert hall.ceiling.zone.outline.area > 1000 * FOOT**2
    assert hall.ceiling.braces is not None
    assert len(hall.ceiling.braces) >= 5 * 3  # 50 x 36 ft at 12 ft each way
    others = [s for key, s in hall.intake.settings.items() if key != hall.ceiling.zone.rooms[0].key]
    assert all(s.restraint is None for s in others)


def test_every_place_is_held_and_every_set_stands_at_a_crossing(hall: Hall):
    ceiling, braces = hall.ceiling, hall.ceiling.braces
    local = ceiling.layout.frame.shape_to_local(ceiling.zone.outline)
    u, v = np.meshgrid(*(np.arange(local.bounds[k] + 20, local.bounds[k + 2], 150.0) for k in (0, 1)))
    spots = np.column_stack([u.ravel(), v.ravel()])
    spots = spots[shapely.contains_xy(local, spots)]
    apart = np.abs(spots[:, None] - braces.point[None]).max(axis=2).min(axis=1)
    # Behind a column a place may be held from beside it.
    assert np.quantile(apart, 0.999) <= 6 * FOOT + 1
    members = ceiling.members
    tees = members.role == Role.CROSS_TEE
    ends = np.concatenate([members.start[tees], members.end[tees]])
    gaps = np.hypot(*(braces.point[:, None] - ends[None]).transpose(2, 0, 1)).min(axis=1)
    assert gaps.max() <= 50.8  # 2 in: City of Daly City b18


def test_wires_and_posts_are_clear_of_all_services_by_sampling(hall: Hall):
    for start, end in _ends(hall.ceiling):
        assert np.isfinite(end).all()
        points = start + np.linspace(0, 1, 60)[:, None] * (end - start)
        is_post = np.allclose(start[:2], end[:2])
        for service in hall.services:
            z_gap = np.maximum(np.maximum(service.bottom - points[:, 2], points[:, 2] - service.top), 0)
            plan = shapely.distance(service.outline, shapely.points(points[:, :2]))
            gap = np.hypot(plan, z_gap)  # to the box over the silhouette: never more than to the body
            if gap.min() < (0.0 if is_post else CLEARANCE):
                corners = service.mesh.reshape(-1, 3)
                apart = np.linalg.norm(points[:, None] - corners[None], axis=2).min()
                assert apart >= CLEARANCE, service.name
    rules = {f.rule for f in judge([hall.ceiling], hall.intake.obstacles)}
    assert not rules & {"brace-near-service", "post-through-service", "brace-through-structure"}
    assert "brace-incomplete" not in rules


def test_it_stands_in_the_model_as_it_was_laid_out(hall: Hall):
    model = hall.intake.model
    file = type(model.file).from_string(model.file.to_string())
    report = write_ceilings(file, [hall.ceiling])
    braces = hall.ceiling.braces
    assert report.counts["brace_post"] == len(braces)
    assert report.counts["brace_wire"] == 4 * len(braces)
    assert report.counts["device_wire"] == len(hall.ceiling.wires)
    assert report.counts["stabiliser"] == len(hall.ceiling.stabilisers)
    again = read_back(model_from_file(file), hall.intake.others)
    (back,) = again.ceilings
    assert back.braces.line.tolist() == braces.line.tolist()
    order = np.lexsort((braces.column, braces.line))
    assert np.abs(back.braces.wire_top - braces.wire_top[order]).max() <= 0.01
    assert back.perimeter == hall.ceiling.perimeter
    assert back.wires.device == hall.ceiling.wires.device
    assert [f for f in again.findings if f.rule.startswith(("brace", "post"))] == []


def test_a_duct_that_somebody_moves_into_a_wire_is_reported(hall: Hall):
    start, end = _ends(hall.ceiling)[1]
    middle = (start + end) / 2
    duct = next(s for s in hall.services if s.kind == "duct")
    body = shapely.Point(middle[:2]).buffer(100)
    moved = type(duct)(
        key=duct.key, kind=duct.kind, name=duct.name, outline=body, bottom=middle[2] - 50, top=middle[2] + 50
    )
    found = [f for f in judge([hall.ceiling], [moved]) if f.rule == "brace-near-service"]
    assert len(found) == 1
    assert found[0].value == 0.0
