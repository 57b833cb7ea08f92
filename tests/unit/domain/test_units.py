"""Lengths as people write them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ifcgrid.domain.errors import UnitError
from ifcgrid.domain.units import (
    INCH,
    format_feet_inches,
    format_mm,
    in_feet_and_inches,
    parse_length,
    parse_size,
)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("600", 600),
        ("9576 mm", 9576),
        ("9.576 m", 9576),
        ("61 cm", 610),
        ("31' 5\"", 9575.8),
        ("31ft 5in", 9575.8),
        ("13'-7\"", 4140.2),
        ("1'-9 1/2\"", 546.1),
        ("31' 5 1/2\"", 9588.5),
        ("31' 5", 9575.8),
        ('15/16"', 23.8125),
        ('21-1/2"', 546.1),
        ("24 in", 609.6),
        ("2 ft", 609.6),
        ("-3 mm", -3),
        ("2''", 50.8),
    ],
)
def test_what_people_write_is_read_exactly(text, mm):
    assert parse_length(text) == pytest.approx(mm, abs=1e-12)


@pytest.mark.parametrize(
    "text", ["", "-", "x", "5 furlongs", "6 mm 5", "5\" 3'", "1/0 in", "12 12", "1.2.3", "nan"]
)
def test_what_is_no_length_is_refused_with_an_example(text):
    with pytest.raises(UnitError, match=r"write for example"):
        parse_length(text)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), True, None])
def test_numbers_that_are_no_lengths_are_refused(value):
    with pytest.raises(UnitError):
        parse_length(value)


@given(st.integers(min_value=0, max_value=80 * 12 * 64))
def test_every_sixty_fourth_of_an_inch_survives_text(sixty_fourths):
    length = float(Fraction(sixty_fourths, 64) * INCH)
    assert parse_length(format_feet_inches(length, 64)) == length


@given(st.integers(min_value=0, max_value=100_000))
def test_every_millimetre_survives_text(length):
    assert parse_length(format_mm(length)) == length


def test_halves_round_away_from_zero():
    assert format_mm(544.5) == "545 mm"
    assert format_feet_inches(float(INCH * Fraction(1, 32)), 16) == '1/16"'


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("28'9\" x 68' 8\"", (8763.0, 20929.6)),
        ("600 x 1200", (600, 1200)),
        ("2 x 4 ft", (609.6, 1219.2)),
        ("24in × 24in", (609.6, 609.6)),
        ("9.6 m*4.2 m", (9600, 4200)),
    ],
)
def test_sizes_are_two_lengths(text, size):
    assert parse_size(text) == pytest.approx(size, abs=1e-9)


@pytest.mark.parametrize("text", ["600", "600 x", "0 x 600", "600 x -5", "a x b", "1 x 2 x 3"])
def test_what_is_no_size_is_refused(text):
    with pytest.raises(UnitError):
        parse_size(text)


@pytest.mark.parametrize(
    ("sentence", "restated"),
    [
        ("borders 419.1 mm along and 406.4 mm across", "borders 1'-4 1/2\" along and 1'-4\" across"),
        ("borders 305 to 508 mm along", "borders 1'-0\" to 1'-8\" along"),
        ("609.6 x 1219.2 mm do not go into", "2'-0\" x 4'-0\" do not go into"),
        ("move by (-51, +0, 254) mm in X", 'move by (-2", +0", 10") in X'),
        ("no narrower than half a module (305 mm)", "no narrower than half a module (1'-0\")"),
        ("duct 'Duct 300 x 200 mm' hangs 25.4 mm low", "duct 'Duct 300 x 200 mm' hangs 1\" low"),
        ("the Children's room 12 and 51 mm more", "the Children's room 12 and 2\" more"),
        ("8 hangers, 0.27 m² and 12 mmm stay", "8 hangers, 0.27 m² and 12 mmm stay"),
    ],
)
def test_sentences_are_restated_in_feet_and_inches_and_names_are_not(sentence, restated):
    assert in_feet_and_inches(sentence) == restated
