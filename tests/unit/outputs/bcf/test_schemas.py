"""BCF files against the published schemas, and through readers that are not ours.

BCF 2.1: the XSDs of buildingSMART BCF-XML release 2.1, as the package bcf-api-xml carries
them. BCF 3.0: the models that bcf-client generated from those of release 3.0, held strictly.
"""

from __future__ import annotations

import contextlib
import io
import zipfile
from dataclasses import replace
from datetime import date
from importlib import resources
from pathlib import Path

import pytest
from handmade_ceilings import build_ceiling, rectangle
from shapely import box
from strict_bcf import faults

from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.finding import Finding, Severity, Verdict
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.waiver import Waiver
from ifcgrid.domain.way_out import Change, Step, WayKind, WayOut
from ifcgrid.outputs.bcf import make_topics, update_bcf

CEILING = build_ceiling(rectangle(6100, 4270), (350, 335))
ROOM = CEILING.zone.rooms[0].key
KEYS = ("2O2Fr$t4X7Zf8NOew3FL9r", "0YvctVUKr0kugbFTf53O9L", "3GkN$qdcvSqxyJO_a$wQx0")
DUCTS = [
    Obstacle(key=k, kind=Kind.DUCT, name="d", outline=box(900 * i, 0, 900 * i + 600, 3000), bottom=0, top=9)
    for i, k in enumerate(KEYS)
]
MODEL = {"file": "a & b.ifc", "project": "0YvctVUKr0kugbFTf53O9L"}
DAYS = ("2026-01-02T03:04:05+00:00", "2026-01-09T03:04:05+00:00", "2026-01-16T03:04:05+00:00")


def finding(key: str, **changes: object) -> Finding:
    way = WayOut(
        kind=WayKind.LOWER_CEILING,
        text="lower the ceiling by 60 mm",
        who="Architecture",
        amount=60.0,
        steps=(Step(key=ROOM, vector=(0.0, 0.0, -60.0)),),
        is_clear=True,
        changes=(Change(what="height", before=2700.0, after=2640.0),),
    )
    return replace(
        Finding(
            rule="service-in-ceiling",
            source="common practice, no source",
            clause="",
            verdict=Verdict.FAIL,
            room=ROOM,
            subjects=(key, f"{ROOM}/main_runner/2/0"),
            message="duct <Low> & \x07 '1' is 60 mm too low",
            value=60.0,
            limit=0.0,
            unit="mm",
            point=(2300.0, 2000.0, 2700.0),
            severity=Severity.HIGH,
            trade="Ventilation",
            ways_out=(way,),
        ),
        **changes,
    )


def topics(*findings: Finding):
    return make_topics(findings, [CEILING], DUCTS, lambda s: "1" * 22 if "/" in s else s)


VERSIONS = ("2.1", "3.0")


def written(tmp_path: Path, version: str) -> Path:
    """A file after three runs: one cause come back, one solved, one waived for a while."""
    path = tmp_path / "issues.bcf"
    one, two, three = (finding(key) for key in KEYS)
    waiver = Waiver(reason="moves in March", by="A. Person", until=date(2026, 3, 1), where="plan")
    update_bcf(path, topics(one, two), when=DAYS[0], model=MODEL, version=version)
    update_bcf(path, topics(two, replace(three, waiver=waiver)), when=DAYS[1], model=MODEL)
    update_bcf(path, topics(one, three), when=DAYS[2], model=MODEL)
    return path


