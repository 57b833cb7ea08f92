"""A model that somebody changed after the ceilings were written fails on exactly what was changed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.api.root
import pytest

import ifcgrid
from ifcgrid.domain.finding import Verdict
from ifcgrid.domain.judging import Judging
from ifcgrid.ifc.project import model_from_file
from ifcgrid.pipeline.flow import judge_by_rules

MODEL = Path(__file__).parents[2] / "models" / "gatehouse.ifc"
FOOT = 304.8


@pytest.fixture(scope="module")
def written() -> str:
    """The gate house with its ceilings, as text."""
    file = ifcopenshell.open(str(MODEL))
    done = ifcgrid.build(file)
    ifcgrid.write_ceilings(file, done.ceilings, done.findings)
    return file.to_string()


def _parts(file: ifcopenshell.file, room: str, role: str) -> dict[str, Any]:
    """Parts of one role in a room, by tag."""
    found = {}
    for assembly in file.by_type("IfcElementAssembly"):
        for rel in assembly.IsDecomposedBy:
            for part in rel.RelatedObjects:
                if (getattr(part, "Tag", None) or "").startswith(f"{role}/") and _key(part, file) == room:
                    found[part.Tag] = part
    return found


def _key(part: Any, file: ifcopenshell.file) -> str:
    sets = ifcopenshell.util.element.get_psets(part.Decomposes[0].RelatingObject)
    (key,) = {values["Key"] for values in sets.values() if "Key" in values}
    assert file.by_guid(key).is_a("IfcSpace")
    return str(key)


def _room(file: ifcopenshell.file) -> str:
    """The room with the most hangers."""
    spaces = [space.GlobalId for space in file.by_type("IfcSpace")]
    return max(spaces, key=lambda key: (len(_parts(file, key, "hanger")), key))


def _fails(file: ifcopenshell.file) -> dict[str, set[str]]:
    """What fails against the layout, by rule; the rule set that every check applies."""
    done = ifcgrid.read_back(model_from_file(file, "damaged.ifc"))
    findings, _ = judge_by_rules(done.ceilings, done.intake.obstacles, Judging())
    return {
        f.rule: {subject.partition("/")[2] for subject in f.subjects}
        for f in findings
        if f.verdict is Verdict.FAIL
    }


def _delete(file: ifcopenshell.file, part: Any) -> None:
    ifcopenshell.api.root.remove_product(file, product=part)


def _move(file: ifcopenshell.file, part: Any, across: float) -> None:
    """Moves a part within its grid, in mm; the model is in feet."""
    x, y, z = part.ObjectPlacement.RelativePlacement.Location.Coordinates
    point = file.createIfcCartesianPoint((x, y + across / FOOT, z))
    old = part.ObjectPlacement.RelativePlacement
    part.ObjectPlacement.RelativePlacement = file.createIfcAxis2Placement3D(point, old.Axis, old.RefDirection)


def _shorten(file: ifcopenshell.file, part: Any, by: float) -> None:
    """Gives a part a body of its own that is shorter at its end, in mm."""
    (body,) = part.Representation.Representations
    solid = body.Items[0].MappingSource.MappedRepresentation.Items[0]
    shorter = file.createIfcExtrudedAreaSolid(
        solid.SweptArea, solid.Position, solid.ExtrudedDirection, solid.Depth - by / FOOT
    )
    own = file.createIfcShapeRepresentation(body.ContextOfItems, "Body", "SweptSolid", [shorter])
    part.Representation = file.createIfcProductDefinitionShape(None, None, [own])


def _damaged(written: str, change: Callable[[ifcopenshell.file, str], None]) -> dict[str, set[str]]:
    file = ifcopenshell.file.from_string(written)
    change(file, _room(file))
    return _fails(file)


def _inner_hanger(file: ifcopenshell.file, room: str) -> Any:
    """One in the middle of the first main."""
    hangers = _parts(file, room, "hanger")
    line = min(int(tag.split("/")[1]) for tag in hangers)
    numbers = sorted(int(tag.split("/")[2]) for tag in hangers if tag.startswith(f"hanger/{line}/"))
    return hangers[f"hanger/{line}/{numbers[len(numbers) // 2]}"]


def test_as_written_nothing_fails(written: str) -> None:
    assert _fails(ifcopenshell.file.from_string(written)) == {}


def test_a_deleted_hanger_fails_the_main_that_it_held(written: str) -> None:
    gone = {}

    def change(file: ifcopenshell.file, room: str) -> None:
        hanger = _inner_hanger(file, room)
        gone["main"] = f"main_runner/{hanger.Tag.split('/')[1]}/0"
        _delete(file, hanger)

    assert _damaged(written, change) == {"hanger-spacing": {gone["main"]}}


def test_a_main_that_was_shifted_fails_and_what_it_carries_does_not(written: str) -> None:
    moved = {}

    def change(file: ifcopenshell.file, room: str) -> None:
        tag, main = sorted(_parts(file, room, "main_runner").items())[0]
        moved["tag"] = tag
        _move(file, main, 30.0)

    assert _damaged(written, change) == {"member-off-line": {moved["tag"]}}


def test_a_main_shifted_by_less_than_the_limit_does_not_fail(written: str) -> None:
    def change(file: ifcopenshell.file, room: str) -> None:
        _move(file, sorted(_parts(file, room, "main_runner").items())[0][1], 2.9)

    assert _damaged(written, change) == {}


def test_a_tee_that_was_cut_short_fails_alone(written: str) -> None:
    cut = {}

    def change(file: ifcopenshell.file, room: str) -> None:
        tees = _parts(file, room, "cross_tee")
        longest = max(tees, key=lambda tag: (_depth(tees[tag]), tag))
        cut["tag"] = longest
        _shorten(file, tees[longest], 120.0)

    assert _damaged(written, change) == {"member-end-unsupported": {cut["tag"]}}


def _depth(part: Any) -> float:
    (body,) = part.Representation.Representations
    return float(body.Items[0].MappingSource.MappedRepresentation.Items[0].Depth)


def test_a_deleted_tee_bares_the_panels_beside_it(written: str) -> None:
    def change(file: ifcopenshell.file, room: str) -> None:
        tees = _parts(file, room, "second_tee")
        # One in the middle of its line: a panel on each side, no other tee ends on it.
        _delete(file, tees[sorted(tees)[len(tees) // 2]])

    (rule, panels), *others = _damaged(written, change).items()
    assert rule == "panel-edge-without-member"
    assert others == []
    assert len(panels) == 2
    assert all(key.startswith("panel/") for key in panels)


def test_all_three_at_once_fail_each_on_its_own(written: str) -> None:
    def change(file: ifcopenshell.file, room: str) -> None:
        _delete(file, _inner_hanger(file, room))
        _move(file, sorted(_parts(file, room, "main_runner").items())[0][1], -30.0)
        tees = _parts(file, room, "cross_tee")
        _shorten(file, tees[max(tees, key=lambda tag: (_depth(tees[tag]), tag))], 120.0)

    found = _damaged(written, change)
    assert set(found) == {"hanger-spacing", "member-off-line", "member-end-unsupported"}
    assert all(len(subjects) == 1 for subjects in found.values())
