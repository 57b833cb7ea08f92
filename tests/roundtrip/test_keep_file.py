"""From file to file: hand edits are named in summary and record, kept on request, and judged as they are."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.guid
import ifcopenshell.util.placement
import numpy as np
import pytest
from hand_edits import delete, move
from root_differences import find_differences

import ifcgrid
from ifcgrid.outputs.summary import format_summary
from ifcgrid.pipeline import build_file

MODELS = Path(__file__).parents[2] / "models"
OTHERS = [MODELS / "gatehouse-services.ifc"]


def hangers(file: ifcopenshell.file) -> list[Any]:
    found = [e for e in file.by_type("IfcDiscreteAccessory") if (e.Tag or "").startswith("hanger/")]
    return sorted(found, key=lambda e: e.id())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The gate house with ceilings (`first.ifc`), and as somebody edited it (`edited.ifc`)."""
    folder = tmp_path_factory.mktemp("keep")
    build_file(MODELS / "gatehouse.ifc", folder / "first.ifc", others=OTHERS)
    file = ifcopenshell.open(folder / "first.ifc")
    delete(file, hangers(file)[1])
    hangers(file)[1].Name = "Hanger\x1b[31m moved to the beam"
    main = next(e for e in file.by_type("IfcMember") if (e.Tag or "").startswith("main_runner/"))
    move(main, 0.0, 0.1)  # of a foot
    file.write(str(folder / "edited.ifc"))
    return folder


def test_what_is_replaced_is_counted_and_named_and_the_output_is_as_it_was(folder: Path):
    record = build_file(folder / "edited.ifc", folder / "replaced.ifc", others=OTHERS)
    told = record["written"]["edits"]
    assert told["changes"] == {"moved": 1, "renamed": 1, "deleted": 1}
    assert (told["count"], told["kept"]) == (3, 0)
    assert {e["part"].split("/")[0] for e in told["elements"]} == {"hanger", "main_runner"}
    assert all(e["room"] for e in told["elements"])
    text = format_summary(record)
    assert "Changed by hand since the last run: 3 (1 moved, 1 renamed, 1 deleted); all replaced" in text
    assert "\x1b" not in text
    first, replaced = (ifcopenshell.open(folder / f"{n}.ifc") for n in ("first", "replaced"))
    assert find_differences(first, replaced).all == frozenset()


def test_what_is_kept_stays_and_its_room_is_judged_as_it_is(folder: Path):
    record = build_file(folder / "edited.ifc", folder / "kept.ifc", others=OTHERS, keep_edits=True)
    told = record["written"]["edits"]
    assert (told["count"], told["kept"]) == (3, 3)
    assert "all kept" in format_summary(record)
    edited, kept = (ifcopenshell.open(folder / f"{n}.ifc") for n in ("edited", "kept"))
    assert len(hangers(kept)) == len(hangers(edited)) == record["totals"]["hangers"]
    assert "Hanger\x1b[31m moved to the beam" in {h.Name for h in hangers(kept)}
    # The main hangs free where its hanger was deleted, and nowhere else is anything new.
    before = build_file(folder / "first.ifc", folder / "again.ifc", others=OTHERS)
    rules = [{(f["rule"], f["room"]) for f in r["findings"]} for r in (before, record)]
    assert {rule for rule, _ in rules[1] - rules[0]} == {"main-without-hanger"}
    # Only what was kept differs from the edited model.
    assert {e["key"] for e in told["elements"]} <= {*_guids(kept), *_gone(told)}


def test_the_file_itself_can_be_overwritten_again_and_again(folder: Path):
    target = folder / "over.ifc"
    target.write_bytes((folder / "edited.ifc").read_bytes())
    sizes = []
    for _ in range(3):
        record = build_file(target, target, others=OTHERS, keep_edits=True, overwrite=True)
        assert record["written"]["edits"]["kept"] == 3
        sizes.append(sum(1 for _ in ifcopenshell.open(target)))
    assert sizes[1] == sizes[2]


def test_ids_of_an_earlier_output_live_on_where_the_rooms_got_new_ones(folder: Path):
    fresh = ifcopenshell.open(MODELS / "gatehouse.ifc")
    for number, space in enumerate(fresh.by_type("IfcSpace")):
        space.GlobalId = ifcopenshell.guid.compress(f"{number + 1:032x}")
    fresh.write(str(folder / "fresh.ifc"))
    for name, earlier in (("new", None), ("same", folder / "first.ifc")):
        issues = folder / f"{name}.bcf"
        build_file(folder / "fresh.ifc", folder / f"{name}.ifc", others=OTHERS, earlier=earlier, bcf=issues)
    first, new, same = (_ours(ifcopenshell.open(folder / f"{n}.ifc")) for n in ("first", "new", "same"))
    assert same == first
    assert not new & first
    # Topics of issues name the elements by the ids that they have in the file.
    topics = b"".join(_entries(folder / "same.bcf"))
    named = {g for g in first if g.encode() in topics}
    assert named


def test_a_program_can_ask_for_the_edits_before_anything_is_replaced(folder: Path):
    file = ifcopenshell.open(folder / "edited.ifc")
    before = file.to_string()
    edits = ifcgrid.find_edits(file)
    assert sorted(str(c) for e in edits for c in e.changes) == ["deleted", "moved", "renamed"]
    assert file.to_string() == before


def test_control_lines_stand_where_the_sheet_has_them(folder: Path):
    file = ifcopenshell.open(folder / "first.ifc")
    lines = [a for a in file.by_type("IfcAnnotation") if a.ObjectType == "CONTROLLINE"]
    done = ifcgrid.build(ifcopenshell.open(MODELS / "gatehouse.ifc"), others=map(ifcopenshell.open, OTHERS))
    wanted = [
        c.layout.frame.to_world([line.start, line.end]) for c in done.ceilings for line in c.control_lines
    ]
    found = []
    for line in lines:
        (curve,) = line.Representation.Representations[0].Items[0].Elements
        matrix = ifcopenshell.util.placement.get_local_placement(line.ObjectPlacement)
        points = np.array([(*p.Coordinates, 0.0, 1.0) for p in curve.Points])
        found.append((points @ matrix.T)[:, :2] * 304.8)
    assert len(found) == len(wanted) > 5
    for ends in wanted:
        assert min(np.abs(ends - other).max() for other in found) < 1e-3


def _ours(file: ifcopenshell.file) -> set[str]:
    return {e.GlobalId for e in file.by_type("IfcElement") if e.Tag and "/" in e.Tag}


def _entries(path: Path) -> list[bytes]:
    with zipfile.ZipFile(path) as archive:
        return [archive.read(name) for name in archive.namelist()]


def _guids(file: ifcopenshell.file) -> set[str]:
    return {e.GlobalId for e in file.by_type("IfcElement")}


def _gone(told: dict[str, Any]) -> set[str]:
    return {e["key"] for e in told["elements"] if e["changes"] == ["deleted"]}
