"""The plenum study of the demo: built at the level it finds nothing is in the way, 1 mm higher it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from ifcgrid.domain.plan import Plan
from ifcgrid.ifc.project import open_model
from ifcgrid.pipeline.coordinating import make_hanger
from ifcgrid.pipeline.flow import Build, build
from ifcgrid.pipeline.judging import judge_ceiling
from ifcgrid.pipeline.nearby import Nearby
from ifcgrid.pipeline.plenum import Raised, study_plenum

MODELS = Path(__file__).resolve().parents[2] / "models"
ROOMS = ("001", "005", "010", "020", "031", "040", "124")
"""Under beams, slab, a sloping roof, low pipe and ducts, a duct too wide for hangers; a deep terminal."""


@pytest.fixture(scope="module")
def demo() -> Build:
    services, structure = (open_model(MODELS / f"sandrell-{k}.ifc") for k in ("services", "structure"))
    return build(open_model(MODELS / "sandrell-architecture.ifc"), None, [services, structure])


@pytest.fixture(scope="module")
def studied(demo: Build):
    chosen = [c for c in demo.ceilings if c.zone.rooms[0].number in ROOMS]
    found = study_plenum(Build(**{**_fields(demo), "ceilings": tuple(chosen)}))
    return {c.zone.rooms[0].number: (c, p) for c, p in zip(chosen, found, strict=True)}


def _fields(demo: Build) -> dict[str, object]:
    return {name: getattr(demo, name) for name in ("intake", "skipped", "findings", "unchecked")}


def test_at_the_highest_level_nothing_is_in_the_way_and_1_mm_more_is(demo, studied):
    nearby = Nearby(demo.intake.obstacles)
    raised = Raised(hang=make_hanger(demo, Plan()), judge=judge_ceiling)
    for number, (ceiling, plenum) in studied.items():
        near, rise = nearby.find(ceiling.zone), plenum.highest - plenum.level
        assert plenum.tried == plenum.highest, number
        assert raised.faults(ceiling, rise, near) == (), number
        assert raised.faults(ceiling, rise + 1.0, near), number


def test_what_governs_is_what_was_planted(studied):
    names = {number: plenum.governing.name for number, (_, plenum) in studied.items()}
    assert names["010"] == "Low pipe 010"
    assert names["020"] == "Low duct 020"
    assert names["031"] == "Transfer beam"
    assert names["124"] == "Tight duct 124"
    # It is too wide to hang past: a trapeze under it asks for more than tilting panels in.
    assert studied["124"][1].governing.rule == "main-without-hanger"


def test_the_model_says_it_too(studied):
    import ifcopenshell.util.element

    from ifcgrid import write_ceilings

    model = open_model(MODELS / "sandrell-architecture.ifc")
    ceiling, plenum = studied["020"]
    write_ceilings(model.file, [ceiling])
    (covering,) = (c for c in model.file.by_type("IfcCovering") if c.Name == "Suspended ceiling 020")
    told = ifcopenshell.util.element.get_pset(covering, "IfcGrid_Provenance")
    assert told["PlenumHighest"] == pytest.approx(plenum.highest - plenum.floor)
    assert told["PlenumGovernedBy"].startswith("duct 'Low duct 020'")
    assert told["PlenumRule"].startswith("panel-tilt-in: ")
    assert told["PlenumClearance"] == pytest.approx(100.0)
    assert ceiling.plenum is not None
    assert told["PlenumNext"] == pytest.approx(ceiling.plenum.without(1) - plenum.floor)
