"""The plan as a DXF file: clean, complete, measured by itself, on its layers, the same bytes every time."""

from __future__ import annotations

import hashlib
import io
import os
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from drawn_storeys import DEVICES, OMITTED, STAMP, WALLS, finding, keyed, storey
from ezdxf.tools.text import plain_text
from handmade_ceilings import build_ceiling, rectangle

from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.errors import OutputError
from ifcgrid.domain.obstacle import Kind
from ifcgrid.outputs.cautions import caution_texts
from ifcgrid.outputs.dxf import write_storey_dxf
from ifcgrid.outputs.plan import StoreySheet, lay_out_storey, read_layers
from ifcgrid.outputs.plan.drawing import DimensionLine, Part, Tag

FOOT = 304.8


def make_sheet(units: str = "mm", **changes) -> StoreySheet:
    given = {
        "obstacles": [*DEVICES, *WALLS],
        "findings": [finding("duct too low"), finding("pipe", x=3100.0)],
        "stamp": STAMP,
        "north_deg": 80.0,
    }
    return lay_out_storey("Ground floor", storey(), OMITTED, units=units, **{**given, **changes})


def read(data: bytes):
    return ezdxf.read(io.StringIO(data.decode("utf-8")))


@pytest.fixture(scope="module")
def sheet() -> StoreySheet:
    return make_sheet()


@pytest.fixture(scope="module")
def doc(sheet: StoreySheet):
    return read(write_storey_dxf(sheet))


def layer(part: Part) -> str:
    return read_layers()[part].layer


def key_of(entity) -> str:
    return entity.get_xdata("IFCGRID")[0].value


def facts_of(insert) -> dict[str, str]:
    return {a.dxf.tag: plain_text(a.dxf.text) for a in insert.attribs}


def test_the_file_is_audited_without_an_error_or_a_repair(doc) -> None:
    auditor = doc.audit()
    assert auditor.errors == []
    assert auditor.fixes == []


def test_units_are_in_the_header(doc) -> None:
    # DXF reference, header variables: $INSUNITS 4 = mm, 1 = inches; $MEASUREMENT 1 = metric.
    assert doc.header["$INSUNITS"] == 4
    assert doc.header["$MEASUREMENT"] == 1
    inches = read(write_storey_dxf(make_sheet("ft-in")))
    assert inches.header["$INSUNITS"] == 1
    assert inches.header["$MEASUREMENT"] == 0
    assert inches.header["$LUNITS"] == 4


@pytest.mark.parametrize(("units", "factor"), [("mm", 1.0), ("ft-in", 1 / 25.4)])
def test_every_member_is_a_line_where_it_is_with_its_key_on_the_layer_of_its_role(units, factor) -> None:
    doc = read(write_storey_dxf(make_sheet(units)))
    for role, part in {
        Role.MAIN_RUNNER: Part.MAIN_RUNNER,
        Role.CROSS_TEE: Part.CROSS_TEE,
        Role.SECOND_TEE: Part.SECOND_TEE,
        Role.WALL_ANGLE: Part.WALL_ANGLE,
    }.items():
        lines = {key_of(e): e for e in doc.modelspace().query(f'LINE[layer=="{layer(part)}"]')}
        expected = {}
        for ceiling in storey():
            members, frame = ceiling.members, ceiling.layout.frame
            start, end = frame.to_world(members.start), frame.to_world(members.end)
            for k in np.flatnonzero(members.role == role).tolist():
                expected[f"{ceiling.key}/{members.keys()[k]}"] = (start[k], end[k])
        assert lines.keys() == expected.keys()
        for key, (start, end) in expected.items():
            drawn = lines[key].dxf
            assert (drawn.start.x, drawn.start.y) == pytest.approx(start * factor, abs=1e-6)
            assert (drawn.end.x, drawn.end.y) == pytest.approx(end * factor, abs=1e-6)


