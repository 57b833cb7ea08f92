"""Cautions name their source and promise nothing."""

from __future__ import annotations

import re

from ifcgrid.outputs.cautions import CAUTIONS, caution_texts


def test_every_caution_names_its_source() -> None:
    assert all(caution.source for caution in CAUTIONS)
    assert len({caution.text for caution in CAUTIONS}) == len(CAUTIONS)


def test_cautions_speak_of_codes_authority_and_licensed_practice() -> None:
    text = " ".join(caution_texts(is_short=True))
    for words in ("Local codes", "authority having jurisdiction", "registered design professional"):
        assert words in text


def test_no_caution_says_that_a_ceiling_is_in_order() -> None:
    for text in caution_texts():
        assert not re.search(r"\b(safe|safely|complies|compliant|guarantee\w*)\b", text)


def test_the_short_list_is_a_part_of_the_whole_one_in_the_same_order() -> None:
    whole, short = caution_texts(), caution_texts(is_short=True)
    assert 0 < len(short) < len(whole)
    assert [text for text in whole if text in short] == list(short)
