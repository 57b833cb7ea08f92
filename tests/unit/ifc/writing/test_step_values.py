"""Values as STEP text read back as what they were, alone and by the column."""

from __future__ import annotations

import ifcopenshell
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ifcgrid.ifc.writing.rows import DERIVED, Column, Enum, Own, Ref, Rows, Typed
from ifcgrid.ifc.writing.step_columns import format_column, format_ids, format_reals
from ifcgrid.ifc.writing.step_rows import format_rows
from ifcgrid.ifc.writing.step_values import entity_form, format_real, format_string, format_value

HEAD = "ISO-10303-21;HEADER;FILE_DESCRIPTION((''),'2;1');FILE_NAME('','',(''),(''),'','','');"
TEXT = HEAD + "FILE_SCHEMA(('{}'));ENDSEC;DATA;{}ENDSEC;END-ISO-10303-21;"


def read(lines: str, schema: str = "IFC4") -> ifcopenshell.file:
    return ifcopenshell.file.from_string(TEXT.format(schema, lines))


def texts(column: np.ndarray) -> list[str]:
    return [row.tobytes().replace(b"\0", b"").decode() for row in column]


# A NUL ends a string in C; surrogates are no characters.
LETTERS = st.characters(exclude_categories=("Cs",), exclude_characters="\0")
REALS = st.floats(allow_nan=False, allow_infinity=False)


class TestOneByOne:
    @settings(deadline=None, max_examples=60)
    @given(st.lists(st.text(LETTERS, max_size=12), min_size=1, max_size=30))
    def test_texts_of_any_letters_read_back(self, names: list[str]):
        lines = "".join(f"#{k}=IFCPERSON($,{format_string(n)},$,$,$,$,$,$);" for k, n in enumerate(names, 1))
        assert lines.isascii()
        assert [read(lines).by_id(k).FamilyName for k in range(1, len(names) + 1)] == names

    @settings(deadline=None, max_examples=60)
    @given(st.lists(REALS, min_size=1, max_size=30))
    def test_reals_read_back_to_the_last_bit(self, values: list[float]):
        file = read(f"#1=IFCDIRECTION(({','.join(map(format_real, values))}));")
        assert list(map(repr, file.by_id(1).DirectionRatios)) == list(map(repr, values))

    @pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
    def test_what_is_no_number_is_refused(self, value: float):
        with pytest.raises(ValueError, match="cannot be written"):
            format_real(value)

    @pytest.mark.parametrize(
        ("value", "text"),
        [
            (None, "$"),
            (DERIVED, "*"),
            (True, ".T."),
            (False, ".F."),
            (Enum("SITE"), ".SITE."),
            (Ref(12), "#12"),
            (7, "7"),
            ((Ref(1), Ref(2)), "(#1,#2)"),
            (((1.0, -0.0), None), "((1.,-0.),$)"),
            (Typed("IfcLabel", "it's"), "IFCLABEL('it''s')"),
            (Typed("IfcLengthMeasure", 3), "IFCLENGTHMEASURE(3.)"),
            (Typed("IfcInteger", 3), "IFCINTEGER(3)"),
            (Typed("IfcBoolean", True), "IFCBOOLEAN(.T.)"),
            (1e-7, "1.E-07"),
            (2.5e20, "2.5E+20"),
            (np.float64(0.1), "0.1"),
        ],
    )
    def test_every_kind_of_value_has_its_form(self, value: object, text: str):
        assert format_value(value) == text

    def test_what_is_no_value_is_refused(self):
        with pytest.raises(TypeError, match="no value of a row"):
            format_value(Own(1))

    def test_left_off_and_derived_attributes_are_filled_in_by_the_schema(self):
        assert entity_form("IFC4", "IfcSIUnit").format(
            1, (None, Enum("LENGTHUNIT"), None, Enum("METRE"))
        ) == ("#1=IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.);")
        assert entity_form("IFC4", "IfcDirection").format(2, ((1, 0, 0),)) == "#2=IFCDIRECTION((1.,0.,0.));"
        assert entity_form("IFC2X3", "IfcSlab").format(3, ("g",)) == "#3=IFCSLAB('g',$,$,$,$,$,$,$,$);"
        with pytest.raises(ValueError, match="IFCDIRECTION has 1 attributes, not 2"):
            entity_form("IFC4", "IfcDirection").format(4, ((1.0,), None))


class TestByTheColumn:
    @settings(deadline=None, max_examples=100)
    @given(st.lists(REALS, min_size=1, max_size=30))
    def test_any_reals_are_the_same_numbers(self, values: list[float]):
        found = texts(format_reals(np.array(values)))
        assert [repr(float(t)) for t in found] == list(map(repr, values))

    @settings(deadline=None, max_examples=100)
    @given(st.lists(st.integers(-(10**11), 10**11), min_size=1, max_size=30), st.integers(0, 9))
    def test_places_on_a_raster_are_the_same_numbers_in_short(self, whole: list[int], places: int):
        values = np.round(np.array(whole) / 10.0**places, places)
        found = texts(format_reals(values))
        assert [float(t) for t in found] == values.tolist()
        assert all("." in t and not (t.split(".")[1]).endswith("0") for t in found)

    @settings(deadline=None)
    @given(st.lists(st.integers(0, 10**12), min_size=1, max_size=30))
    def test_ids_are_written_without_zeros_before_them(self, ids: list[int]):
        assert texts(format_ids(np.array(ids))) == [f"#{i}" if i else "$" for i in ids]

    @settings(deadline=None)
    @given(st.lists(st.one_of(st.text(LETTERS, max_size=8), st.none()), min_size=1, max_size=20))
    def test_texts_are_those_of_one_by_one(self, names: list[str | None]):
        assert texts(format_column(names)) == [format_value(n) for n in names]

    def test_mixed_columns_are_those_of_one_by_one(self):
        for column in (
            [Ref(5), None, Ref(123456)],
            [None, "a"],
            [(1.0, 2.5), (3.0, 1e-30)],
            [(1.0, 2.0), (3.0,)],
            [Typed("IfcLabel", "x"), Typed("IfcLabel", "'")],
            [True, False],
            [Enum("A"), Enum("B")],
            ["MappedRepresentation", "SweptSolid"],
        ):
            assert texts(format_column(column)) == [format_value(v) for v in column]


def test_blocks_and_single_rows_give_the_lines_of_one_by_one():
    rows = Rows(95)
    origin = rows.add("IfcCartesianPoint", (0.0, 0.0, 0.0))
    for k, count in enumerate((3, 1, 4)):
        block = [
            ("IfcCartesianPoint", (Column(np.arange(3.0 * count).reshape(-1, 3) / (7 + k)),)),
            ("IfcAxis2Placement3D", (Own(0), Column([None] * count), Column(np.arange(count)))),
            ("IfcLocalPlacement", (origin if k else None, Own(1))),
            ("IfcShapeRepresentation", (Ref(7), "Body", f"it's {k}", (Column([Ref(3)] * count), Own(0)))),
            ("IfcBuildingElementProxy", (Column(np.array([b"guid"] * count)), None, Column(["a'b"] * count))),
        ]
        rows.add_block(block, count)
        rows.add("IfcLocalPlacement", None, origin)
    rows.add_block([("IfcDirection", (Column([]),))], 0)
    expected = [entity_form("IFC4", r.entity).format(r.id, r.attributes) for r in rows]
    assert len(expected) == len(rows) == 4 + 5 * 8
    for end in (b"\n", b"\r\n"):
        assert b"".join(format_rows(rows, "IFC4", end)).decode().split(end.decode())[:-1] == expected