def test_hangers_are_blocks_where_they_hang(doc) -> None:
    found = {key_of(e): e.dxf.insert for e in doc.modelspace().query('INSERT[name=="HANGER"]')}
    for ceiling in storey():
        points = ceiling.layout.frame.to_world(ceiling.hangers.point)
        for key, point in zip(ceiling.hangers.keys(), points, strict=True):
            place = found.pop(f"{ceiling.key}/{key}")
            assert (place.x, place.y) == pytest.approx(point, abs=1e-6)
    assert not found


def test_devices_are_blocks_by_kind_with_what_the_model_says_as_attributes(doc) -> None:
    names = Counter(e.dxf.name for e in doc.modelspace().query("INSERT"))
    for kind in (Kind.LIGHT, Kind.AIR_TERMINAL, Kind.SPRINKLER, Kind.DETECTOR, Kind.DEVICE):
        name = kind.value.replace(" ", "-").upper()
        assert names[name] == sum(d.kind is kind for d in DEVICES)
        (insert,) = doc.modelspace().query(f'INSERT[name=="{name}"]')
        assert insert.dxf.layer == layer(Part(kind.value))
        facts = facts_of(insert)
        own = next(d for d in DEVICES if d.kind is kind)
        assert facts["GLOBALID"] == own.key
        assert facts["KIND"] == kind.value
        assert facts["ROOM"] == "101"
        assert facts["UNDERSIDE"] == "2700"
        assert all(a.is_invisible for a in insert.attribs)
        tags = {a.dxf.tag for a in doc.blocks.get(name).query("ATTDEF")}
        assert tags == set(facts)


def test_a_light_is_drawn_as_large_and_as_turned_as_it_is(doc) -> None:
    (light,) = doc.modelspace().query('INSERT[name=="LIGHT"]')
    own = next(d for d in DEVICES if d.kind is Kind.LIGHT)
    (outline,) = (e for e in light.virtual_entities() if e.dxftype() == "LWPOLYLINE" and e.closed)
    drawn = shapely.Polygon([(x, y) for x, y, *_ in outline.get_points()])
    assert drawn.symmetric_difference(own.outline).area < 1.0


def test_dimensions_measure_what_the_layout_says(doc, sheet) -> None:
    planned = {
        (f"{t.zone}/{t.edge[0]}/{t.edge[1]}", round(t.length, 3))
        for t in sheet.drawing.things
        if isinstance(t, DimensionLine)
    }
    borders = {f"{c.key}/{b.ring}/{b.edge}": b for c in storey() for b in c.layout.borders}
    found = set()
    for entity in doc.modelspace().query("DIMENSION"):
        border, length = borders[key_of(entity)], float(entity.get_measurement())
        assert border.least - 0.01 <= length <= border.greatest + 0.01
        assert entity.dxf.actual_measurement == pytest.approx(length, abs=1e-9)
        assert entity.dxf.text in ("", "<>")  # measured by the file, not written over
        assert entity.dxf.layer == layer(Part.DIMENSION)
        found.add((key_of(entity), round(length, 3)))
    assert found == planned


@pytest.mark.parametrize("units", ["mm", "ft-in", "ft-in/8"])
def test_the_text_of_a_dimension_is_that_on_paper_and_in_the_units_of_its_style(units: str) -> None:
    sheet = make_sheet(units)
    doc = read(write_storey_dxf(sheet))
    shown = sorted(
        e.text
        for d in doc.modelspace().query("DIMENSION")
        for e in doc.blocks.get(d.dxf.geometry).query("MTEXT")
    )
    on_paper = sorted(t.words.text for t in sheet.drawing.things if isinstance(t, DimensionLine))
    assert shown == on_paper
    style = doc.dimstyles.get("BORDERS").dxf
    # DXF reference: DIMLUNIT 2 decimal, 4 architectural; DIMDEC 4 is 1/16 in, 3 is 1/8 in.
    assert (style.dimlunit, style.dimdec) == {"mm": (2, 0), "ft-in": (4, 4), "ft-in/8": (4, 3)}[units]


