"""What holds a ceiling, written into three schemas: valid, complete, in its place, read back, taken out."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import ifcopenshell
import ifcopenshell.util.element
import numpy as np
import pytest
from ceilings import LEVEL, guid
from held import SLAB, a_model, held
from written import LAMP, NEAR, SCHEMAS, data, meshes, messages

from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.ifc.identity import global_id
from ifcgrid.ifc.reading.written import read_written
from ifcgrid.ifc.writing.hanging_rows import NOMINAL_ROD
from ifcgrid.ifc.writing.remove import remove_ceilings
from ifcgrid.ifc.writing.write import write_ceilings

pytestmark = [  # the validator leaves the file with its rules open
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
]


@pytest.fixture(scope="module", params=SCHEMAS)
def written(request):
    ceiling = held()
    file = a_model(request.param, ceiling, unit="m", storey_at=(500, 700, 0), storey_turn=30.0)
    before = data(file)
    report = write_ceilings(file, [ceiling])
    return ceiling, file, before, report


def test_no_rule_of_the_schema_is_broken(written):
    _, file, _, _ = written
    assert messages(file) == []


def test_there_are_as_many_as_the_domain_counts(written):
    ceiling, file, _, report = written
    known = int(np.isfinite(ceiling.hangers.top).sum())
    expected = {
        "hanger": len(ceiling.hangers),
        "trapeze_bar": 1,
        "trapeze_rod": 2,
        "brace_post": 3,
        "brace_wire": 7,
        "device_wire": 3,
        "stabiliser": 2,
        "joint": 1,
        # One at each upper end that has structure; the hanger under the trapeze has none of its own.
        "anchor": (known - 1) + 2 + (2 + 7) + 2,
    }
    assert {k: report.counts.get(k) for k in expected} == expected
    words = Counter(t.split("/")[0] for p in file.by_type("IfcElement") if (t := p.Tag))
    assert words["anchor"] == expected["anchor"] == len(file.by_type("IfcMechanicalFastener"))
    assert words["brace"] == 10
    assert len(file.by_type("IfcMember")) == len(ceiling.members) + 1 + 3 + 2
    for part in (*file.by_type("IfcMember"), *file.by_type("IfcElementComponent")):
        whole = ifcopenshell.util.element.get_aggregate(part)
        assert whole.is_a("IfcElementAssembly")
        assert ifcopenshell.util.element.get_type(part) is not None
        assert ifcopenshell.util.element.get_material(part, should_inherit=True).Name == "Steel"


def _expected_ends(ceiling: Ceiling) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Tag to the ends (model mm) of each rod and bar, from the domain alone."""
    found = {}
    hangers, braces, wires = ceiling.hangers, ceiling.braces, ceiling.wires
    for k, key in enumerate(hangers.keys()):
        found[key] = (
            (*hangers.point[k], hangers.bottom[k]),
            (*hangers.top_points[k], hangers.top[k]),
        )
    bottom = LEVEL + ceiling.system.main.height
    for k in range(len(braces)):
        base = f"brace/{braces.line[k]}/{braces.column[k]}"
        foot = (*braces.point[k], bottom)
        top = braces.post_top[k] if np.isfinite(braces.post_top[k]) else bottom + NOMINAL_ROD
        found[f"{base}/post"] = foot, (*braces.point[k], top)
        for w in np.flatnonzero(np.isfinite(braces.wire_top[k, :, 2])):
            found[f"{base}/wire/{w}"] = foot, tuple(braces.wire_top[k, w])
    for k, device in enumerate(wires.device):
        top = wires.top[k] if np.isfinite(wires.top[k]) else wires.bottom[k] + NOMINAL_ROD
        at = wires.point[k]
        found[f"wire/{device}/{wires.number[k]}"] = (*at, wires.bottom[k]), (*at, top)
    bar = ceiling.trapezes
    for side in (0, 1):
        at = bar.ends[0, side]
        found[f"trapeze/0/rod/{side}"] = (*at, bar.z[0]), (*at, bar.top[0, side])
    frame = ceiling.layout.frame
    return {
        tag: tuple(np.array([*frame.to_world([p[:2]])[0], p[2]]) for p in ends) for tag, ends in found.items()
    }


def test_rods_run_from_end_to_end_in_their_true_direction(written):
    ceiling, file, _, _ = written
    elements = {e.Tag: e for e in file.by_type("IfcElement") if e.Tag}
    expected = _expected_ends(ceiling)
    shapes = meshes(file, [elements[tag] for tag in expected])
    for tag, (start, end) in expected.items():
        points = shapes[elements[tag].GlobalId]
        along = (end - start) / np.linalg.norm(end - start)
        reach = (points - start) @ along
        assert reach.min() == pytest.approx(0.0, abs=2 * NEAR), tag
        assert reach.max() == pytest.approx(np.linalg.norm(end - start), abs=2 * NEAR), tag
        aside = np.linalg.norm(points - start - reach[:, None] * along, axis=1)
        assert aside.max() <= 12.6, tag


