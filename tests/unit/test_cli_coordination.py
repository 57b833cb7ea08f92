"""Coordination from the command line: three re-runs with seeded changes, waivers, filters, tables."""

from __future__ import annotations

import csv
import json
import zipfile
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as Tree

import ifcopenshell
import pytest

from ifcgrid.cli import main

MODELS = Path(__file__).parents[2] / "models"
SERVICES = MODELS / "gatehouse-services.ifc"
THEIRS = "we live with it until the refit"


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("built") / "gatehouse.ifc"
    arguments = ["build", str(MODELS / "gatehouse.ifc"), "--with", str(SERVICES), "-o", str(path)]
    assert main([*arguments, "--system", "lay-in-2x2-ft"]) == 1
    return path


def clash(built: Path, capsys: Any, *more: str, services: Path = SERVICES) -> dict[str, Any]:
    capsys.readouterr()
    main(["clash", str(built), "--with", str(services), "--json", "-", *more])
    record: dict[str, Any] = json.loads(capsys.readouterr().out)
    return record


def moved(target: Path, name: str, x: float = 0.0, z: float = 0.0) -> Path:
    """The services model with one element moved, in the model's unit."""
    file = ifcopenshell.open(SERVICES)
    (element,) = (e for e in file.by_type("IfcProduct") if e.Name == name)
    location = element.ObjectPlacement.RelativePlacement.Location
    a, b, c = location.Coordinates
    location.Coordinates = (a + x, b, c + z)
    file.write(str(target))
    return target