@pytest.mark.parametrize("version", VERSIONS)
def test_every_part_is_valid(tmp_path, version):
    with zipfile.ZipFile(written(tmp_path, version)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    checked = 0
    for name, data in parts.items():
        found = _check(version, name, data)
        if found is not None:
            assert found == [], (name, found)
            checked += 1
    assert checked == (7 if version == "2.1" else 8)


def _check(version: str, name: str, data: bytes) -> list[str] | None:
    if version == "2.1":
        xmlschema = pytest.importorskip("xmlschema")
        pytest.importorskip("bcf_api_xml")
        kind = {"bcf.version": "version", "markup.bcf": "markup", "viewpoint.bcfv": "visinfo"}
        schema = kind.get(name.split("/")[-1])
        if schema is None:
            return None
        xsd = resources.files("bcf_api_xml") / "Schemas" / f"{schema}.xsd"
        return [str(e.reason) for e in xmlschema.XMLSchema(xsd.read_text()).iter_errors(data.decode())]
    pytest.importorskip("bcf.v3.model")
    from bcf.v3 import model

    models = {
        "bcf.version": model.Version,
        "extensions.xml": model.Extensions,
        "markup.bcf": model.Markup,
        "viewpoint.bcfv": model.VisualizationInfo,
    }
    chosen = models.get(name.split("/")[-1])
    return None if chosen is None else faults(data, chosen)


def test_the_strict_reader_finds_what_is_wrong(tmp_path):
    pytest.importorskip("bcf.v3.model")
    from bcf.v3 import model

    with zipfile.ZipFile(written(tmp_path, "3.0")) as archive:
        name = next(n for n in archive.namelist() if n.endswith("markup.bcf"))
        good = archive.read(name).decode()
    assert faults(good.encode(), model.Markup) == []
    for old, new in (
        (' TopicStatus="Open"', ""),
        ("<Priority>High</Priority>", ""),
        ("<Title>", "<Priority>High</Priority><Title>"),
        ("<CreationAuthor>ifcgrid</CreationAuthor>", ""),
    ):
        assert old in good
        bad = good.replace(old, new, 1).encode()
        if new == "" and "Priority" in old:
            assert faults(bad, model.Markup) == []  # it may be left out
        else:
            assert faults(bad, model.Markup)


def test_a_reader_of_another_make_finds_the_same_topics_in_2_1(tmp_path):
    reader = pytest.importorskip("bcf_api_xml")
    path = written(tmp_path, "2.1")
    with contextlib.redirect_stdout(io.StringIO()):
        found = {topic["guid"]: topic for topic in reader.to_json(str(path))}
    one, two, three = topics(*(finding(key) for key in KEYS))
    assert set(found) == {one.guid, two.guid, three.guid}
    assert [found[t.guid]["topic_status"] for t in (one, two, three)] == ["Open", "Closed", "Open"]
    assert [c["comment"] for c in found[one.guid]["comments"]] == [
        "No longer found in a & b.ifc.",
        "Found again.",
    ]
    assert [c["comment"] for c in found[three.guid]["comments"]] == [
        "Waived in the plan by A. Person until 2026-03-01: moves in March",
        "The plan no longer waives it.",
    ]
    assert found[one.guid]["priority"] == "High"
    assert found[one.guid]["assigned_to"] == "Ventilation"
    (view,) = found[one.guid]["viewpoints"]
    assert view["snapshot"]["snapshot_data"].getvalue() == one.snapshot


@pytest.mark.parametrize("version", VERSIONS)
def test_the_view_is_from_below_between_two_planes_without_the_panels(tmp_path, version):
    path = written(tmp_path, version)
    (topic, *_) = topics(finding(KEYS[0]))
    with zipfile.ZipFile(path) as archive:
        text = archive.read(f"{topic.guid}/viewpoint.bcfv").decode()
    assert topic.hidden == ("1" * 22,)
    assert f'<Exceptions>\n        <Component IfcGuid="{"1" * 22}" />' in text
    assert topic.camera is not None
    assert topic.camera.direction == (0.0, 0.0, 1.0)
    spot = 2.7
    assert topic.camera.point[2] < topic.camera.floor[2] < spot < topic.camera.section[2]
    assert text.count("<ClippingPlane>") == 2


@pytest.mark.parametrize("version", VERSIONS)
def test_a_file_whose_guids_another_program_wrote_in_upper_case_is_the_same_file(tmp_path, version):
    path = written(tmp_path, version)
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in parts.items():
            folder, slash, rest = name.partition("/")
            archive.writestr(f"{folder.upper()}/{rest}" if slash else name, data)
    change = update_bcf(path, topics(finding(KEYS[0])), when=DAYS[2], model=MODEL)
    assert (len(change.new), len(change.persisting), len(change.resolved)) == (0, 1, 1)
    with zipfile.ZipFile(path) as archive:
        assert sorted(n.upper() for n in archive.namelist()) == sorted(n.upper() for n in parts)


def test_a_topic_that_is_no_xml_is_named_and_nothing_is_written(tmp_path):
    path = written(tmp_path, "3.0")
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = next(n for n in parts if n.endswith("markup.bcf"))
    with zipfile.ZipFile(path, "w") as archive:
        for entry, data in parts.items():
            archive.writestr(entry, b"<Markup" if entry == name else data)
    before = path.read_bytes()
    with pytest.raises(OutputError, match="which is no XML"):
        update_bcf(path, topics(finding(KEYS[0])), when=DAYS[2], model=MODEL)
    assert path.read_bytes() == before
