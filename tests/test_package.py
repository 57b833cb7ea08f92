"""What holds for the package as a whole: names, sizes, layers, what is shipped."""

from __future__ import annotations

import ast
import importlib
import importlib.metadata
import pkgutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from environment import is_registry_missing

import ifcgrid

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "ifcgrid"
SOURCES = sorted(PACKAGE.rglob("*.py"))
MODULES = sorted(
    name for _, name, _ in pkgutil.walk_packages([str(PACKAGE)], "ifcgrid.") if not name.endswith("__main__")
)
LONGEST_MODULE = 400
LEAST_LENGTH = 0.1
VAGUE = {"util", "utils", "helper", "helpers", "common", "misc", "manager", "base"}


@pytest.mark.parametrize("name", ["ifcgrid", *MODULES])
def test_public_names_are_sorted_and_exist(name: str):
    module = importlib.import_module(name)
    public = list(getattr(module, "__all__", []))
    # Constants, then classes, then functions: the order that the linter's sorter gives.
    assert public == sorted(public, key=lambda n: (0 if n.isupper() else 1 if n[:1].isupper() else 2, n))
    assert [n for n in public if not hasattr(module, n)] == []


@pytest.mark.parametrize("name", MODULES)
def test_a_module_that_defines_names_says_which_are_public(name: str):
    module = importlib.import_module(name)
    source = Path(str(module.__file__)).read_text(encoding="utf-8")
    defines = any(isinstance(n, ast.FunctionDef | ast.ClassDef) for n in ast.parse(source).body)
    assert hasattr(module, "__all__") or not defines


def test_the_version_is_the_installed_one():
    try:
        installed = importlib.metadata.version("ifcgrid")
    except importlib.metadata.PackageNotFoundError:
        pytest.skip("ifcgrid is on the path here but not installed")
    assert installed == ifcgrid.__version__


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_no_module_outgrows_its_budget(path: Path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_MODULE


def test_no_module_has_a_vague_name():
    assert [p for p in SOURCES if VAGUE & set(p.stem.strip("_").split("_"))] == []


def _small_floats(path: Path) -> list[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [
        f"{path.relative_to(ROOT)}:{node.lineno}: {node.value}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, float) and 0 < node.value < LEAST_LENGTH
    ]


def test_every_epsilon_of_the_geometry_lives_in_the_tolerance_module():
    # A float below a tenth of a millimetre is no size of a ceiling part, so it is an epsilon.
    folders = [PACKAGE / name for name in ("domain", "design", "checks")]
    found = [text for folder in folders for p in sorted(folder.rglob("*.py")) for text in _small_floats(p)]
    assert [text for text in found if not text.startswith(str(Path("ifcgrid/domain/tolerance.py")))] == []


def test_an_epsilon_outside_the_tolerance_module_would_be_seen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setitem(globals(), "ROOT", tmp_path)
    path = tmp_path / "sample.py"
    path.write_text("def f(x):\n    return x < 1e-6\n", encoding="utf-8")
    assert _small_floats(path) == ["sample.py:2: 1e-06"]


def test_the_layers_import_only_what_they_may():
    pytest.importorskip("importlinter", reason="import-linter is not installed here")
    command = [
        sys.executable,
        "-c",
        "import sys; from importlinter.cli import lint_imports_command as c; sys.exit(c())",
    ]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout + run.stderr


def test_an_installed_package_ships_its_types_marker_and_its_data(tmp_path: Path):
    command = [
        sys.executable,
        "-m",
        "pip",
        "wheel",
        "--quiet",
        "--no-deps",
        "--wheel-dir",
        str(tmp_path),
        str(ROOT),
    ]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    if run.returncode and is_registry_missing(run.stderr):
        pytest.skip("the build tools cannot be had: no package registry in reach")
    assert run.returncode == 0, run.stderr
    with zipfile.ZipFile(next(tmp_path.glob("*.whl"))) as wheel:
        shipped = {name for name in wheel.namelist() if name.startswith("ifcgrid/")}
    kept = {
        p.relative_to(ROOT).as_posix()
        for p in PACKAGE.rglob("*")
        if p.is_file() and "__pycache__" not in p.parts and not p.name.startswith(".")
    }
    assert "ifcgrid/py.typed" in shipped
    assert shipped == kept
