"""The text of a file is found its way about whatever its strings and comments hold."""

from __future__ import annotations

import pytest

from ifcgrid.ifc.writing.step_text import OddTextError, StepText, split_values

HEAD = (
    b"ISO-10303-21;\nHEADER;/* FILE_NAME('a'); */\nFILE_DESCRIPTION((''),'2;1');\n"
    b"FILE_NAME ('a,b', '2020', (''), ('x','y'),'pre (1)', $ ,'');\nFILE_SCHEMA(('IFC4'));\nENDSEC;\n"
)
TAIL = b"ENDSEC;\nEND-ISO-10303-21;\n"


def text(data: bytes, tail: bytes = TAIL) -> StepText:
    return StepText(HEAD + b"DATA;\n" + data + tail)


def at(found: StepText, span: tuple[int, int]) -> bytes:
    return found.content[slice(*span)]


def test_the_values_of_the_files_name_are_found_past_comments_and_commas_in_strings():
    found = text(b"")
    values = [at(found, s).strip() for s in found.file_name]
    assert values == [b"'a,b'", b"'2020'", b"('')", b"('x','y')", b"'pre (1)'", b"$", b"''"]


@pytest.mark.parametrize("data", [b"#1=A('ENDSEC;');\n", b"#1=A();/* ENDSEC; */\n", b"#1=A('it''s');\n"])
@pytest.mark.parametrize(
    "tail",
    [
        TAIL,
        TAIL.replace(b";", b" ;"),
        TAIL + b"/* ENDSEC; END-ISO-10303-21; */",
        b"ENDSEC;/**/END-ISO-10303-21;",
    ],
)
def test_data_ends_where_its_last_section_does(data: bytes, tail: bytes):
    found = text(data, tail)
    assert found.content[: found.end_of_data] == HEAD + b"DATA;\n" + data


def test_of_several_sections_the_last_one_counts():
    found = text(b"#1=A();\nENDSEC;\nDATA;\n#2=B();\n")
    assert found.content[: found.end_of_data].endswith(b"#2=B();\n")


@pytest.mark.parametrize("end", [b"\n", b"\r\n", b"\r"])
def test_the_files_own_line_ends_are_known(end: bytes):
    assert StepText((HEAD + TAIL).replace(b"\n", end)).line_end == end


def test_instances_are_found_with_their_values():
    data = b"#007 = A('#2=B();',(#2,\n'/*'));  #2=/* ; */B($,.T.);\r\n#300=!OWN('x');"
    found = text(data)
    first, second = found.find([7, 2])
    assert at(found, first) == b"#007 = A('#2=B();',(#2,\n'/*'));"
    assert at(found, second) == b"#2=/* ; */B($,.T.);"
    assert [at(found, s) for s in found.values(first)] == [b"'#2=B();'", b"(#2,\n'/*')"]
    assert at(found, found.with_line_end(second)).endswith(b";\r\n")
    assert found.with_line_end(first) == first
    assert found.greatest_unread == 300


@pytest.mark.parametrize("data", [b"#5=A('=( #9=(');", b"#5= A();", b"#5 =\n\tA();", b"#5=/**/A();", b""])
def test_what_readers_read_is_not_taken_for_what_they_skip(data: bytes):
    assert text(data).greatest_unread == 0


def test_complex_instances_are_skipped_by_readers():
    assert text(b"#5=A();\n#9= (A()B());\n#8=A();").greatest_unread == 9


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"#1=A();#1=B();", "2 times"),
        (b"#2=A();", "0 times"),
        (b"=A();#1=B();", "without #"),
        (b"#1=A();#x=B();", "no number"),
        (b"#1=A()", "without an end"),
        (b"#1=A();#99999999999999999999=B();", "too many digits"),
    ],
)
def test_what_cannot_be_told_apart_is_refused(data: bytes, why: str):
    found = text(data, tail=b"")
    with pytest.raises(OddTextError, match=why):
        found.find([1])


def test_a_complex_instance_has_no_values_to_change():
    found = text(b"#1=(A()B());")
    with pytest.raises(OddTextError, match="no simple instance"):
        found.values(found.find([1])[0])


def test_a_bracket_that_is_never_closed_is_refused():
    with pytest.raises(OddTextError, match="never closed"):
        split_values(b"(1,(2,3)", 0)


def test_a_text_without_data_or_with_a_signature_is_refused():
    with pytest.raises(OddTextError, match="no DATA section"):
        _ = StepText(HEAD + b"END-ISO-10303-21;/**/").end_of_data
    with pytest.raises(OddTextError, match="signed"):
        _ = text(b"#1=A();", TAIL + b"SIGNATURE;\nx\nENDSEC;").end_of_data
