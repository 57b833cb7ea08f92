"""Set-out points of real models on the map, and of the demo under the numbers of its sheets."""

from __future__ import annotations

import csv
from pathlib import Path

import ifcopenshell
import ifcopenshell.util.geolocation
import numpy as np
import pytest

from ifcgrid.cli import main
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.outputs.points import find_points
from ifcgrid.outputs.setout.devices import find_devices
from ifcgrid.outputs.setout.lists import hanger_numbers
from ifcgrid.pipeline.flow import lay_out, read_intake, read_plan_file
from ifcgrid.pipeline.written import read_back

MODELS = Path(__file__).parents[2] / "models"


def rows_of(path):
    """The rows of a table of points."""
    return list(csv.reader(path.read_text(encoding="ascii").splitlines()))[1:]


@pytest.mark.models
@pytest.mark.parametrize("name", ["pcert_ifc4_Building-Architecture", "pcert_ifc4x3_Building-Architecture"])
def test_points_of_a_model_on_a_map_lie_where_another_reader_puts_them(shared_models, tmp_path, capsys, name):
    built, table = tmp_path / "built.ifc", tmp_path / "p.csv"
    assert main(["build", str(shared_models / f"{name}.ifc"), "-o", str(built)]) in (0, 1)
    args = ["points", str(built), "--units", "m", "--coordinates"]
    assert main([*args, "map", "-o", str(table)]) == 0
    assert main([*args, "project", "-o", str(tmp_path / "own.csv")]) == 0
    rows, own = (
        list(csv.reader(p.read_text(encoding="ascii").splitlines()))[1:]
        for p in (table, tmp_path / "own.csv")
    )
    file = ifcopenshell.open(str(built))
    assert len(rows) == len(own) > 40
    for row, mine in zip(rows, own, strict=True):
        y, x, z = (float(text) * 1000 for text in mine[1:4])
        # In millimetres, as this model's map is.
        wanted = np.array(ifcopenshell.util.geolocation.auto_xyz2enh(file, x, y, z)) / 1000
        n, e, h = map(float, row[1:4])
        assert (e, n, h) == pytest.approx(tuple(wanted), abs=2e-4)
    capsys.readouterr()
    assert main([*args, "map", "--measured", str(table)]) == 0
    assert "0 farther off" in capsys.readouterr().out
    assert "EPSG:32760" in table.with_suffix(".txt").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def demo() -> tuple[tuple[Ceiling, ...], tuple[Ceiling, ...]]:
    """Ceilings of the demo with braces, wires and trapezes: as built, and as read from the model."""
    others = [open_model(MODELS / f"sandrell-{kind}.ifc") for kind in ("services", "structure")]
    model = open_model(MODELS / "sandrell-architecture.ifc")
    plan = read_plan_file(MODELS / "sandrell-seismic-plan.toml")
    intake = read_intake(model, others, plan)
    wanted = {room.key for room in intake.rooms if room.number in ("003", "020", "101")}
    ceilings, _ = lay_out(intake, plan, only=wanted)
    write_ceilings(model.file, ceilings, ())
    return ceilings, read_back(model, others).ceilings


def test_points_of_the_written_model_have_the_names_and_places_of_those_that_were_built(demo):
    one, two = ({p.name: p for p in find_points(ceilings)} for ceilings in demo)
    assert list(one) == list(two)
    assert len(one) == len({name.casefold() for name in one}) > 300
    assert max(map(len, one)) <= 16
    for name, point in one.items():
        assert (point.x, point.y, point.z) == pytest.approx((two[name].x, two[name].y, two[name].z), abs=0.01)
    roles = {point.role.word for point in one.values()}
    assert roles == {"checks", "grid", "hangers", "trapezes", "braces", "devices", "wires"}


def test_hangers_have_the_numbers_of_the_sheets(demo):
    points = {p.name: p for p in find_points(demo[1])}
    for ceiling in demo[1]:
        numbers = hanger_numbers(ceiling)
        tops = ceiling.layout.frame.to_world(ceiling.hangers.top_points)
        rooms = {room.key for room in ceiling.zone.rooms}
        own = {n.rpartition("-")[2]: p for n, p in points.items() if p.room in rooms}
        for number, top, z in zip(numbers, tops.tolist(), ceiling.hangers.top.tolist(), strict=True):
            if np.isfinite(z):
                found = own[number]
                assert (found.x, found.y, found.z) == pytest.approx((*top, z), abs=0.01)


def test_devices_have_the_numbers_of_the_sheets(demo):
    points = {p.name: p for p in find_points(demo[1])}
    count = 0
    for ceiling in demo[1]:
        rooms = {room.key for room in ceiling.zone.rooms}
        own = {n.rpartition("-")[2]: p for n, p in points.items() if p.room in rooms}
        for device in find_devices(ceiling):
            x, y = ceiling.layout.frame.to_world([device.point])[0]
            found = own[f"D{device.number}"]
            assert (found.x, found.y) == pytest.approx((x, y), abs=0.01)
            count += 1
    assert count > 20
