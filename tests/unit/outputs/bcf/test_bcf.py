"""Topics in BCF files: stable, complete, and kept between runs; read by bcf-client, a second reader."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree as Tree

import numpy as np
import pytest
from handmade_ceilings import build_ceiling, rectangle
from shapely import box

from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.outputs.bcf import make_topics, update_bcf
from ifcgrid.outputs.bcf.snapshot import draw_snapshot

CEILING = build_ceiling(rectangle(6100, 4270), (350, 335))
ROOM = CEILING.zone.rooms[0].key
DUCT = Obstacle(
    key="2O2Fr$t4X7Zf8NOew3FL9r",
    kind=Kind.DUCT,
    name="duct",
    outline=box(2000, -500, 2600, 5000),
    bottom=0,
    top=9,
)
MODEL = {"file": "out.ifc", "project": "0YvctVUKr0kugbFTf53O9L"}
WHEN, LATER = "2026-01-02T03:04:05+00:00", "2026-01-09T03:04:05+00:00"
VERSIONS = ("2.1", "3.0")


def finding(**changes: object) -> Finding:
    return replace(
        Finding(
            rule="service-in-ceiling",
            source="common practice, no source",
            clause="",
            verdict=Verdict.FAIL,
            room=ROOM,
            subjects=(DUCT.key, f"{ROOM}/main_runner/2/0"),
            message="duct <Low> & '1' is 60 mm too low",
            value=60.0,
            limit=0.0,
            unit="mm",
            point=(2300.0, 2000.0, 2700.0),
        ),
        **changes,
    )


def topics(*findings: Finding):
    return make_topics(findings, [CEILING], [DUCT], lambda s: "1" * 22 if "/" in s else s)


def entries(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name) for name in archive.namelist()}


def markup(path: Path, guid: str) -> Tree.Element:
    return Tree.fromstring(entries(path)[f"{guid}/markup.bcf"])


def comments(path: Path, guid: str) -> list[str]:
    return [e.findtext("Comment", "") for e in markup(path, guid).iter("Comment") if len(e)]


def test_only_what_fails_becomes_a_topic_and_its_guid_is_that_of_the_cause():
    (topic,) = topics(finding(), finding(verdict=Verdict.UNKNOWN), finding(verdict=Verdict.PASS))
    (fewer,) = topics(finding(subjects=(DUCT.key,), message="duct is 12 mm too low", value=12.0))
    (other,) = topics(finding(subjects=("0YvctVUKr0kugbFTf53O9L",)))
    assert topic.guid == fewer.guid != other.guid
    assert topic.components == (DUCT.key, "1" * 22)
    assert topic.title == "101 Office: service in ceiling"


@pytest.mark.parametrize("version", VERSIONS)
def test_the_same_topics_give_the_same_bytes(tmp_path, version):
    for name in "ab":
        update_bcf(tmp_path / name, topics(finding()), when=WHEN, model=MODEL, version=version)
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes()
    before = (tmp_path / "a").read_bytes()
    change = update_bcf(tmp_path / "a", topics(finding()), when=LATER, model=MODEL)
    assert (change.new, len(change.persisting)) == ((), 1)
    assert (tmp_path / "a").read_bytes() == before


@pytest.mark.parametrize("version", VERSIONS)
def test_three_runs_tell_new_resolved_and_found_again(tmp_path, version):
    path = tmp_path / "issues.bcf"
    (topic,) = topics(finding())
    assert update_bcf(path, [topic], when=WHEN, model=MODEL, version=version).new == (topic.guid,)
    assert update_bcf(path, [], when=LATER, model=MODEL).resolved == (topic.guid,)
    entry = markup(path, topic.guid).find("Topic")
    assert entry is not None
    assert entry.get("TopicStatus") == "Closed"
    assert comments(path, topic.guid) == ["No longer found in out.ifc."]
    assert update_bcf(path, [], when=LATER, model=MODEL).resolved == ()
    assert update_bcf(path, [topic], when=LATER, model=MODEL).persisting == (topic.guid,)
    assert comments(path, topic.guid) == ["No longer found in out.ifc.", "Found again."]


@pytest.mark.parametrize("version", VERSIONS)
def test_what_others_wrote_is_kept(tmp_path, version):
    path = tmp_path / "issues.bcf"
    (topic,) = topics(finding())
    update_bcf(path, [topic], when=WHEN, model=MODEL, version=version)
    held = entries(path)
    name = f"{topic.guid}/markup.bcf"
    theirs = (
        '<Comment Guid="11111111-1111-4111-8111-111111111111"><Date>2026-01-03T00:00:00Z</Date>'
        "<Author>a coordinator</Author><Comment>accepted: the duct moves in March</Comment></Comment>"
    )
    text = held[name].decode().replace('TopicStatus="Open"', 'TopicStatus="Waived"')
    if version == "3.0":
        text = text.replace("<Viewpoints>", f"<Comments>{theirs}</Comments><Viewpoints>")
    else:
        text = text.replace("</Topic>", f"</Topic>{theirs}")
    held[name] = text.encode()
    held["22222222-2222-4222-8222-222222222222/markup.bcf"] = b"<Markup><Topic Guid='x'/></Markup>"
    held["22222222-2222-4222-8222-222222222222/photo.jpg"] = b"\xff\xd8 not ours"
    with zipfile.ZipFile(path, "w") as archive:
        for entry, data in held.items():
            archive.writestr(entry, data)
    change = update_bcf(path, topics(finding(message="now 70 mm", value=70.0)), when=LATER, model=MODEL)
    assert change.waived == (topic.guid,)
    assert comments(path, topic.guid) == ["accepted: the duct moves in March"]
    assert "now 70 mm" in markup(path, topic.guid).findtext("Topic/Description", "")
    assert update_bcf(path, [], when=LATER, model=MODEL).resolved == ()
    kept = entries(path)
    for entry in held:
        if entry.startswith("2222"):
            assert kept[entry] == held[entry]


def test_what_is_no_bcf_file_is_not_overwritten(tmp_path):
    path = tmp_path / "issues.bcf"
    path.write_text("my notes")
    with pytest.raises(OutputError, match="is no BCF file"):
        update_bcf(path, topics(finding()), when=WHEN, model=MODEL)
    assert path.read_text() == "my notes"
    other = tmp_path / "old.bcf"
    update_bcf(other, [], when=WHEN, model=MODEL, version="2.1")
    with pytest.raises(OutputError, match=r"is BCF 2\.1"):
        update_bcf(other, [], when=WHEN, model=MODEL, version="3.0")


@pytest.mark.parametrize("version", VERSIONS)
def test_a_second_reader_finds_topic_comment_view_and_picture(tmp_path, version):
    reader = pytest.importorskip("bcf.v2.bcfxml" if version == "2.1" else "bcf.v3.bcfxml")
    path = tmp_path / "issues.bcf"
    (topic,) = topics(finding())
    update_bcf(path, [topic], when=WHEN, model=MODEL, version=version)
    update_bcf(path, [], when=LATER, model=MODEL)
    with reader.BcfXml.load(path) as opened:
        (found,) = opened.topics.values()
        assert found.topic.guid == topic.guid
        assert found.topic.title == topic.title
        assert found.topic.topic_status == "Closed"
        assert "duct <Low> & '1'" in found.topic.description
        assert [c.comment for c in found.comments] == ["No longer found in out.ifc."]
        (view,) = found.viewpoints.values()
        info = view.visualization_info
        assert [c.ifc_guid for c in info.components.selection.component] == list(topic.components)
        assert info.orthogonal_camera.camera_view_point.x == pytest.approx(2.3)
        assert info.orthogonal_camera.camera_direction.z == 1.0
        assert view.snapshot == topic.snapshot


def _pixels(png: bytes) -> np.ndarray:
    """Decodes an 8-bit grey PNG without filters, as written (ISO/IEC 15948)."""
    stream, data = io.BytesIO(png[8:]), b""
    while head := stream.read(8):
        length, kind = struct.unpack(">I4s", head)
        body = stream.read(length)
        assert struct.unpack(">I", stream.read(4))[0] == zlib.crc32(kind + body)
        if kind == b"IHDR":
            width, height = struct.unpack(">II", body[:8])
        elif kind == b"IDAT":
            data += body
    rows = np.frombuffer(zlib.decompress(data), dtype=np.uint8).reshape(height, width + 1)
    assert not rows[:, 0].any()
    return rows[:, 1:]


def test_the_picture_shows_the_duct_where_it_is():
    view = box(-1450, 0, 6050, 5000)  # 7.5 x 5 m, so a pixel is 8.33 mm
    with_duct = _pixels(draw_snapshot(view, CEILING, [DUCT.outline]))
    without = _pixels(draw_snapshot(view, CEILING, []))
    assert with_duct.shape == (600, 900)
    rows, columns = np.nonzero(with_duct != without)
    reach = np.array([columns.min(), columns.max() + 1]) * 7500 / 900 - 1450
    assert reach == pytest.approx([2000, 2600], abs=30)
    assert rows.min() <= 1
    assert rows.max() >= 590  # the last pixels are the wall