def test_walls_columns_and_what_has_no_grid_are_hatched_as_far_as_they_reach(doc) -> None:
    def area(part: Part) -> float:
        total = 0.0
        for hatch in doc.modelspace().query(f'HATCH[layer=="{layer(part)}"]'):
            rings = [shapely.Polygon([(x, y) for x, y, *_ in path.vertices]) for path in hatch.paths]
            total += rings[0].area - sum(ring.area for ring in rings[1:])
        return total

    assert area(Part.WALL_FILL) == pytest.approx(WALLS[0].outline.area)
    assert area(Part.COLUMN_FILL) == pytest.approx(WALLS[1].outline.area)
    assert area(Part.NO_GRID) == pytest.approx(OMITTED[0].outline.area)
    (dots,) = doc.modelspace().query(f'HATCH[layer=="{layer(Part.NO_GRID)}"]')
    assert dots.has_pattern_fill


def test_room_tags_are_blocks_with_number_name_height_system_and_finish(doc) -> None:
    tags = {
        key_of(e): facts_of(e)
        for e in doc.modelspace().query('INSERT[name=="ROOM-TAG"]')
        if e.has_xdata("IFCGRID")
    }
    assert tags.keys() == {c.key for c in storey()}
    for ceiling in storey():
        room, facts = ceiling.zone.rooms[0], tags[ceiling.key]
        assert facts["NUMBER"] == room.number
        assert facts["ROOM_NAME"] == room.name
        assert facts["SYSTEM"] == ceiling.system.title
        assert "lay-in panels" in facts["FINISH"]
    assert tags["a"]["CEILING"] == "+2700  C1"


def test_findings_are_blocks_with_their_number_and_words(doc) -> None:
    found = [facts_of(e) for e in doc.modelspace().query('INSERT[name=="FINDING"]')]
    assert [(f["NUMBER"], f["WORDS"]) for f in found] == [("1", "duct too low"), ("2", "pipe")]


def test_every_entity_is_on_a_layer_of_the_table(doc) -> None:
    names = {own.layer for own in read_layers().values()}
    for space in (doc.modelspace(), doc.layout("Sheet")):
        for entity in space:
            if entity.dxftype() != "VIEWPORT" or entity.dxf.id > 1:
                assert entity.dxf.layer in names


def test_layers_have_the_weights_and_lines_of_the_table(doc) -> None:
    for own in read_layers().values():
        made = doc.layers.get(own.layer).dxf
        assert made.lineweight == round(own.weight * 100)
        assert made.color == own.colour
    assert not doc.layers.get(layer(Part.VIEW)).dxf.plot


def test_a_users_table_names_the_layers_and_parts_that_share_one_keep_their_weights() -> None:
    layers = read_layers(
        '["main runner"]\nlayer="CEILING"\n["cross tee"]\nlayer="CEILING"\n["light"]\nlayer="Leuchten-Decke"'
    )
    doc = read(write_storey_dxf(make_sheet(layers=layers)))
    assert doc.audit().errors == []
    assert len(doc.modelspace().query('INSERT[layer=="Leuchten-Decke"]')) == 1
    shared = doc.modelspace().query('LINE[layer=="CEILING"]')
    own = doc.layers.get("CEILING").dxf.lineweight
    weights = Counter(own if e.dxf.lineweight == -1 else e.dxf.lineweight for e in shared)
    members = [role for c in storey() for role in c.members.role.tolist()]
    assert weights == {35: members.count(Role.MAIN_RUNNER), 13: members.count(Role.CROSS_TEE)}


