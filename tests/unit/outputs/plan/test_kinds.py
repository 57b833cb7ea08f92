"""Kinds of ceiling: one mark for one system and one finish, whatever number a ceiling's name ends in."""

from __future__ import annotations

from dataclasses import replace

import pytest
from drawn_storeys import keyed, storey
from handmade_ceilings import build_ceiling, rectangle
from shapely import box

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.room import Covering
from ifcgrid.outputs.plan.kinds import ceiling_wishes, find_kinds


def kept(key: str, name: str) -> Ceiling:
    """A ceiling that the model already held, under that name."""
    made = keyed(build_ceiling(rectangle(3000, 3000), (600, 600)), key)
    covering = Covering(key=key, name=name, outline=box(0, 0, 1, 1), underside=2700.0, top=2720.0)
    room = replace(made.zone.rooms[0], covering=covering)
    return replace(made, zone=replace(made.zone, rooms=(room,)))


def test_ceilings_of_one_system_and_one_finish_share_a_mark() -> None:
    other = keyed(build_ceiling(rectangle(3000, 3000), (600, 600), system="lay-in-600x1200"), "x")
    kinds = find_kinds([*storey(), other], "mm")
    assert [kinds.mark[c.key] for c in storey()] == ["C1"] * len(storey())
    assert kinds.mark["x"] == "C2"
    assert len(kinds.lines) == 2
    assert other.system.title in kinds.lines[1]


@pytest.mark.parametrize(
    ("one", "two"),
    [
        ("Ceiling 002", "Ceiling 029-030"),
        ("Family:Board:187508", "Family:Board:187483"),
        ("Panel_1", "Panel_2"),
    ],
)
def test_numbers_at_the_end_of_a_name_tell_no_kinds(one: str, two: str) -> None:
    kinds = find_kinds([kept("a", one), kept("b", two)], "mm")
    assert kinds.mark["a"] == kinds.mark["b"]


def test_other_names_do_and_a_name_of_digits_is_a_name() -> None:
    kinds = find_kinds([kept("a", "Oak slats"), kept("b", "Metal 12"), kept("c", "12"), kept("d", "")], "mm")
    assert [kinds.mark[key] for key in "abcd"] == ["C1", "C2", "C3", "C4"]
    assert "as the model's ceiling 'Oak slats'" in kinds.lines[0]
    assert "as the model's own ceiling there" in kinds.lines[3]


def test_where_each_ceiling_has_a_name_of_its_own_they_are_one_kind() -> None:
    many = [kept(letter, f"Name {letter}") for letter in "abcdefghijkl"]
    assert len(find_kinds(many, "mm").lines) == 1
    assert len(find_kinds(many[:4], "mm").lines) == 4


def test_thicknesses_are_told_in_the_units_of_the_plan() -> None:
    ceiling = storey()[0]
    assert '9/16" thick' in find_kinds([ceiling], "ft-in").lines[0]
    (wish,) = ceiling_wishes(ceiling, find_kinds([ceiling], "ft-in"), "ft-in")
    assert dict(wish.facts)["FINISH"].startswith('lay-in panels 9/16"')
    assert dict(wish.lines)["CEILING"] == "+8'-10 5/16\"  C1"
