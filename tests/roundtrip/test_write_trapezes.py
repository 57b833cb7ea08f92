"""Bars that carry several hangers, and what each hanger is fixed to, written and read in three schemas."""

from __future__ import annotations

from dataclasses import replace

import ifcopenshell.util.element
import numpy as np
import pytest
from ceilings import LEVEL, guid, make_ceiling, make_model, make_room
from handmade_obstacles import thing
from shapely import LineString, Point, box
from shapely.affinity import rotate, translate
from written import NEAR, SCHEMAS, meshes, messages

from ifcgrid.design.suspension import hang
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.hanging import HangerKind
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.ifc.reading.written import read_written
from ifcgrid.ifc.writing.write import write_ceilings

pytestmark = [  # the validator leaves the file with its rules open
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]

ANGLE, CORNER = 17.0, (13000.0, 500.0)
MAINS = LEVEL + 38
SOFFIT = MAINS + 1300


def _there(kind: Kind, name: str, low: tuple[float, float], high: tuple[float, float], *z: float) -> Obstacle:
    """A box in the room's own axes, turned and moved as the room is."""
    outline = rotate(translate(box(*low, *high), *CORNER), ANGLE, origin=CORNER)
    return thing(kind, outline, *z, key=guid(name))


def a_hung_ceiling() -> Ceiling:
    """Mains under a wide duct and a pipe, below a slab, a beam, and one slab that leaves no room."""
    room = _there(Kind.SLAB, "room", (0, 0), (7000, 4800), 0, 1).outline
    ceiling = make_ceiling([make_room("hung", room)], angle=ANGLE)
    structure = [
        _there(Kind.SLAB, "slab", (-500, -500), (5400, 4500), SOFFIT, SOFFIT + 200),
        _there(Kind.SLAB, "low slab", (5400, -500), (6600, 5300), MAINS - 5, SOFFIT + 200),
        _there(Kind.BEAM, "beam", (3700, -500), (4100, 5300), SOFFIT - 300, SOFFIT),
    ]
    services = [
        _there(Kind.DUCT, "duct", (-300, 900), (2600, 2500), MAINS + 300, MAINS + 600),
        _there(Kind.PIPE, "pipe", (-300, 3380), (7000, 3470), MAINS + 900, MAINS + 960),
    ]
    hung = hang(ceiling.zone, ceiling.system, ceiling.layout, ceiling.members, structure, services=services)
    return replace(ceiling, hangers=hung.hangers, trapezes=hung.trapezes)


@pytest.fixture(scope="module")
def ceiling() -> Ceiling:
    return a_hung_ceiling()


@pytest.fixture(scope="module", params=SCHEMAS)
def file(request, ceiling):
    file = make_model(
        request.param, list(ceiling.zone.rooms), unit="m", storey_at=(500, 700, 0), storey_turn=30.0
    )
    write_ceilings(file, [ceiling])
    return file


def _tagged(file) -> dict[str, object]:
    found = [e for e in file.by_type("IfcElement") if e.Tag]
    assert len({e.Tag for e in found}) == len(found)
    return {e.Tag: e for e in found}


def test_the_case_has_all_that_is_looked_at(ceiling):
    assert any(len(carried) > 1 for carried in ceiling.trapezes.carries)
    assert {"slab", "beam", "trapeze"} <= set(ceiling.hangers.fixing)
    cramped = np.isnan(ceiling.hangers.top) & np.array(
        [s == guid("low slab") for s in ceiling.hangers.support]
    )
    bare = np.array([s == "" for s in ceiling.hangers.support])
    assert cramped.any()
    assert bare.any()
    assert (ceiling.hangers.kinds == HangerKind.SPLAYED).any()


def test_no_rule_of_the_schema_is_broken(file):
    assert messages(file) == []


