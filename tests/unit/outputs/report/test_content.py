"""Rooms of a report: in order, with their findings numbered, standing as badly as the worst of them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from ceilings import make_ceiling, make_room
from shapely import box

from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.room import SkippedRoom
from ifcgrid.domain.waiver import Waiver
from ifcgrid.outputs.report.content import FloorReport, Standing, gather_storeys


def _finding(room: str, verdict: Verdict, message: str = "m") -> Finding:
    return Finding(rule="r", source="s", clause="", verdict=verdict, room=room, subjects=(), message=message)


def _report(findings=(), skipped=(), names=("10", "9")) -> FloorReport:
    ceilings = [make_ceiling([make_room(name, box(0, 0, 3000, 3000))]) for name in names]
    return FloorReport(title="t", stamp={}, origin="o", ceilings=ceilings, findings=findings, skipped=skipped)


def _key(name: str) -> str:
    return make_room(name, box(0, 0, 1, 1)).key


def test_rooms_stand_in_the_order_of_their_numbers_and_findings_are_numbered_along():
    found = [_finding(_key("10"), Verdict.FAIL), _finding(_key("9"), Verdict.UNKNOWN)]
    (storey,) = gather_storeys(_report(found))
    assert [card.number for card in storey.cards] == ["9", "10"]
    assert [[n.number for n in card.findings] for card in storey.cards] == [[1], [2]]


@pytest.mark.parametrize(
    ("verdicts", "standing"),
    [
        ([], Standing.CLEAR),
        ([Verdict.PASS], Standing.CLEAR),
        ([Verdict.UNKNOWN, Verdict.PASS], Standing.UNKNOWN),
        ([Verdict.UNKNOWN, Verdict.FAIL], Standing.FAIL),
    ],
)
def test_a_room_stands_as_its_worst_finding(verdicts, standing):
    (storey,) = gather_storeys(_report([_finding(_key("9"), v) for v in verdicts], names=("9",)))
    assert storey.cards[0].standing is standing


def test_what_somebody_accepted_is_told_but_does_not_count():
    accepted = replace(_finding(_key("9"), Verdict.FAIL), waiver=Waiver(reason="boxed in", by="A. Person"))
    (storey,) = gather_storeys(_report([accepted], names=("9",)))
    assert storey.cards[0].standing is Standing.CLEAR
    assert [n.finding for n in storey.cards[0].findings] == [accepted]


def test_a_room_without_a_ceiling_is_on_the_storey_of_its_name_with_its_reason():
    left = SkippedRoom(key="k", name="Lift", number="9a", storey="Level", status="failed", reason="no shape")
    (storey,) = gather_storeys(_report(skipped=[left]))
    card = storey.cards[1]
    assert (card.number, card.standing, card.reason, card.has_failed) == (
        "9a",
        Standing.BARE,
        "no shape",
        True,
    )


def test_no_room_is_lost_where_keys_occur_twice():
    left = [
        SkippedRoom(key="k", name=n, number="", storey="Level", status="failed", reason="twice") for n in "ab"
    ]
    (storey,) = gather_storeys(_report(skipped=left))
    assert len(storey.cards) == 4
    assert len({card.key for card in storey.cards}) == 4
