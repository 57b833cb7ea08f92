"""What a topic's status and comments mean: open, closed, waived by a person or by the plan."""

from __future__ import annotations

import pytest

from ifcgrid.outputs.bcf.markup import AUTHOR, Markup
from ifcgrid.outputs.bcf.standing import Standing, standing_of, waiver_of

GONE = (AUTHOR, "No longer found in out.ifc.")
AGAIN = (AUTHOR, "Found again.")
PLANS = (AUTHOR, "Waived in the plan by A: moves in March")
WHY = ("a coordinator", "accepted, the duct moves in March")


@pytest.mark.parametrize(
    ("status", "modified_by", "comments", "standing"),
    [
        ("Open", "", [], Standing.OPEN),
        ("In Progress", "a coordinator", [WHY], Standing.OPEN),
        ("Closed", AUTHOR, [GONE], Standing.CLOSED),
        ("Closed", AUTHOR, [GONE, ("a coordinator", "thanks")], Standing.CLOSED),
        ("Closed", "a coordinator", [], Standing.CLOSED),
        ("Closed", "a coordinator", [("a coordinator", "  ")], Standing.CLOSED),
        ("Closed", "a coordinator", [WHY], Standing.WAIVED),
        ("closed", "a coordinator", [GONE, AGAIN, WHY], Standing.WAIVED),
        ("Closed", AUTHOR, [GONE, AGAIN, WHY], Standing.WAIVED),
        ("Resolved", "a coordinator", [("a coordinator", "done")], Standing.CLOSED),
        ("Waived", "a coordinator", [WHY], Standing.WAIVED),
        ("accepted", "a coordinator", [], Standing.WAIVED),
        ("Waived", AUTHOR, [PLANS], Standing.WAIVED_BY_PLAN),
        ("Waived", AUTHOR, [PLANS, ("a coordinator", "why?")], Standing.WAIVED_BY_PLAN),
        ("Waived", "a coordinator", [PLANS, WHY], Standing.WAIVED),
    ],
)
def test_a_topic_stands_as_who_changed_it_and_why_say(status, modified_by, comments, standing):
    markup = Markup(
        author=AUTHOR, status=status, description="", modified_by=modified_by, comments=tuple(comments)
    )
    assert standing_of(markup) is standing


def test_a_persons_last_words_are_the_reason():
    told = Markup(
        author=AUTHOR,
        status="Closed",
        description="",
        modified_by="a coordinator",
        comments=(("an engineer", "is that so?"), WHY),
    )
    waiver = waiver_of(told, "issues.bcf")
    assert waiver is not None
    assert (waiver.by, waiver.reason, waiver.where, waiver.until) == (*WHY, "issues.bcf", None)


def test_without_words_the_waiver_says_so_and_what_is_open_has_none():
    bare = Markup(author=AUTHOR, status="Waived", description="", modified_by="a coordinator")
    waiver = waiver_of(bare, "issues.bcf")
    assert waiver is not None
    assert waiver.by == "a coordinator"
    assert "no reason" in waiver.reason
    assert waiver_of(Markup(author=AUTHOR, status="Open", description=""), "issues.bcf") is None