def test_a_bar_is_written_once_and_names_every_hanger_that_ends_at_its_underside(file, ceiling):
    tags, bars, keys = _tagged(file), ceiling.trapezes, ceiling.hangers.keys()
    assert [t for t in tags if t.startswith("trapeze/") and t.count("/") == 1] == [
        f"trapeze/{k}" for k in range(len(bars))
    ]
    named: list[str] = []
    for k, carried in enumerate(bars.carries):
        bar = tags[f"trapeze/{k}"]
        for element in (bar, tags[f"trapeze/{k}/rod/0"], tags[f"trapeze/{k}/rod/1"]):
            told = ifcopenshell.util.element.get_psets(element)["IfcGrid_Trapeze"]
            assert told["Hangers"].split() == [keys[h] for h in carried]
            assert told["Spans"].split() == list(bars.spans[k])
        named += told["Hangers"].split()
        hung = [tags[keys[h]] for h in carried]
        bodies = meshes(file, [bar, *hung])
        underside = bodies[bar.GlobalId][:, 2].min()
        line = LineString(ceiling.layout.frame.to_world(bars.ends[k]))
        for hanger in hung:
            body = bodies[hanger.GlobalId]
            assert body[:, 2].max() == pytest.approx(underside, abs=NEAR)
            assert line.distance(Point(body[:, :2].mean(axis=0))) < 0.1
    under_bars = ceiling.hangers.kinds == HangerKind.TRAPEZE
    assert sorted(named) == sorted(key for key, is_under in zip(keys, under_bars, strict=True) if is_under)


def test_every_hanger_says_what_it_is_fixed_to(file, ceiling):
    tags, hangers = _tagged(file), ceiling.hangers
    for k, key in enumerate(hangers.keys()):
        told = ifcopenshell.util.element.get_psets(tags[key])["IfcGrid_Hanger"]
        assert told.get("Fixing", "") == hangers.fixing[k]
        assert told["Kind"] == HangerKind(hangers.kinds[k]).name.lower()
        assert told["Support"] == (hangers.support[k] or "unknown")
        assert told["IsSoffitKnown"] == bool(np.isfinite(hangers.top[k]))
        is_fixed_itself = told["IsSoffitKnown"] and told["Kind"] != "trapeze"
        assert (f"anchor/{key}" in tags) == is_fixed_itself
        if not told["IsSoffitKnown"]:
            assert ("leaves no room" in told["Note"]) == bool(hangers.support[k])


def test_bars_and_hangers_are_read_back_as_they_were_written(file, ceiling):
    (back,) = read_written(file)
    near = {"abs": 0.01, "nan_ok": True}

    def here(points):
        return ceiling.layout.frame.to_local(back.frame.to_world(points.reshape(-1, 2)))

    hangers, bars = ceiling.hangers, ceiling.trapezes
    assert (back.support, back.fixing) == (hangers.support, hangers.fixing)
    for name in ("line", "index"):
        assert back.hangers[name].tolist() == getattr(hangers, name).tolist()
    assert back.hangers["kind"].tolist() == hangers.kinds.tolist()
    assert here(back.hangers["point"]) == pytest.approx(hangers.point, **near)
    assert here(back.hangers["top_point"]) == pytest.approx(hangers.top_points, **near)
    assert back.hangers["bottom"] == pytest.approx(hangers.bottom, **near)
    assert back.hangers["top"] == pytest.approx(hangers.top, **near)
    assert (back.trapezes.carries, back.trapezes.spans) == (bars.carries, bars.spans)
    assert back.trapezes.support == bars.support
    assert back.trapezes.hanger.tolist() == bars.hanger.tolist()
    assert here(back.trapezes.ends) == pytest.approx(bars.ends.reshape(-1, 2), **near)
    assert back.trapezes.z == pytest.approx(bars.z, **near)
    assert back.trapezes.top == pytest.approx(bars.top, **near)


def test_a_bar_keeps_the_hangers_that_are_left_when_one_is_deleted_by_hand(ceiling):
    file = make_model("IFC4", list(ceiling.zone.rooms))
    write_ceilings(file, [ceiling])
    keys = ceiling.hangers.keys()
    bar = next(k for k, carried in enumerate(ceiling.trapezes.carries) if len(carried) > 1)
    gone, *left = (keys[h] for h in ceiling.trapezes.carries[bar])
    file.remove(_tagged(file)[gone])
    (back,) = read_written(file)
    now = [f"hanger/{j}/{i}" for j, i in zip(back.hangers["line"], back.hangers["index"], strict=True)]
    assert gone not in now
    assert [now[h] for h in back.trapezes.carries[bar]] == left