def as_a_person(path: Path, guid: str, *, status: str, comment: str) -> None:
    """Changes a topic of BCF 3.0 as another program would for a person."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    root = Tree.fromstring(parts[f"{guid}/markup.bcf"])
    topic = root.find("Topic")
    assert topic is not None
    topic.set("TopicStatus", status)
    for old in topic.findall("ModifiedAuthor") + topic.findall("ModifiedDate"):
        topic.remove(old)
    place = [child.tag for child in topic].index("CreationAuthor") + 1
    for tag, text in (("ModifiedAuthor", "a coordinator"), ("ModifiedDate", "2026-12-01T10:00:00Z")):
        made = Tree.Element(tag)
        made.text = text
        topic.insert(place, made)
    comments = topic.find("Comments")
    if comments is None:
        comments = Tree.Element("Comments")
        topic.insert([child.tag for child in topic].index("Viewpoints"), comments)
    word = Tree.SubElement(comments, "Comment", Guid="11111111-1111-4111-8111-111111111111")
    for tag, text in (("Date", "2026-12-01T10:00:00Z"), ("Author", "a coordinator"), ("Comment", comment)):
        Tree.SubElement(word, tag).text = text
    parts[f"{guid}/markup.bcf"] = Tree.tostring(root)
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)


def topic_of(path: Path, guid: str) -> tuple[str, list[str]]:
    with zipfile.ZipFile(path) as archive:
        root = Tree.fromstring(archive.read(f"{guid}/markup.bcf"))
    topic = root.find("Topic")
    assert topic is not None
    return topic.get("TopicStatus", ""), [
        c.findtext("Comment", "") for c in topic.findall("Comments/Comment")
    ]


def test_comments_and_waivers_survive_three_re_runs_with_seeded_changes(built, tmp_path, capsys):
    issues = tmp_path / "issues.bcf"
    first = clash(built, capsys, "--bcf", str(issues))
    failing = {f["rule"]: f for f in first["findings"] if f["verdict"] == "fail"}
    duct, light = failing["service-in-ceiling"]["cause"], failing["device-off-module"]["cause"]
    assert {duct, light} <= set(first["issues"]["new"])
    as_a_person(issues, light, status="Closed", comment=THEIRS)
    as_a_person(issues, duct, status="In progress", comment="asked the duct people")

    raised = moved(tmp_path / "raised.ifc", "Low duct G3", z=300.0 / _unit())
    second = clash(built, capsys, "--bcf", str(issues), services=raised)
    assert duct in second["issues"]["resolved"]
    assert light in second["issues"]["waived"]
    (told,) = (f for f in second["findings"] if f["cause"] == light)
    assert told["waiver"] == {
        "reason": THEIRS,
        "by": "a coordinator",
        "until": None,
        "where": "issues.bcf",
    }
    assert topic_of(issues, light) == ("Closed", [THEIRS])
    assert topic_of(issues, duct) == (
        "Closed",
        ["asked the duct people", f"No longer found in {built.name}."],
    )

    plan = tmp_path / "plan.toml"
    plan.write_text(
        f'[[waivers]]\ncause = "{duct}"\nreason = "boxed in"\nby = "B. Person"\n', encoding="utf-8"
    )
    aside = moved(tmp_path / "aside.ifc", "Inch light G5/1", x=-100.0 / _unit())
    third = clash(built, capsys, "--bcf", str(issues), "--plan", str(plan), services=aside)
    assert duct in third["issues"]["waived"]
    assert light in third["issues"]["waived"]
    assert third["issues"]["new"]
    assert topic_of(issues, light) == ("Closed", [THEIRS])
    assert topic_of(issues, duct)[0] == "Waived"

    last = clash(built, capsys, "--bcf", str(issues))
    assert duct in last["issues"]["persisting"]
    assert light in last["issues"]["waived"]
    assert set(third["issues"]["new"]) <= set(last["issues"]["resolved"])
    assert topic_of(issues, light) == ("Closed", [THEIRS])
    assert topic_of(issues, duct) == (
        "Open",
        [
            "asked the duct people",
            f"No longer found in {built.name}.",
            "Waived in the plan by B. Person: boxed in",
            "The plan no longer waives it.",
        ],
    )


def _unit() -> float:
    """The mm in one length unit of the services model."""
    from ifcgrid.ifc.project import length_scale

    return length_scale(ifcopenshell.open(SERVICES))


def test_what_is_waived_is_told_and_does_not_fail_the_run(built, tmp_path, capsys):
    plan = tmp_path / "plan.toml"
    plan.write_text(
        "".join(
            f'[[waivers]]\nrule = "*"\nroom = "{room}"\nreason = "survey"\nby = "C"\nuntil = 2099-01-01\n'
            for room in ("G*", "*")
        ),
        encoding="utf-8",
    )
    assert main(["clash", str(built), "--with", str(SERVICES), "--plan", str(plan), "--no-ways"]) == 0
    text = capsys.readouterr().out
    assert "waived service-in-ceiling: 1" in text
    assert "waived by C: survey" in text
    assert "fail " not in text.split("Findings")[1].split("Rooms:")[0]


def test_a_waiver_that_has_run_out_waives_nothing(built, tmp_path, capsys):
    plan = tmp_path / "plan.toml"
    plan.write_text(
        '[[waivers]]\nrule = "*"\nroom = "*"\nreason = "x"\nby = "C"\nuntil = 2001-01-01\n', encoding="utf-8"
    )
    assert main(["clash", str(built), "--with", str(SERVICES), "--plan", str(plan), "--no-ways"]) == 1
    assert "waived" not in capsys.readouterr().out


def test_filters_choose_findings_and_leave_other_topics_alone(built, tmp_path, capsys):
    issues = tmp_path / "issues.bcf"
    everything = clash(built, capsys, "--bcf", str(issues), "--no-ways")
    trades = {f["trade"] for f in everything["findings"]}
    assert {"Ventilation", "Lighting"} <= trades
    before = issues.read_bytes()
    some = clash(built, capsys, "--bcf", str(issues), "--no-ways", "--trade", "ventil*")
    assert {f["trade"] for f in some["findings"]} == {"Ventilation"}
    assert some["issues"]["resolved"] == []
    assert issues.read_bytes() == before
    grave = clash(built, capsys, "--no-ways", "--severity", "high")
    assert {f["severity"] for f in grave["findings"]} == {"high"}
    both = clash(built, capsys, "--no-ways", "--severity", "normal")
    assert {f["severity"] for f in both["findings"]} <= {"high", "normal"}
    storeys = {room["storey"] for room in everything["rooms"]}
    (storey, *_) = sorted(storeys)
    here = clash(built, capsys, "--no-ways", "--storey", storey.upper())
    rooms = {room["key"] for room in everything["rooms"] if room["storey"] == storey}
    assert {f["room"] for f in here["findings"]} == {f["room"] for f in everything["findings"]} & rooms
    assert clash(built, capsys, "--no-ways", "--storey", "nowhere")["findings"] == []


def test_the_table_says_what_the_record_says(built, tmp_path, capsys):
    table = tmp_path / "clashes.csv"
    record = clash(built, capsys, "--csv", str(table))
    with table.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [row["cause"] for row in rows] == [f["cause"] for f in record["findings"]]
    for row, found in zip(rows, record["findings"], strict=True):
        assert (row["severity"], row["trade"], row["rule"]) == tuple(
            found[k] for k in ("severity", "trade", "rule")
        )
        best = next(iter(found["ways_out"]), None)
        assert row["way_out"] == (best["text"] if best else "")
    assert any(row["way_out_clear"] == "yes" for row in rows)


def test_bcf_2_1_can_be_asked_for(built, tmp_path, capsys):
    issues = tmp_path / "issues.bcf"
    clash(built, capsys, "--bcf", str(issues), "--bcf-version", "2.1", "--no-ways")
    with zipfile.ZipFile(issues) as archive:
        assert b'VersionId="2.1"' in archive.read("bcf.version")


def test_a_plan_that_waives_too_much_is_refused_with_its_line(built, tmp_path, capsys):
    plan = tmp_path / "plan.toml"
    plan.write_text('[[waivers]]\nrule = "device-off-module"\nreason = "x"\nby = "y"\n', encoding="utf-8")
    assert main(["clash", str(built), "--plan", str(plan)]) == 2
    assert "line 2: a waiver of every 'device-off-module' hides too much" in capsys.readouterr().err


def test_the_plenum_study_names_what_governs(tmp_path, capsys):
    table = tmp_path / "plenum.csv"
    model = str(MODELS / "gatehouse.ifc")
    assert main(["plenum", model, "--with", str(SERVICES), "--csv", str(table), "--json", "-"]) == 0
    record = json.loads(capsys.readouterr().out)
    (room,) = (r for r in record["rooms"] if r["number"] == "G3")
    (first, *_) = room["keepers"]
    assert first["name"] == "Low duct G3"
    assert room["highest_mm"] < room["ceiling_mm"]
    assert room["highest_mm"] == pytest.approx(first["underside_mm"] - first["clearance_mm"])
    with table.open(encoding="utf-8", newline="") as stream:
        rows = {row["number"]: row for row in csv.DictReader(stream)}
    assert rows["G3"]["governed_by"] == "Low duct G3"
    assert float(rows["G3"]["highest_mm"]) == room["highest_mm"]