def test_the_paper_space_is_the_sheet_with_a_view_of_the_plan_at_its_scale(doc, sheet) -> None:
    layout = doc.layout("Sheet")
    shown = Counter(plain_text(e.dxf.text) for e in layout.query("TEXT"))
    expected = Counter(t.label.text.replace("\u00a0", " ") for t in sheet.furniture.texts)
    assert shown == expected
    assert (layout.dxf.paper_width, layout.dxf.paper_height) == (sheet.paper.width, sheet.paper.height)
    (view,) = (e for e in layout.query("VIEWPORT") if e.dxf.id > 1)
    assert view.dxf.view_height / view.dxf.height == pytest.approx(sheet.drawing.scale)
    assert view.frozen_layers == [layer(Part.NOTE)]  # the notes below the plan stand on the sheet itself
    # A corner of a room is seen at the same place of the paper as on the other sheets.
    corner = np.array(storey()[0].zone.outline.exterior.coords[0])
    centre, middle = view.dxf.view_center_point, view.dxf.center
    seen = (corner - [centre.x, centre.y]) / sheet.drawing.scale + [middle.x, middle.y]
    ((x, y),) = sheet.view.paper([corner]).tolist()
    assert seen == pytest.approx([x, sheet.paper.height - y], abs=1e-6)


def test_cautions_and_provenance_are_in_both_spaces(doc) -> None:
    for space in (doc.modelspace(), doc.layout("Sheet")):
        words = " ".join(" ".join(plain_text(e.dxf.text) for e in space.query("TEXT")).split())
        for text in caution_texts(is_short=True):
            assert text in words
        assert "3f2a9c" in words
        assert "library.ifc" in words
    assert ("sha256", "3f2a9c") in list(doc.header.custom_vars)


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "=1+1", 'a & "b"', "会議室 №1 – Büro", "x" * 900]
)
def test_odd_and_long_names_survive(name: str) -> None:
    room = keyed(build_ceiling(rectangle(9000, 6000), (600, 600), number="1", name=name), "odd")
    doc = read(write_storey_dxf(lay_out_storey(name, [room], stamp={"model": name})))
    assert doc.audit().errors == []
    (tag,) = doc.modelspace().query('INSERT[name=="ROOM-TAG"]')
    kept = facts_of(tag)["ROOM_NAME"]
    assert kept == name if len(name) < 250 else name.startswith(kept.removesuffix("…"))


def test_the_same_plan_gives_the_same_bytes_in_every_process() -> None:
    first = hashlib.sha256(write_storey_dxf(make_sheet())).hexdigest()
    program = (
        "import hashlib, sys; sys.path[:0] = sys.argv[1:3]\n"
        "from test_storey_dxf import make_sheet, write_storey_dxf\n"
        "print(hashlib.sha256(write_storey_dxf(make_sheet())).hexdigest())"
    )
    here = Path(__file__).resolve().parent
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", program, str(here), str(here.parents[2])],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        )
        assert done.stdout.strip() == first


def test_the_file_holds_no_date_of_today(sheet) -> None:
    text = write_storey_dxf(sheet).decode("utf-8")
    for name in ("TDCREATE", "TDUCREATE", "TDUPDATE", "TDUUPDATE"):
        # A Julian date, that of 2000-01-01.
        assert re.search(rf"\${name}\s+40\s+2451545\.0\s", text)
    assert "@ 2000-01-01" in text


def test_an_empty_storey_is_a_file_too() -> None:
    doc = read(write_storey_dxf(lay_out_storey("Roof", [], [OMITTED[1]], stamp=STAMP)))
    assert doc.audit().errors == []
    assert "109 Stair: no body" in [plain_text(e.dxf.text) for e in doc.layout("Sheet").query("TEXT")]


def test_without_the_library_the_error_names_what_to_install(monkeypatch, sheet) -> None:
    monkeypatch.setitem(sys.modules, "ezdxf", None)
    with pytest.raises(OutputError, match=r"pip install 'ifcgrid\[drawings\]'"):
        write_storey_dxf(sheet)


def test_paper_and_file_show_the_same_tags(doc, sheet) -> None:
    on_paper = Counter(words.text for t in sheet.drawing.things if isinstance(t, Tag) for _, words in t.lines)
    shown = Counter(
        plain_text(a.dxf.text)
        for e in doc.modelspace().query('INSERT[name=="ROOM-TAG"]')
        for a in e.attribs
        if not a.is_invisible
    )
    assert shown == on_paper
    assert set(on_paper) <= {t.label.text for t in sheet.page.texts}
