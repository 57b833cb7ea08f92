"""A plan's words on setting out, from the file to the ceilings in the model and back."""

import json

import numpy as np
import pytest
from handmade_spaces import SpaceModel

from ifcgrid.domain.errors import PlanError
from ifcgrid.domain.plan import parse_plan
from ifcgrid.ifc.project import model_from_file
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.outputs.record import record_build
from ifcgrid.outputs.setout import draw_setout
from ifcgrid.pipeline.flow import build
from ifcgrid.pipeline.written import read_back
from ifcgrid.policies import list_policies
from ifcgrid.systems import list_systems

SYSTEM = 'system = "lay-in-600x600"\n'


def make_building():
    """Three rooms in a row with walls between, the last one with a soffit, and a corridor before them."""
    made = SpaceModel()
    storey = made.storey("Level", 0.0)
    spaces = {}
    for name, (x0, y0, x1, y1) in {
        "1": (0, 0, 4100, 5000),
        "2": (4200, 0, 9000, 5000),
        "3": (9100, 0, 14_000, 5000),
        "4": (0, -2250, 14_000, -100),
    }.items():
        ring = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        space = made.solid_room(ring, height=2700.0, storey=storey, name=name)
        made.ceiling(space, ring, 2700.0, 2720.0)
        spaces[name] = space
    strip = [(9100.0, 3600.0), (14_000.0, 3600.0), (14_000.0, 5000.0), (9100.0, 5000.0)]
    made.ceiling(spaces["3"], strip, 2400.0, 2420.0)
    made.root("IfcDoor", Name="Entry", ObjectPlacement=made.place(1000.0, -50.0), OverallWidth=900.0)
    line = made.file.createIfcPolyline([made.point(777.0, -3000.0), made.point(777.0, 9000.0)])
    axis = made.file.createIfcGridAxis("B", line, True)
    made.root("IfcGrid", Name="Axes", ObjectPlacement=made.place(), UAxes=[axis], VAxes=[axis])
    return made.file


def build_with(text):
    plan = parse_plan(SYSTEM + text, list_systems(), list_policies())
    file = make_building()
    return file, build(file, plan)


def by_number(done):
    return {c.zone.rooms[0].number + ("s" if c.key != c.zone.rooms[0].key else ""): c for c in done.ceilings}


def phase(ceiling, module=600.0):
    frame = ceiling.layout.frame
    return np.mod([frame.x, frame.y], module)


def test_rooms_of_a_declared_zone_share_angle_and_phase_and_keep_their_ceilings():
    _, done = build_with('[[rooms]]\nnumber = "[123]"\nzone = "offices"\n')
    found = by_number(done)
    assert len(found) == 4
    one = phase(found["1"])
    for name in ("2", "3"):
        away = np.abs(phase(found[name]) - one)
        assert np.minimum(away, 600 - away) == pytest.approx([0, 0], abs=1e-6)
        assert found[name].layout.set_out_from == "one grid through zone offices"
    assert found["4"].layout.set_out_from.startswith("balanced about the corridor's axis")


def test_rooms_of_a_zone_need_one_system_or_the_reason_is_told():
    _, done = build_with(
        '[[rooms]]\nnumber = "[12]"\nzone = "offices"\n[[rooms]]\nnumber = "2"\nsystem = "lay-in-600x1200"\n'
    )
    failed = [s for s in done.skipped if s.status == "failed"]
    assert {s.number for s in failed} == {"1", "2"}
    assert all("zone offices: its rooms have systems" in s.reason for s in failed)


def test_a_grid_line_falls_on_a_building_axis_of_the_model():
    _, done = build_with('[[rooms]]\nnumber = "1"\nline = {through = "B"}\n')
    layout = by_number(done)["1"].layout
    place = layout.frame.to_local([[777.0, 0.0]])[0, 0 if layout.frame.angle_deg == 0 else 1] / 600.0
    assert place == pytest.approx(round(place), abs=1e-6)


def test_an_unknown_axis_is_refused_with_the_line_of_the_rule():
    with pytest.raises(PlanError, match=r"plan file, line 2: .*no straight building axis 'Q'.* axes are B"):
        build_with('[[rooms]]\nnumber = "1"\nline = {through = "Q"}\n')


def test_the_wall_that_faces_the_door_controls_the_room():
    _, done = build_with('[[rooms]]\nnumber = "1"\ncontrol = "entrance"\n')
    assert "facing the entrance, door Entry" in by_number(done)["1"].layout.set_out_from


