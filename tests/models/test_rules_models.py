"""Real models and the demo at every detail: no new message of the validator, no breach of a rule.

The whole matrix takes some ten minutes and runs where IFCGRID_MATRIX is set; without it a
sample is looked at without the validator, which `test_write_real` asks for four models.
"""

from __future__ import annotations

import os
from collections import Counter
from pathlib import Path

import ifcopenshell
import pytest
from ceilings import make_model
from normative import faults
from written import DETAILS, SCHEMAS, messages, rooms_of

from ifcgrid.domain.errors import ModelError
from ifcgrid.ifc.edits import survey_edits
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.pipeline.flow import Build, build, read_plan_file

pytestmark = [
    pytest.mark.models,
    pytest.mark.filterwarnings("ignore::ResourceWarning"),  # the validator leaves its rules open
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]

MODELS = Path(__file__).parents[2] / "models"
IS_WHOLE = bool(os.environ.get("IFCGRID_MATRIX"))

REAL = (
    "bimwhale_LargeBuilding",
    "demo2_19rooms",
    "duplex_A_20110907",
    "duplex_Electrical_20121207",
    "gymzaal_grf005",
    "pcert_ifc4_Building-Architecture",
    "pcert_ifc4x3_Building-Architecture",
)
WITHOUT_ROOMS = tuple(
    f"pcert_{schema}_Building-{what}" for schema in ("ifc4", "ifc4x3") for what in ("Hvac", "Structural")
)
DEMO = ("gatehouse", "sandrell-architecture")
SAMPLE = {
    ("pcert_ifc4_Building-Architecture", "panels"),
    ("pcert_ifc4x3_Building-Architecture", "grid"),
    ("duplex_Electrical_20121207", "grid"),
    ("gatehouse", "ceiling"),
}


def _cases(names: tuple[str, ...]) -> list[tuple[str, str]]:
    every = [(name, detail) for name in names for detail in DETAILS]
    return [case for case in every if IS_WHOLE or case in SAMPLE]


_built: dict[str, tuple[str, Build]] = {}


def built(path: Path) -> tuple[str, Build]:
    """A model's text and its ceilings, laid out once."""
    if path.name not in _built:
        plan = MODELS / "sandrell-plan.toml" if path.name.startswith("sandrell") else None
        model = open_model(path)
        _built[path.name] = (model.file.to_string(), build(model, read_plan_file(plan)))
    return _built[path.name]


def without_ids(file: ifcopenshell.file) -> Counter[str]:
    return Counter(m.split("#")[0] for m in messages(file))


def judge(text: str, done: Build, detail: str) -> None:
    file, before = (ifcopenshell.file.from_string(text) for _ in range(2))
    write_ceilings(file, done.ceilings, done.findings, detail=detail, provenance={"InputSha256": "1"})
    assert faults(file, before) == {}
    assert survey_edits(file).edits == {}
    if IS_WHOLE:
        assert without_ids(file) - without_ids(before) == Counter()


@pytest.mark.parametrize(("name", "detail"), _cases(REAL))
def test_a_real_model_stays_as_valid_as_it_was(shared_models: Path, name: str, detail: str):
    judge(*built(shared_models / f"{name}.ifc"), detail)


@pytest.mark.parametrize(("name", "detail"), _cases(DEMO))
def test_the_demo_stays_as_valid_as_it_was(name: str, detail: str):
    judge(*built(MODELS / f"{name}.ifc"), detail)


@pytest.mark.skipif(not IS_WHOLE, reason="set IFCGRID_MATRIX=1")
@pytest.mark.parametrize("detail", DETAILS)
@pytest.mark.parametrize("schema", SCHEMAS)
@pytest.mark.parametrize("name", DEMO)
def test_the_demos_ceilings_fit_every_schema(name: str, schema: str, detail: str):
    """The demo's own schema is one of three: its rooms are made again as spaces of the others."""
    _, done = built(MODELS / f"{name}.ifc")
    file = make_model(schema, rooms_of(list(done.ceilings)))
    judge(file.to_string(), done, detail)


@pytest.mark.parametrize("name", WITHOUT_ROOMS if IS_WHOLE else WITHOUT_ROOMS[:1])
def test_a_model_without_rooms_is_refused(shared_models: Path, name: str):
    with pytest.raises(ModelError, match="holds no IfcSpace"):
        build(open_model(shared_models / f"{name}.ifc"))
