"""The cut list of a restrained ceiling is the same from the build and from the model it was written to.

Its members end short of free walls already (ASCE 7-05 13.5.6.2.2 b), so their pieces lose no
second gap when they are cut again from what stands in the model.
"""

from __future__ import annotations

from pathlib import Path

import ifcopenshell
import pytest

from ifcgrid.domain.plan import parse_plan
from ifcgrid.domain.quantity import TakeOff
from ifcgrid.ifc.project import model_from_file, open_model
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.pipeline.flow import build
from ifcgrid.pipeline.takeoff import ceilings_in, take_off
from ifcgrid.systems import list_systems

GATEHOUSE = Path(__file__).parents[2] / "models" / "gatehouse.ifc"


def _cut_list(done: TakeOff) -> list[tuple[object, ...]]:
    return [(r.room, r.step, r.mark, r.size, r.count, r.sources) for r in done.cut_list]


@pytest.mark.parametrize("category", ["C", "D"])
def test_a_restrained_ceiling_is_cut_from_the_model_as_from_the_build(category: str) -> None:
    model = open_model(GATEHOUSE)
    plan = parse_plan(f'restraint = {{category = "{category}"}}', list_systems())
    built = build(model, plan).ceilings
    assert any(ceiling.perimeter for ceiling in built)
    write_ceilings(model.file, built)
    _, read = ceilings_in(model_from_file(ifcopenshell.file.from_string(model.file.to_string())))
    assert _cut_list(take_off(read)) == _cut_list(take_off(built))