def test_a_room_without_the_named_wall_fails_alone():
    _, done = build_with('[[rooms]]\nnumber = "1"\ncontrol = "wall Q"\n')
    assert len(done.ceilings) == 3
    (failed,) = (s for s in done.skipped if s.status == "failed")
    assert "has no wall Q" in failed.reason


def test_a_soffit_is_cut_out_unless_it_is_to_have_a_grid_of_its_own():
    _, plain = build_with("")
    _, own = build_with('soffits = "own zone"\n')
    assert set(by_number(plain)) == {"1", "2", "3", "4"}
    found = by_number(own)
    assert set(found) == {"1", "2", "3", "3s", "4"}
    assert found["3s"].zone.level == pytest.approx(2400.0)
    assert found["3s"].zone.outline.area + found["3"].zone.outline.area == pytest.approx(4900 * 5000)


@pytest.mark.parametrize(
    "text",
    [
        'soffits = "own zone"\n',
        '[[rooms]]\nnumber = "[123]"\nzone = "offices"\n',
        '[[rooms]]\nnumber = "1"\nsystem = "lay-in-300x1200-staggered"\n',
        "turn = 45\n",
    ],
    ids=["soffit", "zone", "staggered", "turned"],
)
def test_what_was_written_is_read_back_as_it_was_built(text):
    file, done = build_with(text)
    write_ceilings(file, done.ceilings, done.findings)
    again = read_back(model_from_file(file))
    one, two = by_number(done), by_number(again)
    assert set(one) == set(two)
    for name, ceiling in one.items():
        assert two[name].panels.keys() == ceiling.panels.keys()
        assert len(two[name].members) == len(ceiling.members)
        assert two[name].panels.area == pytest.approx(ceiling.panels.area, abs=1.0)
        assert len({i.GlobalId for i in file.by_type("IfcRoot")}) == len(file.by_type("IfcRoot"))


def test_shifted_rows_are_written_with_the_tee_axes_of_every_row():
    file, done = build_with('[[rooms]]\nnumber = "1"\nsystem = "lay-in-300x1200-staggered"\n')
    write_ceilings(file, done.ceilings, done.findings)
    layout = by_number(done)["1"].layout
    tags = {}
    for grid in file.by_type("IfcGrid"):
        points = [axis.AxisCurve.Points for axis in grid.VAxes]
        tags |= {
            a.AxisTag: p[0].Coordinates[0]
            for a, p in zip(grid.VAxes, points, strict=True)
            if "b" in a.AxisTag
        }
    assert tags
    for tag, u in tags.items():
        assert u == pytest.approx(int(tag[1:-1]) * 1200.0 + layout.row_offset(1))
    members = by_number(done)["1"].members
    shifted = {round(float(u), 3) for u in members.start[members.role == 1][:, 0]}
    assert {round(u, 3) for u in tags.values()} <= shifted


def test_the_record_and_the_sheet_tell_from_where_it_was_set_out():
    _, done = build_with('[[rooms]]\nnumber = "1"\nsystem = "lay-in-300x1200-staggered"\ncontrol = "north"\n')
    ceiling = by_number(done)["1"]
    record = record_build(model={}, ceilings=done.ceilings)
    room = next(r for r in record["rooms"] if r["number"] == "1")
    assert room["set_out_from"] == ceiling.layout.set_out_from
    assert room["row_shift"] == 0.5
    assert room["tee_offsets_mm"] == [0.0, 600.0]
    assert json.loads(json.dumps(record)) == record
    text = " ".join(draw_setout(ceiling, stamp={}).split())
    assert "Rows are shifted: tee lines are given" in text
    assert "squared to wall" in text


def test_a_second_run_over_its_own_output_changes_nothing():
    plan = parse_plan(SYSTEM + 'soffits = "own zone"\n', list_systems(), list_policies())
    file = make_building()
    first = build(file, plan)
    write_ceilings(file, first.ceilings, first.findings)
    before = sorted(file.by_type("IfcRoot"), key=lambda e: e.GlobalId)
    names = [(e.is_a(), e.GlobalId) for e in before]
    second = build(file, plan)
    report = write_ceilings(file, second.ceilings, second.findings)
    assert sorted(report.adopted) == sorted({c.zone.rooms[0].covering.key for c in first.ceilings})
    after = sorted(file.by_type("IfcRoot"), key=lambda e: e.GlobalId)
    assert [(e.is_a(), e.GlobalId) for e in after] == names
