"""One mark for one piece: in the model, on the set-out sheet, in the cut list and in the take-off's plans.

The written model is read here with plain ifcopenshell, by tags and property sets, and the
sheet by its words; neither knows how marks are given.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import ifcopenshell
import ifcopenshell.util.element
import ifcopenshell.util.unit
import pytest

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.quantity import TakeOff, line_key
from ifcgrid.ifc.project import model_from_file, open_model
from ifcgrid.ifc.writing.write import write_ceilings
from ifcgrid.outputs.setout import draw_setout
from ifcgrid.outputs.takeoff.record import record_take_off
from ifcgrid.outputs.takeoff.tables import cut_rows
from ifcgrid.pipeline.flow import build, read_plan_file
from ifcgrid.pipeline.takeoff import ceilings_in, take_off

OWN = Path(__file__).parents[2] / "models"
MEMBERS = ("main_runner", "cross_tee", "second_tee", "wall_angle")
SHOWN = re.compile(r"\b([MTSAP]\d+) (\d+) x ")
Marked = dict[str, tuple[str, tuple[float, ...]]]


class Demo:
    """The demo with its ceilings: as built, as written, as taken off."""

    def __init__(self) -> None:
        self.others = [open_model(OWN / f"sandrell-{name}.ifc") for name in ("services", "structure")]
        model = open_model(OWN / "sandrell-architecture.ifc")
        self.ceilings = build(model, read_plan_file(OWN / "sandrell-plan.toml"), self.others).ceilings
        self.take_off = take_off(self.ceilings)
        self.file = ifcopenshell.file.from_string(model.file.to_string())
        write_ceilings(self.file, self.ceilings, detail="panels")
        self.in_model = marks_in_model(self.file)


@pytest.fixture(scope="module")
def demo() -> Demo:
    return Demo()


def marks_in_model(file: ifcopenshell.file) -> Marked:
    """Full key (zone/member/number, zone/panel) to mark and sizes in mm, from tags and sets alone."""
    scale = ifcopenshell.util.unit.calculate_unit_scale(file) * 1000
    zone_of_room: dict[str, str] = {}
    for assembly in file.by_type("IfcElementAssembly"):
        told = ifcopenshell.util.element.get_pset(assembly, "IfcGrid_Provenance") or {}
        zone_of_room |= {room: told["Key"] for room in str(told.get("Rooms", "")).split()}
    found: Marked = {}
    for element in file.by_type("IfcElement"):
        tag = str(element.Tag or "")
        word = tag.split("/")[0]
        if word in MEMBERS:
            whole = ifcopenshell.util.element.get_aggregate(element)
            zone = ifcopenshell.util.element.get_pset(whole, "IfcGrid_Provenance")["Key"]
        elif word == "panel":
            covering = ifcopenshell.util.element.get_aggregate(element)
            zone = zone_of_room[ifcopenshell.util.element.get_container(covering).GlobalId]
        else:
            continue
        told = ifcopenshell.util.element.get_pset(element, "IfcGrid_Piece")
        if word == "panel":
            (mark,) = told["Mark"]
            found[f"{zone}/{tag}"] = mark, tuple(x * scale for x in told["CutSize"])
            continue
        for number, (mark, length) in enumerate(zip(told["Mark"], told["CutLength"], strict=True)):
            found[f"{zone}/{tag}/{number}"] = mark, (length * scale,)
    return found


def in_plans(done: TakeOff) -> Marked:
    """The same of the take-off's cutting plans; panels by the bounds of their outlines."""
    found: Marked = {}
    for plan in done.bar_plans:
        found |= {part.key: (part.mark, (part.length,)) for part in plan.parts}
    for panel_plan in done.panel_plans:
        for demand in panel_plan.demands:
            us, vs = zip(*demand.rings[0], strict=True)
            found[demand.key] = demand.mark, (max(us) - min(us), max(vs) - min(vs))
    return found


