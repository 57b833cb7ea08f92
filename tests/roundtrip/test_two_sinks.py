"""Through the text of the file or through the open model: the same model comes out."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import ifcopenshell
import pytest
from ceilings import guid, make_ceiling
from same_model import differences, header_of
from written import DETAILS, SCHEMAS, a_model, adopted_model, clash, four_ceilings

from ifcgrid.domain.errors import OutputError
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.writing.write import FileReport, write_file

FIRST, SECOND = "2020-01-02T03:04:05", "2021-01-02T03:04:05"


def put(path: Path, text: str | bytes) -> Path:
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def write(source: Path, target: Path, ceilings, found=(), **how) -> FileReport:
    return write_file(open_model(source), ceilings, found, target, timestamp=how.pop("when", FIRST), **how)


def both(source: Path, ceilings, found=(), **how) -> tuple[Path, Path]:
    """The outputs of both sinks; each is compared with the other, and with a run over itself."""
    outputs = []
    for sink in ("text", "model"):
        target, again = (source.with_name(f"{sink}-{n}.ifc") for n in "12")
        assert write(source, target, ceilings, found, sink=sink, **how).sink == sink
        write(target, again, ceilings, found, sink=sink, when=SECOND, **how)
        assert target.read_bytes().replace(FIRST.encode(), SECOND.encode()) == again.read_bytes()
        outputs.append(target)
    text, model = map(ifcopenshell.open, map(str, outputs))
    assert differences(text, model) == []
    assert header_of(text) == header_of(model)
    return outputs[0], outputs[1]


class TestSameModel:
    @pytest.mark.parametrize("detail", DETAILS)
    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_in_every_schema_and_detail(self, tmp_path: Path, schema: str, detail: str):
        ceilings = four_ceilings()
        source = put(tmp_path / "a.ifc", a_model(schema, ceilings, has_views=False).to_string())
        text, _ = both(source, ceilings, [clash(ceilings[0], "main_runner/2/0")], detail=detail)
        # Every instance that was there stands in the output as it stood.
        assert set(instances(source)) <= set(instances(text))

    @pytest.mark.parametrize("replace", [False, True])
    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_where_the_architect_modelled_a_ceiling(self, tmp_path: Path, schema: str, replace: bool):
        file, ceiling = adopted_model(schema)
        source = put(tmp_path / "a.ifc", file.to_string())
        reports = []
        for sink in ("text", "model"):
            target = tmp_path / f"{sink}.ifc"
            reports.append(write(source, target, [ceiling], sink=sink, replace=replace).written)
        assert reports[0] == reports[1]
        assert bool(reports[0].replaced) is replace
        assert differences(*(ifcopenshell.open(tmp_path / f"{s}.ifc") for s in ("text", "model"))) == []

    def test_what_others_added_to_ours_stays_in_thinned_lists(self, tmp_path: Path):
        (ceiling, *_) = four_ceilings()
        once = tmp_path / "once.ifc"
        write(put(tmp_path / "a.ifc", a_model("IFC4", [ceiling]).to_string()), once, [ceiling])
        file = ifcopenshell.open(once)
        chair = file.create_entity("IfcFurniture", guid("chair"))
        relation = next(
            r for r in file.by_type("IfcRelContainedInSpatialStructure") if r.GlobalId != guid("contains")
        )
        relation.RelatedElements = [chair, *relation.RelatedElements]
        shapes = [m.Representation.Representations[0] for m in file.by_type("IfcMember")]
        theirs = file.by_guid(guid("lamp")).Representation.Representations[0]
        file.create_entity("IfcPresentationLayerAssignment", "it's (theirs)", None, [*shapes, theirs], None)
        edited = put(tmp_path / "edited.ifc", file.to_string())
        for sink in ("text", "model"):
            write(edited, tmp_path / f"{sink}.ifc", [ceiling], sink=sink)
        outputs = [ifcopenshell.open(tmp_path / f"{s}.ifc") for s in ("text", "model")]
        assert differences(*outputs) == []
        (layer,) = outputs[0].by_type("IfcPresentationLayerAssignment")
        assert [r.OfProductRepresentation[0].ShapeOfProduct[0].GlobalId for r in layer.AssignedItems] == [
            guid("lamp")
        ]
        assert chair.GlobalId in {
            e.GlobalId
            for r in outputs[0].by_type("IfcRelContainedInSpatialStructure")
            for e in r.RelatedElements
        }


def instances(path: Path) -> list[bytes]:
    return re.findall(rb"#\d+=[^\n]*", path.read_bytes())


def common(one: bytes, other: bytes) -> int:
    """How many bytes two texts have in common from their beginning."""
    shared = min(len(one), len(other))
    return next((k for k in range(shared) if one[k] != other[k]), shared)


def in_two_sections(text: str) -> str:
    lines = text.splitlines(keepends=True)
    middle = next(i for i, line in enumerate(lines) if line.startswith("#20="))
    return "".join([*lines[:middle], "ENDSEC;\nDATA;\n", *lines[middle:]])


def with_comments(text: str) -> str:
    text = re.sub(r"(?m)^#(\d+)=", r"/* it's #\1; ENDSEC; */ #\1 /* = */ = ", text)
    return text.replace("ENDSEC;\nEND-ISO", "/* ENDSEC; */ ENDSEC ; /* END */\nEND-ISO") + "/* ENDSEC; */\n"


ODD = {
    "crlf": lambda t: t.replace("\n", "\r\n"),
    "cr": lambda t: t.replace("\n", "\r"),
    "on one line": lambda t: t.replace("\n", ""),
    "over many lines": lambda t: re.sub(r"([,(])", r"\1\n  ", t[t.index("DATA;") :]).join(
        [t[: t.index("DATA;")], ""]
    ),
    "blanks": lambda t: re.sub(r"(?m)^#(\d+)=(\w+)\(", r"  #00\1 = \2 (", t),
    "two sections": in_two_sections,
    "comments": with_comments,
    "marks in strings": lambda t: t.replace("'lamp'", "'ENDSEC; it''s /* #9999999=DATA; \"'"),
    "foreign letters": lambda t: t.replace("'lamp'", r"'\X2\65E5\X0\ \S\| \X\FC \\ \X4\0001F600\X0\ '"),
    "byte order mark": lambda t: "\ufeff" + t,
    "no last line end": str.rstrip,
    "blank lines": lambda t: t.replace("\n", "\n\n"),
    "an instance that readers skip": lambda t: t.replace("ENDSEC;\nEND", "#777777=!OWN('x');\nENDSEC;\nEND"),
}


@pytest.fixture(scope="module")
def ceiling():
    return four_ceilings()[0]


@pytest.fixture(scope="module")
def plain(ceiling) -> str:
    return a_model("IFC4", [ceiling]).to_string()


class TestOddTexts:
    @pytest.mark.parametrize("form", ODD)
    def test_are_edited_in_place(self, tmp_path: Path, plain: str, ceiling, form: str):
        source = put(tmp_path / "a.ifc", ODD[form](plain))
        text, _ = both(source, [ceiling])
        before = source.read_bytes().removeprefix(b"\xef\xbb\xbf")
        lamp = ifcopenshell.open(text).by_guid(guid("lamp"))
        assert lamp.Name == open_model(source).file.by_guid(guid("lamp")).Name
        # From the schema on, all that stood there stands there still, and ours in one run among it.
        old, new = (b[b.index(b"FILE_SCHEMA") :] for b in (before, text.read_bytes()))
        assert common(old, new) + common(old[::-1], new[::-1]) >= len(old)

    def test_new_ids_come_after_those_of_instances_that_readers_skip(self, tmp_path, plain, ceiling):
        source = put(tmp_path / "a.ifc", ODD["an instance that readers skip"](plain))
        write(source, tmp_path / "b.ifc", [ceiling])
        assert min(i for i in ifcopenshell.open(tmp_path / "b.ifc").entity_names() if i > 777776) == 777778

    def test_archives_go_in_and_out(self, tmp_path: Path, plain: str, ceiling):
        with zipfile.ZipFile(tmp_path / "a.ifczip", "w") as archive:
            archive.writestr("model.ifc", plain)
        source = put(tmp_path / "a.ifc", plain)
        write(source, tmp_path / "plain.ifc", [ceiling])
        report = write(tmp_path / "a.ifczip", tmp_path / "b.ifczip", [ceiling])
        assert report.sink == "text"
        with zipfile.ZipFile(tmp_path / "b.ifczip") as archive:
            assert archive.namelist() == ["b.ifc"]
            assert archive.read("b.ifc") == (tmp_path / "plain.ifc").read_bytes()


REASONS = {
    "signed": ("it is signed", lambda t: t + "SIGNATURE;\nabc\nENDSEC;\n"),
    "no file name": (
        "no FILE_NAME with seven",
        lambda t: re.sub(r"FILE_NAME\(.*?\);", "FILE_NAME('a','2020-01-01T00:00:00',(''),(''),'','');", t),
    ),
}


class TestFallingBack:
    @pytest.mark.parametrize("case", REASONS)
    def test_the_model_is_written_and_the_reason_told(self, tmp_path: Path, plain: str, ceiling, case: str):
        why, change = REASONS[case]
        source = put(tmp_path / "a.ifc", change(plain))
        report = write(source, tmp_path / "b.ifc", [ceiling])
        assert (report.sink, why in report.why) == ("model", True)
        assert len(ifcopenshell.open(tmp_path / "b.ifc").by_type("IfcMember")) > 10
        with pytest.raises(OutputError, match=why):
            write(source, tmp_path / "c.ifc", [ceiling], sink="text")
        assert not (tmp_path / "c.ifc").exists()

    def test_also_when_the_file_changed_while_it_was_worked_on(self, tmp_path: Path, plain: str, ceiling):
        source = put(tmp_path / "a.ifc", plain)
        model = open_model(source)
        put(source, plain + " ")
        report = write_file(model, [ceiling], (), tmp_path / "b.ifc", timestamp=FIRST)
        assert (report.sink, "has changed since" in report.why) == ("model", True)


def test_a_comparison_sees_a_value_an_order_and_what_is_shared():
    ceilings = [make_ceiling(list(four_ceilings()[0].zone.rooms))]
    file = a_model("IFC4", ceilings)
    assert differences(file, a_model("IFC4", ceilings)) == []
    point = file.create_entity("IfcCartesianPoint", (1.0, 2.0))
    ends = [file.create_entity("IfcCartesianPoint", (float(x), 0.0)) for x in (1, 2)]
    lines = [file.create_entity("IfcPolyline", [point, end]) for end in ends]
    text = file.to_string()

    def changed(*how: str) -> list[str]:
        assert how[0] in text
        return differences(file, ifcopenshell.file.from_string(text.replace(*how)))

    assert differences(file, ifcopenshell.file.from_string(text)) == []
    assert changed("POINT((1.,2.))", "POINT((1.,2.0000000001))")
    assert changed(f"(#{point.id()},#{ends[0].id()})", f"(#{ends[0].id()},#{point.id()})")
    own = f"#{point.id()}=IFCCARTESIANPOINT((1.,2.));\n#9999=IFCCARTESIANPOINT((1.,2.));"
    twice = text.replace(f"#{point.id()}=IFCCARTESIANPOINT((1.,2.));", own)
    unshared = twice.replace(
        f"=IFCPOLYLINE((#{point.id()},#{ends[1].id()}", f"=IFCPOLYLINE((#9999,#{ends[1].id()}"
    )
    assert differences(ifcopenshell.file.from_string(twice), ifcopenshell.file.from_string(unshared))
    assert len(lines) == 2


@pytest.mark.parametrize("raw", [b"B\xfcro", b"B\xc3\xbcro", b"\x8f\xff"])
def test_letters_that_no_encoding_allows_stay_as_they_are(tmp_path: Path, plain: str, ceiling, raw: bytes):
    source = put(tmp_path / "a.ifc", plain.encode().replace(b"'lamp'", b"'" + raw + b"'"))
    report = write(source, tmp_path / "b.ifc", [ceiling])
    assert report.sink == "text"
    assert (tmp_path / "b.ifc").read_bytes().count(b"'" + raw + b"'") == 1
    write(tmp_path / "b.ifc", tmp_path / "c.ifc", [ceiling])
    assert (tmp_path / "c.ifc").read_bytes() == (tmp_path / "b.ifc").read_bytes()


def test_the_file_that_was_read_can_be_written_over(tmp_path: Path, plain: str, ceiling):
    source = put(tmp_path / "a.ifc", plain)
    write(source, tmp_path / "b.ifc", [ceiling])
    model = open_model(source)
    report = write_file(model, [ceiling], (), source, timestamp=FIRST, overwrite=True)
    assert report.sink == "text"
    assert source.read_bytes() == (tmp_path / "b.ifc").read_bytes()
    assert len([list(e) for e in model.file]) > 50  # what is open is still the model that was read
    with pytest.raises(OutputError, match="is the model that was read"):
        write(source, source, [ceiling])