def test_bars_lie_where_they_are_and_anchors_at_the_tops(written):
    ceiling, file, _, _ = written
    elements = {e.Tag: e for e in file.by_type("IfcElement") if e.Tag}
    shapes = meshes(file, [elements["trapeze/0"], elements["stabiliser/0/1/0"]])
    frame = ceiling.layout.frame
    bar = shapes[elements["trapeze/0"].GlobalId]
    side = ceiling.system.hanging.bar_depth
    assert [bar[:, 2].min(), bar[:, 2].max()] == pytest.approx([LEVEL + 200, LEVEL + 200 + side], abs=NEAR)
    local = frame.to_local(bar[:, :2])
    assert [*local.min(axis=0), *local.max(axis=0)] == pytest.approx(
        [1800 - side / 2, 1000, 1800 + side / 2, 1900], abs=0.01
    )
    tie = shapes[elements["stabiliser/0/1/0"].GlobalId]
    assert tie[:, 2].min() == pytest.approx(LEVEL + ceiling.system.main.height, abs=NEAR)
    ends = _expected_ends(ceiling)
    anchors = [e for t, e in elements.items() if t.startswith("anchor/")]
    shown = meshes(file, anchors)
    for anchor in anchors:
        top = ends[anchor.Tag.removeprefix("anchor/")][1]
        points = shown[anchor.GlobalId]
        assert points[:, 2].min() == pytest.approx(top[2], abs=NEAR)
        assert points[:, :2].mean(axis=0) == pytest.approx(top[:2], abs=1.0)


def test_sets_say_what_bodies_cannot_show(written):
    ceiling, file, _, _ = written
    psets = ifcopenshell.util.element.get_psets
    elements = {e.Tag: e for e in file.by_type("IfcElement") if e.Tag}
    hanger = psets(elements[ceiling.hangers.keys()[0]])["IfcGrid_Hanger"]
    assert (hanger["Kind"], hanger["Support"], hanger["Fixing"]) == ("splayed", SLAB, "slab")
    assert psets(elements["brace/4/6/post"])["IfcGrid_Brace"]["PartsMissing"] == 1
    assert psets(elements["brace/6/6/post"])["IfcGrid_Support"]["IsSoffitKnown"] is False
    wire = psets(elements[f"wire/{guid('spot')}/0"])["IfcGrid_DeviceWire"]
    assert (wire["Device"], wire["IsSlack"], wire["IsWeightAssumed"]) == (guid("spot"), False, True)
    trapeze = psets(elements["trapeze/0"])["IfcGrid_Trapeze"]
    assert (trapeze["Hangers"], trapeze["Spans"]) == (ceiling.hangers.keys()[3], guid("duct"))
    angle = psets(elements["wall_angle/0/2"])["IfcGrid_Perimeter"]
    assert angle["Part"] == [0, 1]
    assert angle["IsAttached"] == [False, False]
    assert angle["FreeGap"] == pytest.approx([0.01905] * 2)  # the file is in metres
    mains = [e for t, e in elements.items() if t.startswith("main_runner")]
    length = ceiling.members.length[ceiling.members.keys().index(mains[0].Tag)]
    piece = psets(mains[0])["IfcGrid_Piece"]
    assert piece["Mark"] == ["M1", "M2"]
    assert piece["CutLength"] == pytest.approx([3.6, length / 1000 - 3.6])
    assert piece["FirstHole"] == pytest.approx([0.075, 0.075])
    assert piece["CutFromEnd"][1] == pytest.approx(7.2 - length / 1000)
    sets = [p for p in file.by_type("IfcPropertySet") if p.Name == "IfcGrid_Piece"]
    alike = {(m.mark[k], round(m.end[k] - m.start[k], 3)) for m in [ceiling.pieces] for k in range(len(m))}
    assert len(sets) < len(alike) + len(mains)
    assert len(sets) < len(ceiling.members) / 3


