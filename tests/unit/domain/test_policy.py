"""Policies as data: what a table says, and what it must not say."""

from __future__ import annotations

import pytest

from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.policy import DEFAULT_POLICY, DEFAULT_TERMS, SmallRoom, Term, policy_from_table
from ifcgrid.domain.seat import Seat
from ifcgrid.policies import list_policies, read_policy

TABLE = {"id": "own", "title": "t", "source": "meeting of 3 May", "basis": "project"}


def test_a_table_says_everything_that_a_policy_is():
    policy = policy_from_table(
        {
            **TABLE,
            "minimum": "6 in",
            "equal_within": "2 mm",
            "terms": ["cut panels", "border minimum"],
            "smallest_room": "1.2 m",
            "small_room": "skip",
            "seat": "centre-or-quarter",
        }
    )
    assert policy.minimum(600) == pytest.approx(152.4)
    assert (policy.equal_within, policy.smallest_room, policy.small_room) == (2, 1200, SmallRoom.SKIP)
    assert policy.seat is Seat.CENTRE_OR_QUARTER
    assert policy.terms[:3] == (Term.CUT_PANELS, Term.BORDER_MINIMUM, Term.FIXTURES)
    assert sorted(policy.terms) == sorted(DEFAULT_TERMS)


@pytest.mark.parametrize(
    ("minimum", "of_600", "words"),
    [
        ("1/2 module", 300, "1/2 module"),
        ("1/3 module", 200, "1/3 module"),
        ("0.25 module", 150, "1/4 module"),
        ("none", 0, "none"),
        ("150 mm", 150, "150 mm"),
        (200, 200, "200 mm"),
    ],
)
def test_the_least_border_is_a_share_a_length_or_nothing(minimum, of_600, words):
    policy = policy_from_table({**TABLE, "minimum": minimum})
    assert policy.minimum(600) == pytest.approx(of_600)
    assert policy.minimum_words == words


@pytest.mark.parametrize(
    ("change", "entry", "words"),
    [
        ({"minimum": "half"}, "minimum", 'write "1/2 module"'),
        ({"minimum": "2 module"}, "minimum", "between 0 and 1"),
        ({"minimum": "1/0 module"}, "minimum", "cannot be read"),
        ({"minimum": -5}, "minimum", "less than zero"),
        ({"terms": ["looks"]}, "terms", "no term 'looks'; there are border minimum"),
        ({"terms": ["waste", "waste"]}, "terms", "twice"),
        ({"terms": "waste"}, "terms", "no list"),
        ({"seat": "cell"}, "seat", "none of centre, centre-or-quarter"),
        ({"small_room": "shrink"}, "small_room", "none of exempt, skip"),
        ({"equal_within": "wide"}, "equal_within", "no length"),
        ({"whole_at": "nearest"}, "whole_at", 'give "longest", "entrance"'),
        ({"basis": "hearsay"}, "basis", "none of published"),
        ({"source": ""}, "source", "give a text"),
        ({"colour": 1}, "colour", "no such entry"),
    ],
)
def test_a_wrong_entry_is_named(change, entry, words):
    with pytest.raises(SystemDataError) as caught:
        policy_from_table({**TABLE, **change})
    assert words in str(caught.value)
    assert caught.value.entry == entry


@pytest.mark.parametrize("policy_id", list_policies())
def test_every_policy_that_comes_along_bears_its_file_s_name_and_a_source(policy_id):
    policy = read_policy(policy_id)
    assert policy.id == policy_id
    assert policy.source
    # What no document says must not pass for published.
    assert policy.basis != "published" or "common practice" not in policy.source


def test_the_default_is_among_them_and_others_are_refused_by_name():
    assert DEFAULT_POLICY in list_policies()
    with pytest.raises(SystemDataError, match="choose one of balanced-half, equal-and-largest"):
        read_policy("best")


def test_what_the_sources_ask_for_is_what_the_policies_hold():
    # City of Nashua specification 09510, 3.1.F: 6 in. US Navy NAVEDTRA 14044, p. 5-16: no number.
    assert read_policy("six-inch").minimum(609.6) == pytest.approx(6 * 25.4)
    assert read_policy("equal-and-largest").minimum(609.6) == 0
