"""The move list: records and CSV for whoever edits the services model."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from handmade_ceilings import build_ceiling, rectangle

from ifcgrid.domain.policy import Term
from ifcgrid.domain.seat import Hold, Move, Seat, Seating, Shift
from ifcgrid.outputs.moves import format_moves
from ifcgrid.outputs.record import record_build, record_room
from ifcgrid.outputs.summary import format_summary
from ifcgrid.policies import read_policy

LIGHT = Move(
    key="0a", kind="light", name="Light 7", room=0, hold=Hold.FIXED, seat=Seat.CELL,
    start=(940.0, 915.0), end=(900.0, 900.0),
)  # fmt: skip
STUCK = replace(LIGHT, key="0b", name="=SUM(A1)", hold=Hold.MOVABLE, end=None, reason="no cell is free")


def ceiling(*moves: Move):
    cost = (Shift(term=Term.EQUAL_BORDERS, heeded=74.0, unheeded=0.0),)
    seating = Seating(seated=("0c",), moves=moves, cost=cost)
    made = build_ceiling(rectangle(6100, 4270), (350, 335))
    return replace(made, seating=seating, policy=read_policy("half-module"))


def test_each_device_is_a_row_with_its_way_in_model_axes():
    first, second = csv.DictReader(io.StringIO(format_moves([ceiling(LIGHT, STUCK)])))
    assert (first["device"], first["room_number"], first["hold"], first["seat"]) == (
        "0a",
        "101",
        "fixed",
        "cell",
    )
    assert [float(first[k]) for k in ("from_x_mm", "from_y_mm", "to_x_mm", "to_y_mm")] == [940, 915, 900, 900]
    assert (float(first["move_x_mm"]), float(first["move_y_mm"])) == (-40, -15)
    assert float(first["distance_mm"]) == pytest.approx(42.72, abs=0.001)
    assert (second["to_x_mm"], second["move_x_mm"], second["reason"]) == ("", "", "no cell is free")


def test_a_name_that_a_spreadsheet_would_compute_is_made_text():
    assert "'=SUM(A1)" in format_moves([ceiling(STUCK)])


def test_without_moves_the_list_is_its_head():
    assert format_moves([ceiling()]).count("\n") == 1


def test_the_record_tells_moves_seats_costs_and_the_policy_s_source():
    record = record_room(ceiling(LIGHT, STUCK))
    assert [m["vector_mm"] for m in record["moves"]] == [[-40, -15], None]
    assert record["devices"]["on_module"] == ["0c"]
    assert record["devices"]["cost"] == [{"term": "equal borders", "heeded": 74, "unheeded": 0}]
    assert record["policy_basis"] == "common practice"
    assert "NAVEDTRA 14044" in record["policy_source"]
    assert record["narrow"] == []


def test_the_summary_lists_them_and_says_which_policy_applied():
    record = record_build(
        model={"path": "hall.ifc"},
        ceilings=[ceiling(*[replace(LIGHT, key=f"{k:03}") for k in range(25)], STUCK)],
    )
    text = format_summary(record)
    assert "Devices off their seats: 26" in text
    assert "101 Office: light 'Light 7' (fixed): move by (-40, -15) mm in X and Y" in text
    assert "... and 6 more: see the record, or build --moves FILE.csv" in text
    assert "half-module: least border 1/2 module; half a module: common practice" in text


def test_the_walls_at_fault_are_named_by_their_letters():
    made = ceiling()
    layout = replace(made.layout, meets_minimum=False, narrow=((0, 3), (0, 1)))
    record = record_room(replace(made, layout=layout))
    assert [(n["wall"], n["edge"], n["minimum_mm"]) for n in record["narrow"]] == [
        ("D", 3, 300),
        ("B", 1, 300),
    ]
    assert "(all: wall D" in format_summary(record_build(model={}, ceilings=[replace(made, layout=layout)]))
