"""`[[devices]]` tables: which devices they pick, and what they say when something is wrong."""

from __future__ import annotations

import pytest

from ifcgrid.domain.device_rule import find_wish
from ifcgrid.domain.errors import PlanError
from ifcgrid.domain.plan import parse_plan
from ifcgrid.domain.seat import Hold, Seat, Wish

TEXT = """\
[[devices]]
kind = "sprinkler"
hold = "movable"
within = "300 mm"
seat = "centre"

[[devices]]
storey = "Level 2"
room = "*corridor*"
name = "Lay-in*"
hold = "free"

[[devices]]
key = "abc"
hold = "fixed"
"""


def facts(**given: str) -> dict[str, tuple[str, ...]]:
    known = {"kind": "light", "name": "", "key": "", "storey": "", "room": ""}
    return {name: (text,) for name, text in {**known, **given}.items()}


def rules(text: str = TEXT):
    return parse_plan(text, ("lay-in-600x600",)).devices


def test_a_device_that_no_rule_picks_is_fixed():
    assert find_wish(rules(), facts()) == Wish(hold=Hold.FIXED)


def test_kind_distance_and_seat_are_read():
    wish = find_wish(rules(), facts(kind="sprinkler"))
    assert wish == Wish(hold=Hold.MOVABLE, within=300.0, seat=Seat.CENTRE)


def test_all_picks_must_match_and_the_last_word_wins():
    assert (
        find_wish(rules(), facts(storey="level 2", room="North Corridor", name="LAY-IN 595")).hold
        is Hold.FREE
    )
    assert find_wish(rules(), facts(storey="Level 2", room="Office", name="Lay-in 595")).hold is Hold.FIXED
    assert find_wish(rules(), facts(kind="sprinkler", key="abc")).hold is Hold.FIXED


def test_a_name_is_the_device_s_or_its_type_s_and_a_room_its_number_or_name():
    known = {**facts(), "name": ("L 7", "Lay-in 595"), "storey": ("Level 2",), "room": ("210", "Corridor")}
    assert find_wish(rules(), known).hold is Hold.FREE


def test_a_distance_alone_says_movable():
    assert rules('[[devices]]\nkind = "*"\nwithin = 150\n')[0].changes["hold"] is Hold.MOVABLE


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('[[devices]]\nkind = "lamp"\nhold = "free"\n', 2, "there are air terminal, detector"),
        ('[[devices]]\nkind = "light"\nhold = "loose"\n', 3, "choose one of fixed, movable, free"),
        ('[[devices]]\nkind = "light"\nseat = "edge"\n', 3, "choose one of cell, centre, centre-or-quarter"),
        ('[[devices]]\nkind = "light"\nwithin = "far"\n', 3, "within"),
        ('[[devices]]\nkind = "light"\nwithin = 0\n', 3, "greater than zero"),
        ('[[devices]]\nkind = "light"\nhold = "fixed"\nwithin = 5\n', 4, 'write hold = "movable"'),
        ('[[devices]]\nkind = "light"\n', 1, "changes nothing"),
        ('[[devices]]\nhold = "free"\n', 1, "picks no device"),
        ('[[devices]]\nkind = "light"\nhold = "free"\ncolour = 1\n', 4, "no entry 'colour'"),
        ('[devices]\nkind = "light"\n', 1, "write [[devices]]"),
        (
            '[[policies]]\nid = "own"\ntitle = "t"\nsource = "s"\nbasis = "project"\nminimum = "half"\n',
            6,
            "minimum",
        ),
        ('[[policies]]\nid = "own"\ntitle = "t"\nbasis = "project"\n', 1, "source"),
        ('[policies]\nid = "own"\n', 1, "write [[policies]]"),
    ],
)
def test_a_wrong_entry_gives_its_line_and_what_is_allowed(text, line, words):
    with pytest.raises(PlanError) as caught:
        rules(text)
    assert words in str(caught.value)
    assert caught.value.line == line


def test_a_plan_can_bring_its_own_policy_and_use_it():
    text = (
        'policy = "own"\n[[policies]]\nid = "own"\ntitle = "t"\nsource = "client"\nbasis = "project"\n'
        'minimum = "1/3 module"\n'
    )
    plan = parse_plan(text, ("lay-in-600x600",))
    assert plan.default.policy == "own"
    assert plan.policies["own"].minimum(600) == pytest.approx(200)
