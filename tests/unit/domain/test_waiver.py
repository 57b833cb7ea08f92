"""Waivers of a plan: what they pick, how long they hold, what a wrong one is told."""

from __future__ import annotations

from datetime import date

import pytest

from ifcgrid.domain.errors import PlanError
from ifcgrid.domain.plan import parse_plan
from ifcgrid.domain.waiver import find_waiver

FACTS = {
    "cause": ("0a3e67c6-20f8-505b-91bc-e1eeb513564f",),
    "rule": ("service-in-ceiling",),
    "storey": ("Ground floor",),
    "room": ("020", "Reading hall", "key"),
    "element": ("25ntwbs5DHIgp3seBonN9i",),
}
TODAY = date(2026, 11, 25)
WORDS = 'reason = "boxed in"\nby = "A. Person"\n'


def waivers(*tables: str):
    return parse_plan("".join(f"[[waivers]]\n{t}\n{WORDS}" for t in tables), ["lay-in-600x600"]).waivers


@pytest.mark.parametrize(
    ("picks", "is_picked"),
    [
        ('cause = "0a3e67c6-20f8-505b-91bc-e1eeb513564f"', True),
        ('cause = "0A3E67C6-20F8-505B-91BC-E1EEB513564F"', False),
        ('cause = "0a3e*"', False),
        ('rule = "service-*"\nroom = "READING*"', True),
        ('rule = "service-in-ceiling"\nroom = "02?"\nstorey = "ground*"', True),
        ('rule = "service-in-ceiling"\nroom = "021"', False),
        ('rule = "*"\nelement = "25ntwbs5DHIgp3seBonN9i"', True),
        ('rule = "*"\nelement = "25NTWBS5DHIgp3seBonN9i"', False),
    ],
)
def test_all_picks_have_to_match(picks, is_picked):
    found = find_waiver(waivers(picks), FACTS, TODAY)
    assert (found is not None) is is_picked
    if found is not None:
        assert (found.reason, found.by, found.where) == ("boxed in", "A. Person", "plan")


@pytest.mark.parametrize(
    ("until", "holds"), [("2026-11-24", False), ("2026-11-25", True), ("2026-11-26", True)]
)
def test_a_waiver_holds_on_its_last_day_and_not_after(until, holds):
    picks = f'rule = "*"\nroom = "*"\nuntil = {until}'
    assert (find_waiver(waivers(picks), FACTS, TODAY) is not None) is holds
    assert (find_waiver(waivers(picks.replace(until, f'"{until}"')), FACTS, TODAY) is not None) is holds


def test_the_last_one_that_matches_wins():
    first, last = 'rule = "*"\nroom = "*"\n', 'rule = "*"\nstorey = "*"\n'
    text = f'[[waivers]]\n{first}reason = "a"\nby = "A"\n[[waivers]]\n{last}reason = "b"\nby = "B"\n'
    found = find_waiver(parse_plan(text, ["lay-in-600x600"]).waivers, FACTS, TODAY)
    assert found is not None
    assert found.by == "B"


@pytest.mark.parametrize(
    ("table", "line", "words"),
    [
        ('rule = "x"\n' + WORDS, 2, "hides too much"),
        ('room = "x"\n' + WORDS, 1, "give the cause, or a rule"),
        ('cause = "x"\nby = "A"\n', 1, "needs reason"),
        ('cause = "x"\nreason = "r"\n', 1, "needs by"),
        ('cause = "x"\nreason = " "\nby = "A"\n', 3, "give a text"),
        ('cause = "x"\nuntil = "soon"\n' + WORDS, 3, "give a day"),
        ('cause = "x"\nuntil = 3\n' + WORDS, 3, "give a day"),
        ('cause = "x"\nwho = "A"\n' + WORDS, 3, "no entry 'who'"),
    ],
)
def test_a_wrong_waiver_is_refused_with_its_line(table, line, words):
    with pytest.raises(PlanError, match=words) as refused:
        parse_plan(f"[[waivers]]\n{table}", ["lay-in-600x600"])
    assert refused.value.line == line