def test_what_was_written_is_read_back(written):
    ceiling, file, _, _ = written
    (back,) = read_written(file)
    near = {"abs": 0.01, "nan_ok": True}
    move = lambda p: ceiling.layout.frame.to_local(back.frame.to_world(p.reshape(-1, 2)))  # noqa: E731
    assert back.strays == ()
    assert back.hangers["kind"].tolist() == ceiling.hangers.kinds.tolist()
    assert move(back.hangers["top_point"]) == pytest.approx(ceiling.hangers.top_points, **near)
    assert back.hangers["top"] == pytest.approx(ceiling.hangers.top, **near)
    assert back.fixing == ceiling.hangers.fixing
    t, b, w = ceiling.trapezes, ceiling.braces, ceiling.wires
    assert move(back.trapezes.ends) == pytest.approx(t.ends.reshape(-1, 2), **near)
    assert back.trapezes.top == pytest.approx(t.top, **near)
    assert (back.trapezes.support, back.trapezes.spans, back.trapezes.carries) == (
        t.support,
        t.spans,
        t.carries,
    )
    assert back.braces.line.tolist() == b.line.tolist()
    assert back.braces.column.tolist() == b.column.tolist()
    assert move(back.braces.point) == pytest.approx(b.point, **near)
    assert back.braces.post_top == pytest.approx(b.post_top, **near)
    assert back.braces.wire_top[:, :, 2] == pytest.approx(b.wire_top[:, :, 2], **near)
    assert move(back.braces.wire_top[:, :, :2]) == pytest.approx(b.wire_top[:, :, :2].reshape(-1, 2), **near)
    assert back.braces.support == b.support
    order = sorted(range(3), key=lambda k: (w.device[k], w.number[k]))
    assert back.wires.device == tuple(w.device[k] for k in order)
    assert back.wires.top == pytest.approx(w.top[order], **near)
    assert back.wires.is_slack.tolist() == w.is_slack[order].tolist()
    assert back.wires.is_assumed.tolist() == w.is_assumed[order].tolist()
    assert back.stabilisers.keys() == ceiling.stabilisers.keys()
    assert move(back.stabilisers.end) == pytest.approx(ceiling.stabilisers.end, **near)
    (joint,) = back.joints
    assert (joint.key, joint.gap) == (ceiling.joints[0].key, pytest.approx(19.05))
    assert move(np.array(joint.end)) == pytest.approx(np.array([ceiling.joints[0].end]), **near)
    assert [(p.part, p.ring, p.edge, p.is_attached) for p in back.perimeter] == [
        (p.part, p.ring, p.edge, p.is_attached) for p in ceiling.perimeter
    ]


def test_a_wire_that_somebody_moved_or_deleted_is_read_as_it_is_now():
    ceiling = held()
    file = a_model("IFC4", ceiling)
    write_ceilings(file, [ceiling])
    tags = {e.Tag: e for e in file.by_type("IfcElement") if e.Tag}
    moved, gone = tags["brace/2/3/wire/0"], tags["brace/2/3/wire/1"]
    place = moved.ObjectPlacement.RelativePlacement.Location
    place.Coordinates = (place.Coordinates[0] + 70.0, *place.Coordinates[1:])
    file.remove(gone)
    (back,) = read_written(file)
    was = ceiling.braces.wire_top[0]
    frame = ceiling.layout.frame
    top = frame.to_local(back.frame.to_world(back.braces.wire_top[0, :1, :2]))[0]
    assert top == pytest.approx(was[0, :2] + (70.0, 0.0), abs=0.01)
    assert np.isnan(back.braces.wire_top[0, 1, 2])
    assert np.isfinite(back.braces.wire_top[0, 2, 2])


def test_a_second_run_changes_nothing_and_removal_leaves_nothing(written):
    ceiling, file, before, report = written
    once = data(file)
    again = ifcopenshell.file.from_string(file.to_string())
    second = write_ceilings(again, [ceiling])
    assert data(again) == once
    assert second.removed == sum(n for k, n in report.counts.items() if k not in ("type", "filled"))
    remove_ceilings(again)
    assert data(again) == before


def test_global_ids_come_from_the_keys_and_survive_a_moved_neighbour():
    ceiling = held()
    file = a_model("IFC4", ceiling)
    write_ceilings(file, [ceiling])
    post = file.by_guid(global_id(ceiling.key, "brace/4/6/post"))
    assert post.Tag == "brace/4/6/post"
    before = {e.GlobalId: e.Tag for e in file.by_type("IfcElement")}
    shorter = replace(ceiling, wires=None)
    write_ceilings(file, [shorter])
    after = {e.GlobalId for e in file.by_type("IfcElement")}
    assert {t for g, t in before.items() if g not in after} == {
        t for t in before.values() if t and ("wire/" + LAMP in t or "wire/" + guid("spot") in t)
    }


def test_at_the_coarsest_detail_nothing_that_holds_is_written():
    ceiling = held()
    file = a_model("IFC4", ceiling)
    report = write_ceilings(file, [ceiling], detail="ceiling")
    assert set(report.counts) <= {"covering", "type", "filled"}
