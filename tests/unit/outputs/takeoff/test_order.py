"""Order lines and their rules."""

from __future__ import annotations

import pytest
from shapely import box
from take_offs import a_ceiling, a_take_off

from ifcgrid.domain.cutting import Scope
from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.quantity import Item, OrderRule
from ifcgrid.outputs.takeoff.order import order_line
from ifcgrid.outputs.takeoff.rules import read_order_rules


@pytest.mark.parametrize(
    ("stock", "allowance", "pack", "pieces", "packs"),
    [
        (100, 0.05, 1, 105, 105),
        (100, 0.05, 20, 105, 6),
        (1, 0.05, 10, 2, 1),
        (0, 0.05, 10, 0, 0),
        (7, 0.0, 1, 7, 7),
    ],
)
def test_allowance_then_whole_packs(stock, allowance, pack, pieces, packs):
    rule = OrderRule(item=Item.PANEL, allowance=allowance, pack=pack, basis="test")
    line = order_line(Item.PANEL, "", (), stock, stock, rule, "")
    assert (line.pieces, line.packs, line.ordered) == (pieces, packs, packs * pack)


def test_net_and_order_are_kept_apart_and_every_line_says_by_what_rule():
    done = a_take_off()
    panel = next(line for line in done.orders if line.item is Item.PANEL)
    assert panel.net == 88
    assert panel.stock == 54 + 34  # no two border pieces of 350 and 335 mm fit in a panel of 600
    assert panel.ordered >= panel.pieces > panel.stock
    assert all(line.rule and line.basis for line in done.orders)


def test_cutting_across_the_job_needs_no_more_than_room_by_room():
    outlines = [box(0, 0, 5300 + 370 * k, 3900 + 210 * k) for k in range(4)]
    rooms = [a_ceiling(f"R{k}", outline, storey=f"Level {k % 2}") for k, outline in enumerate(outlines)]
    bars = {
        scope: sum(len(plan.bars) for plan in a_take_off(*rooms, scope=scope).bar_plans) for scope in Scope
    }
    assert bars[Scope.JOB] <= bars[Scope.STOREY] <= bars[Scope.ROOM]
    assert bars[Scope.JOB] < bars[Scope.ROOM]


def test_a_file_of_ones_own_goes_before_the_defaults(tmp_path):
    own = tmp_path / "ours.toml"
    own.write_text('[cutting]\nbar_kerf = "0 mm"\n[order.panel]\npack = 12\n', encoding="utf-8")
    rules = read_order_rules(own)
    assert (rules.cutting.bar_kerf, rules.order[Item.PANEL].pack) == (0.0, 12)
    assert rules.order[Item.PANEL].basis == "from ours.toml"
    assert rules.order[Item.HANGER] == read_order_rules().order[Item.HANGER]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[order.brick]\npack = 1\n", "'brick' is no item"),
        ("[order.panel]\npack = 0\n", "pack is 0"),
        ("[order.panel]\nallowance = 5\n", "share from 0 to 1"),
        ("[order.panel]\ncolour = 5\n", "'colour' is none of"),
        ('[cutting]\nbar_kerf = "wide"\n', "bar_kerf"),
        ('[cutting]\nbar_kerf = "-1 mm"\n', "must not be negative"),
        ("[cutting]\nborder_tees_from_one = 3\n", "a tee has two ends"),
        ("[other]\n", "'other' is none of"),
        ("[order]\npanel = 1\n", "must be a table"),
        ("order = [", "ours.toml"),
    ],
)
def test_a_wrong_entry_is_named(tmp_path, text, words):
    own = tmp_path / "ours.toml"
    own.write_text(text, encoding="utf-8")
    with pytest.raises(SystemDataError, match=words):
        read_order_rules(own)


def test_a_missing_file_is_named(tmp_path):
    with pytest.raises(SystemDataError, match="cannot be read"):
        read_order_rules(tmp_path / "none.toml")
