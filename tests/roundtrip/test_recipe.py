"""The recipe runs in a program that knows nothing of us but its folder, and does what the command does."""

from __future__ import annotations

import logging
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcpatch
import pytest

from ifcgrid.domain.errors import IfcGridError
from ifcgrid.ifc.fingerprint import FINGERPRINT_SET
from ifcgrid.pipeline import build_file
from ifcgrid.recipes import FOLDER

OWN = Path(__file__).parents[2] / "models"


def _told_by_files_only(file: ifcopenshell.file) -> set[int]:
    """A host hands over an open model, so only the command can name the file that was read.

    The codes by which hand edits are noticed are of all properties, so of those too.
    """
    names = {p.id() for p in file.by_type("IfcPropertySingleValue") if p.Name.startswith("Input")}
    codes = [s for s in file.by_type("IfcPropertySet") if s.Name == FINGERPRINT_SET]
    return names | {p.id() for s in codes for p in s.HasProperties}


def _facts(file: ifcopenshell.file) -> Counter[str]:
    """Every entity with all that it refers to, whatever the ids are."""
    known: dict[int, str] = {}
    left_out = _told_by_files_only(file)

    def tell(value: Any) -> str:
        if isinstance(value, ifcopenshell.entity_instance):
            if value.id() == 0:
                return f"{value.is_a()}({value[0]!r})"
            if value.id() not in known:
                known[value.id()] = f"{value.is_a()}({','.join(map(tell, value))})"
                known[value.id()] = f"{value.is_a()}{hash(known[value.id()])}"
            return known[value.id()]
        if isinstance(value, tuple):
            kept = [v for v in value if not (hasattr(v, "is_a") and v.id() in left_out)]
            return f"({','.join(map(tell, kept))})"
        return repr(value)

    return Counter(tell(entity) for entity in file if entity.id() not in left_out)


def _run(source: Path, target: Path, *arguments: str) -> None:
    folder = subprocess.run(
        [sys.executable, "-m", "ifcgrid.recipes"], capture_output=True, text=True, check=True
    ).stdout.strip()
    command = [sys.executable, "-m", "ifcpatch", "-i", source, "-o", target, "-r", "CeilingGrid"]
    environment = {**os.environ, "IFCPATCH_RECIPE_DIR": folder}
    done = subprocess.run(
        [*map(str, command), "-a", *arguments],
        env=environment,
        cwd=target.parent,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def _same_as_the_command(source: Path, folder: Path, **options: str) -> None:
    patched, commanded = folder / "patched.ifc", folder / "commanded.ifc"
    _run(source, patched, *(options.get(name, "") for name in ("plan", "system", "detail")))
    build_file(source, commanded, **options)  # type: ignore[arg-type]
    one, two = (ifcopenshell.open(str(path)) for path in (patched, commanded))
    assert one.by_type("IfcElementAssembly"), "no grid was written"
    assert _facts(one) == _facts(two)


def test_the_recipe_gives_the_model_of_the_command(tmp_path: Path) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text('system = "lay-in-600x1200"\n', encoding="utf-8")
    _same_as_the_command(OWN / "gatehouse.ifc", tmp_path, plan=str(plan), detail="panels")


@pytest.mark.models
def test_the_recipe_gives_the_model_of_the_command_on_a_real_model(
    tmp_path: Path, shared_models: Path
) -> None:
    _same_as_the_command(shared_models / "pcert_ifc4x3_Building-Architecture.ifc", tmp_path)


def test_a_host_in_the_same_process_hears_of_rooms_without_a_ceiling(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setenv("IFCPATCH_RECIPE_DIR", str(FOLDER))
    model = ifcopenshell.open(str(OWN / "sandrell-architecture.ifc"))
    before = len(model.by_type("IfcElementAssembly"))
    with caplog.at_level(logging.INFO):
        done = ifcpatch.execute({"file": model, "recipe": "CeilingGrid", "arguments": []})
    assert done is model
    assert len(model.by_type("IfcElementAssembly")) > before
    assert any("got no ceiling: " in message for message in caplog.messages)


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (["no-such-plan.toml"], "no-such-plan.toml"),
        (["", "no-such-system"], "no-such-system"),
        (["", "", "everything"], "everything"),
        (["", "", "", "no-such-model.ifc"], "no-such-model.ifc"),
        (["", "", "", "", "no-such-policy"], "no-such-policy"),
    ],
)
def test_a_wrong_argument_is_named_and_the_model_stays_as_it_was(
    monkeypatch: pytest.MonkeyPatch, arguments: list[str], named: str
) -> None:
    monkeypatch.setenv("IFCPATCH_RECIPE_DIR", str(FOLDER))
    model = ifcopenshell.open(str(OWN / "gatehouse.ifc"))
    before = model.to_string()
    with pytest.raises((IfcGridError, ValueError), match=named):
        ifcpatch.execute({"file": model, "recipe": "CeilingGrid", "arguments": arguments})
    assert model.to_string() == before
