"""Markup: every text is content, whatever it holds."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ifcgrid.outputs.report.markup import element, join


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[str] = []
        self.texts: list[str] = []
        self.attributes: list[dict[str, str | None]] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes.append(dict(attrs))

    def handle_data(self, data):
        self.texts.append(data)


def _read(markup: str) -> _Reader:
    reader = _Reader()
    reader.feed(markup)
    reader.close()
    return reader


@given(st.text(st.characters(exclude_categories=["Cs", "Cc", "Cn"])))
def test_a_text_comes_back_as_it_was_and_makes_no_element(text: str):
    reader = _read(element("p", text, title=text))
    assert reader.tags == ["p"]
    assert "".join(reader.texts) == text
    assert reader.attributes == [{"title": text}]


def test_markup_in_markup_is_not_escaped_twice():
    assert element("p", element("b", "a & b"), " & c") == "<p><b>a &amp; b</b> &amp; c</p>"


def test_none_is_nothing_and_lists_are_put_in_a_row():
    assert join("a", None, ["b", [1, 2.5]], None) == "ab12.5"


def test_attributes_of_truth_stand_alone_and_others_vanish():
    assert (
        element("input", disabled=True, checked=False, value=None, class_="x") == '<input disabled class="x">'
    )


@pytest.mark.parametrize("character", ["\x00", "\x07", "\x1b", "\x85", "\ud800", "\uffff"])
def test_characters_that_no_page_may_hold_are_replaced(character: str):
    assert element("p", f"a{character}b") == "<p>a\ufffdb</p>"