def test_every_piece_of_the_cutting_plans_bears_its_mark_and_size_in_the_model(demo: Demo) -> None:
    planned = in_plans(demo.take_off)
    cut = {key: told for key, told in demo.in_model.items() if told[0] != "P0"}
    adopted = {  # ceilings of the architect keep their body; their panels are not written
        f"{c.key}/{key}"
        for c in demo.ceilings
        for key, room in zip(c.panels.keys(), c.panels.room.tolist(), strict=True)
        if c.zone.rooms[room].covering is not None or line_key(c.zone, room) != c.zone.rooms[room].key
    }
    assert set(cut) - set(planned) == set()
    assert set(planned) - set(cut) <= adopted
    for key, (mark, sizes) in cut.items():
        assert mark == planned[key][0], key
        assert sizes == pytest.approx(planned[key][1], abs=0.11), key
    letters = Counter(mark[0] for mark, _ in cut.values())
    assert set(letters) == set("MTSAP")


def test_one_mark_is_one_size_in_a_zone(demo: Demo) -> None:
    sizes: dict[tuple[str, str], list[tuple[float, ...]]] = {}
    for key, (mark, size) in demo.in_model.items():
        sizes.setdefault((key.split("/")[0], mark), []).append(size)
    for same in sizes.values():
        assert all(max(side) - min(side) <= 0.11 for side in zip(*same, strict=True))


def test_the_cut_list_counts_the_marks_of_the_model_room_by_room(demo: Demo) -> None:
    listed = Counter({(row.room, row.mark): row.count for row in demo.take_off.cut_list})
    planned = in_plans(demo.take_off)
    room_of = {part.key: part.room for plan in demo.take_off.bar_plans for part in plan.parts}
    room_of |= {d.key: d.room for plan in demo.take_off.panel_plans for d in plan.demands}
    model = {key: mark for key, (mark, _) in demo.in_model.items() if mark != "P0"}
    assert Counter((room_of[key], model.get(key, mark)) for key, (mark, _) in planned.items()) == listed
    assert len(listed) == len(demo.take_off.cut_list)  # a room names a mark in one row alone


def test_the_record_and_the_workbook_say_the_same(demo: Demo) -> None:
    record = json.loads(json.dumps(record_take_off(demo.take_off)))
    told = {p["key"]: p["mark"] for plan in record["bar_plans"] for bar in plan["cuts"] for p in bar["parts"]}
    told |= {
        p["key"]: p["mark"] for plan in record["panel_plans"] for cut in plan["cuts"] for p in cut["pieces"]
    }
    assert told == {key: mark for key, (mark, _) in in_plans(demo.take_off).items()}
    rows: list[Any] = list(cut_rows(demo.take_off, "mm"))
    assert [row[4] for row in rows] == [row["mark"] for row in record["cut_list"]]


def on_sheet(ceiling: Ceiling) -> dict[str, int]:
    svg = draw_setout(ceiling, stamp={"model": "m", "sha256": "0", "policy": "p", "library": "l"})
    words = " ".join(
        text.text or "" for text in ElementTree.fromstring(svg).iter() if text.tag.endswith("text")
    )
    shown = [(mark, int(count)) for mark, count in SHOWN.findall(" ".join(words.split()))]
    assert len(dict(shown)) == len(shown)
    return dict(shown)


def test_the_set_out_sheet_counts_the_marks_of_the_plans(demo: Demo) -> None:
    planned = in_plans(demo.take_off)
    whole = 0
    for ceiling in demo.ceilings:
        counts = Counter(mark for key, (mark, _) in planned.items() if key.startswith(f"{ceiling.key}/"))
        shown = on_sheet(ceiling)
        assert shown.items() <= counts.items(), ceiling.zone.rooms[0].number
        # A sheet names eight kinds of a list at most.
        kinds = Counter(mark[0] for mark in counts)
        if max(kinds.values()) <= 8 and sum(n for k, n in kinds.items() if k in "TS") <= 8:
            assert shown == counts, ceiling.zone.rooms[0].number
            whole += 1
    assert whole >= len(demo.ceilings) / 2


def test_the_model_alone_gives_the_same_marks(demo: Demo) -> None:
    again = model_from_file(ifcopenshell.file.from_string(demo.file.to_string()))
    _, ceilings = ceilings_in(again, demo.others)
    mine, theirs = in_plans(take_off(ceilings)), in_plans(demo.take_off)
    assert {key: mark for key, (mark, _) in mine.items()} == {key: mark for key, (mark, _) in theirs.items()}
