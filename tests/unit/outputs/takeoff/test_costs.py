"""Prices of one's own: whose they are, what they cost a room, what has none."""

from __future__ import annotations

import pytest
from shapely import box
from take_offs import a_ceiling, a_take_off

from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.quantity import Item
from ifcgrid.outputs.takeoff.costs import cost_rooms, parse_prices, read_prices

TABLE = """item,unit,price,size,system
main runner,pcs,7,,
tee,pcs,3,1200,
tee,pcs,2,600,
wall angle,m,1.5,,
panel,pcs,5,600 x 600,
hanger,pcs,1,,
"""


def test_rooms_sum_to_the_job():
    rooms = [a_ceiling(), a_ceiling("R2", box(0, 0, 5300, 3900))]
    done = a_take_off(*rooms)
    costs = cost_rooms(done, parse_prices(TABLE))
    bars = {(p.stock.item, p.stock.length): len(p.bars) for p in done.bar_plans}
    wanted = 7 * bars["main runner", 3600.0] + 3 * bars["tee", 1200.0] + 2 * bars["tee", 600.0]
    wanted += 1.5 * done.total(Item.ANGLE_LENGTH) / 1000 + 5 * sum(p.panels for p in done.panel_plans)
    wanted += done.total(Item.HANGER)
    assert sum(cost for cost, _ in costs.values()) == pytest.approx(wanted)


def test_what_has_no_price_is_told():
    costs = cost_rooms(a_take_off(), parse_prices("item,unit,price\npanel,pcs,5\n"))
    missing = costs["R1"][1]
    assert "main runner 3600" in missing
    assert "tee 1200" in missing
    assert not any(name.startswith("panel") for name in missing)


def test_the_price_that_names_the_most_counts():
    table = (
        "item,unit,price,size,system\npanel,pcs,1,,\npanel,pcs,2,600 x 600,\npanel,pcs,3,,lay-in-600x600\n"
    )
    table += "panel,pcs,4,600 x 600,lay-in-600x600\npanel,pcs,9,600 x 600,other\n"
    assert cost_rooms(a_take_off(), parse_prices(table))["R1"][0] == pytest.approx(4 * 88)


def test_semicolons_and_decimal_commas_are_read():
    (price,) = parse_prices("Item;Unit;Price\npanel;m2;12,50\n")
    assert (price.price, price.unit) == (12.5, "m2")
    cost = cost_rooms(a_take_off(), (price,))["R1"][0]
    assert cost == pytest.approx(12.5 * 26.047)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("item,unit\n", "column 'price' is missing"),
        ("", "column 'item' is missing"),
        ("item,unit,price\nbrick,pcs,1\n", "row 2: 'brick' is no item"),
        ("item,unit,price\npanel,kg,1\n", "'kg' is no unit"),
        ("item,unit,price\npanel,pcs,cheap\n", "is no amount"),
        ("item,unit,price\npanel,pcs,-1\n", "is no amount"),
        ("item,unit,price\npanel,pcs,nan\n", "is no amount"),
        ("item,unit,price,size\npanel,pcs,1,big\n", "size"),
    ],
)
def test_a_wrong_table_is_named_with_its_row(text, words):
    with pytest.raises(SystemDataError, match=words):
        parse_prices(text)


def test_a_unit_that_does_not_fit_is_refused():
    with pytest.raises(SystemDataError, match="does not fit"):
        cost_rooms(a_take_off(), parse_prices("item,unit,price\npanel,m,1\n"))


def test_a_missing_table_is_named(tmp_path):
    with pytest.raises(SystemDataError, match="cannot be read"):
        read_prices(tmp_path / "none.csv")
