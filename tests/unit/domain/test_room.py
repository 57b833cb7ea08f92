"""Which words on a ceiling's height must be settled by a person."""

from __future__ import annotations

import pytest

from ifcgrid.domain.room import CeilingHeight, HeightEvidence, HeightSource


def height(*found: tuple[HeightSource, float]) -> CeilingHeight:
    candidates = tuple(HeightEvidence(source=s, value=v, where="") for s, v in found)
    return CeilingHeight(value=found[0][1], source=found[0][0], candidates=candidates)


@pytest.mark.parametrize(
    ("other", "value", "is_conflict", "is_dispute"),
    [
        (HeightSource.FINISH_CEILING_HEIGHT, 2600.0, True, True),
        (HeightSource.FINISH_CEILING_HEIGHT, 2705.0, False, False),
        (HeightSource.BODY, 3900.0, True, False),
        (HeightSource.BODY, 2400.0, True, True),
        (HeightSource.PROPERTY, 4000.0, True, False),
    ],
)
def test_a_space_above_its_ceiling_is_the_rule_another_word_on_the_ceiling_is_a_dispute(
    other, value, is_conflict, is_dispute
):
    found = height((HeightSource.COVERING, 2700.0), (other, value))
    assert bool(found.conflicts) == is_conflict
    assert bool(found.disputes) == is_dispute


def test_where_nothing_speaks_of_the_ceiling_every_conflict_is_a_dispute():
    found = height((HeightSource.PROPERTY, 4000.0), (HeightSource.BODY, 3850.0))
    assert found.disputes == found.conflicts != ()
