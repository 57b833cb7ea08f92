"""Printed lengths: each rounded once to the step that was chosen."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ifcgrid.domain.errors import UnitError
from ifcgrid.domain.units import parse_length
from ifcgrid.outputs.paper.dimension import (
    FRACTIONS,
    format_length,
    is_metric,
    round_length,
    told,
    unbroken,
)
from ifcgrid.outputs.paper.sheet import scale_words, usual_scales


@given(length=st.floats(-50_000, 50_000), part=st.sampled_from(FRACTIONS))
def test_a_printed_length_is_the_nearest_step_and_reads_back_as_it(length: float, part: int) -> None:
    units = f"ft-in/{part}"
    printed = parse_length(format_length(length, units))
    assert printed == pytest.approx(round_length(length, units), abs=1e-9)
    assert abs(printed - length) <= 25.4 / part / 2 + 1e-6
    assert Fraction(printed / 25.4).limit_denominator(10**6).denominator <= part


@pytest.mark.parametrize(
    ("length", "units", "text"),
    [
        (25.4 * 7 / 16, "ft-in/8", '1/2"'),  # halves go away from zero
        (-25.4 * 7 / 16, "ft-in/8", '-1/2"'),
        (25.4 * 7 / 16, "ft-in", '7/16"'),
        (25.4 * 7 / 16, "ft-in/32", '7/16"'),
        (304.8 + 25.4 * 11.9, "ft-in/2", "2'-0\""),
        (12.5, "mm", "13"),
    ],
)
def test_lengths_in_words(length: float, units: str, text: str) -> None:
    assert format_length(length, units) == text


def test_our_sentences_are_told_to_the_same_fraction() -> None:
    sentence = "stands 40 mm off 'Duct 40 mm'"
    assert told(sentence, "mm") == sentence
    assert told(sentence, "ft-in") == "stands 1 9/16\" off 'Duct 40 mm'"
    assert told(sentence, "ft-in/4") == "stands 1 1/2\" off 'Duct 40 mm'"
    assert unbroken(40, "ft-in") == '1\u00a09/16"'


@pytest.mark.parametrize("units", ["cubit", "ft-in/7", "mm/8", ""])
def test_units_that_there_are_not_are_refused(units: str) -> None:
    with pytest.raises(UnitError, match="choose one of"):
        is_metric(units)


def test_scales_of_a_foot_are_told_in_inches() -> None:
    # 1/4 in to a foot of 12 in is 1 to 48.
    assert scale_words(48, "ft-in/8") == 'Scale 1:48 (1/4" = 1\'-0")'
    assert scale_words(50, "mm") == "Scale 1:50"
    for scale in usual_scales("ft-in"):
        inches = Fraction(scale_words(scale, "ft-in").split("(")[1].split('"')[0])
        assert inches * scale == 12
