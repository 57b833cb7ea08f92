"""What a model calls its rooms is shown in a drawing file, never carried out."""

from __future__ import annotations

import io

import ezdxf
import pytest
from ezdxf.tools.text import plain_text
from hypothesis import given, settings
from hypothesis import strategies as st

from ifcgrid.outputs.dxf.words import LONGEST, plain

ODD = [
    "<script>alert(1)</script>",
    "=1+1",
    'a & "b"',
    "Büro №5 – 会議室 ☂",
    "{\\fArial;x}",
    "a;b,c\\P",
    "50 %d",
    "100%",
]


def read_again(text: str) -> str:
    """What a reader shows of a text after the file was written and read."""
    doc = ezdxf.new("R2010")
    doc.modelspace().add_text(plain(text))
    target = io.StringIO()
    doc.write(target)
    (entity,) = ezdxf.read(io.StringIO(target.getvalue())).modelspace()
    return plain_text(entity.dxf.text)


@pytest.mark.parametrize("text", ODD)
def test_odd_names_survive(text: str) -> None:
    assert read_again(text) == text


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("50%%d", "50% %d"),
        ("%%uunder%%u", "% %uunder% %u"),
        ("%%%%c", "% % % %c"),
        ("a^Jb", "a^Jb"),
        ("^", "^ "),
        (r"\U+0041", r"\ U+0041"),
        (r"\M+18140", r"\ M+18140"),
        ("two\nlines\ttab\x00nul", "two lines tab nul"),
        ("lone \ud800 surrogate", "lone   surrogate"),
    ],
)
def test_codes_are_shown_and_not_carried_out(text: str, shown: str) -> None:
    assert read_again(text) == shown


def test_a_very_long_name_is_cut_and_says_so() -> None:
    assert len(plain("x" * 10_000)) == LONGEST
    assert plain("x" * 10_000).endswith("…")


@settings(max_examples=60)
@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=40))
def test_any_text_is_one_line_without_a_code_that_acts(text: str) -> None:
    shown = plain(text)
    assert "%%" not in shown
    assert "\n" not in shown
    assert plain_text(shown) == shown.replace("^ ", "^")
    assert read_again(text).split() == shown.replace("^ ", "^").split()
