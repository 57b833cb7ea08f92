"""What the README shows runs."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest

from ifcgrid.cli import main
from ifcgrid.domain.plan import parse_plan
from ifcgrid.policies import list_policies
from ifcgrid.systems import list_systems

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```(\w*)\n(.*?)```", README, re.DOTALL)


def test_the_commands_run_in_their_order(monkeypatch, tmp_path, capsys):
    shutil.copytree(ROOT / "models", tmp_path / "models")  # links need a right that Windows may not give
    monkeypatch.chdir(tmp_path)
    text = "\n".join(block for kind, block in BLOCKS if kind == "").replace("\\\n", " ")
    commands = [line for line in text.splitlines() if line.startswith("ifcgrid ")]
    assert len(commands) == 10
    for command in commands:
        assert main(shlex.split(command)[1:]) in (0, 1), command
    capsys.readouterr()
    made = {path.relative_to(tmp_path).as_posix() for path in (tmp_path / "out").rglob("*") if path.is_file()}
    assert made == {
        "out/with-ceilings.ifc",
        "out/clash.bcf",
        "out/clash.csv",
        "out/clash.json",
        "out/plenum.csv",
        "out/checks.csv",
        "out/checks.html",
        "out/floor.html",
        "out/sheets/setout-Ground-floor-003.pdf",
        "out/sheets/setout-Ground-floor-003.svg",
        "out/sheets/setout-Ground-floor-003-page-2.svg",
        "out/room.pdf",
        "out/takeoff.xlsx",
        "out/why.svg",
    }


def test_the_plan_can_be_read():
    plans = [block for kind, block in BLOCKS if kind == "toml"]
    read = [parse_plan(plan, list_systems(), list_policies()) for plan in plans]
    assert [(len(p.rules), len(p.devices), len(p.waivers)) for p in read] == [
        (2, 0, 0),
        (0, 0, 1),
        (0, 0, 0),
        (1, 0, 0),
        (0, 0, 0),
        (0, 1, 0),
        (3, 0, 0),
    ]
    assert [len(p.measured) for p in read] == [0, 0, 0, 0, 1, 0, 0]


def test_the_python_example_runs(monkeypatch, capsys):
    (example,) = [block for kind, block in BLOCKS if kind == "python"]
    monkeypatch.chdir(ROOT)
    exec(compile(example, "README.md", "exec"), {})
    assert "borders" in capsys.readouterr().out


@pytest.mark.parametrize("name", [*list_systems(), *list_policies()])
def test_every_system_and_policy_is_named(name):
    assert f"`{name}`" in README
