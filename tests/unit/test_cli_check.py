"""The check command: what it prints and writes, and its exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from ifcgrid.cli import main

MODELS = Path(__file__).parents[2] / "models"


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("built") / "gatehouse.ifc"
    assert main(["build", str(MODELS / "gatehouse.ifc"), "-o", str(target)]) in (0, 1)
    return target


def test_the_layout_alone_is_checked_without_a_rule_set(built, capsys) -> None:
    assert main(["check", str(built)]) == 0
    text = capsys.readouterr().out
    assert "Layout-1" in text
    assert "ASTM" not in text[: text.index("Cautions")]


def test_rule_sets_are_checked_and_every_form_written(built, tmp_path, capsys) -> None:
    table, page, record = (tmp_path / name for name in ("c.csv", "c.html", "c.json"))
    code = main(
        [
            *(
                "check",
                str(built),
                "--rules",
                "c636-19",
                "e580-14-sdc-d",
                "--sds",
                "1.0",
                "--z-over-h",
                "1.0",
            ),
            *("--switch", "first-brace=four-foot", "perimeter-hanger=quarter-tee", "--walls-to-structure"),
            *("--csv", str(table), "--page", str(page), "--json", str(record)),
        ]
    )
    assert code == 1  # the generic metric system's wall angle is narrower than 2 in
    told = json.loads(record.read_text(encoding="utf-8"))
    assert [f["id"] for f in told["judged_by"]] == [
        "layout-1",
        "c636-19",
        "c635-17",
        "e580-14-sdc-d",
        "asce7-16",
    ]
    switches = {k: v for f in told["judged_by"] for k, v in f["switches"].items()}
    assert switches["first-brace"] == "four-foot"
    assert switches["hanger-spacing"] == "12-gauge"
    assert told["site"] == {
        "sds": 1.0,
        "z_over_h": 1.0,
        "importance": 1.0,
        "edition": "7-16",
        "walls_to_structure": True,
    }
    assert told["outputs"] == [str(table), str(page)]
    assert {f["verdict"] for f in told["findings"]} <= {"fail", "unknown"}
    assert told["totals"]["rooms"] == 5
    exempt = [r for r in told["checks"] if r["rule"] == "size-exemption"]
    assert {r["verdict"] for r in exempt} == {"pass"}
    assert "four-foot" in capsys.readouterr().out
    assert table.read_text(encoding="utf-8").startswith("storey,")
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_a_plan_says_by_what_to_judge(built, tmp_path, capsys) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text('rules = ["en13964-14"]\nswitches = { deflection-class = "class-2" }\n', encoding="utf-8")
    assert main(["check", str(built), "--plan", str(plan), "--json", "-"]) in (0, 1)
    told = json.loads(capsys.readouterr().out)
    assert [f["id"] for f in told["judged_by"]] == ["layout-1", "en13964-14"]
    assert told["judged_by"][1]["switches"] == {"deflection-class": "class-2"}


def test_build_judges_by_the_plans_rules_too(tmp_path, capsys) -> None:
    plan = tmp_path / "plan.toml"
    plan.write_text('rules = ["c636-19"]\n', encoding="utf-8")
    out = tmp_path / "out.ifc"
    main(["build", str(MODELS / "gatehouse.ifc"), "-o", str(out), "--plan", str(plan), "--json", "-"])
    told = json.loads(capsys.readouterr().out)
    rules = {f["rule"]: f for f in told["findings"] if f.get("document") == "ASTM C636"}
    assert {"hanger-spacing", "hanger-load"} <= set(rules)
    assert rules["hanger-spacing"]["basis"].startswith("S")


def test_the_table_needs_no_model(capsys) -> None:
    assert main(["check", "--table"]) == 0
    assert capsys.readouterr().out == (MODELS.parent / "ifcgrid" / "checks" / "RULES.md").read_text(
        encoding="utf-8"
    )


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "check needs a MODEL"),
        (["--rules", "c636-07"], "no rule set 'c636-07'; choose one of c635-17"),
        (["--switch", "first-brace"], "first-brace is ''; choose one of six-foot, four-foot"),
        (["--z-over-h", "2"], "z_over_h is 2.0; give a number from 0 to 1"),
    ],
)
def test_what_cannot_run_says_why_in_one_line(built, arguments, message, capsys) -> None:
    model = [str(built)] if arguments else []
    assert main(["check", *model, *arguments]) == 2
    error = capsys.readouterr().err
    assert message in error
    assert error.count("\n") == 1


def test_a_model_without_ceilings_of_ours_is_refused(capsys) -> None:
    assert main(["check", str(MODELS / "gatehouse.ifc")]) == 2
    assert "run ifcgrid build" in capsys.readouterr().err


def test_nothing_is_written_over_what_is_read(built, capsys) -> None:
    assert main(["check", str(built), "--csv", str(built)]) == 2
    assert "is a file that is read" in capsys.readouterr().err
