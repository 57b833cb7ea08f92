"""GlobalIds live on where a thing does, and what did not change is not touched."""

from __future__ import annotations

import uuid
from collections import Counter

import ifcopenshell
import ifcopenshell.guid
import ifcopenshell.util.element
import pytest
from handmade_models import HandmadeModel
from root_differences import find_differences
from written import SCHEMAS

import ifcgrid
from ifcgrid.domain.plan import parse_plan
from ifcgrid.ifc.edits import survey_edits
from ifcgrid.ifc.identity import MARKER_SET
from ifcgrid.ifc.lineage import find_owners, parse_facts, read_facts
from ifcgrid.ifc.project import model_from_file
from ifcgrid.systems import list_systems

ROOMS = {"101": (0, 0, 5000, 4200), "102": (6000, 0, 11300, 4200), "103": (12000, 0, 18000, 7100)}
SHARED = ("IfcRelDefinesByType", "IfcRelAssociatesMaterial", "IfcRelAggregates")
"""Relations of the whole model, whose lists name what is new in one room."""


def a_building(
    schema: str = "IFC4", rooms: dict[str, tuple[int, int, int, int]] | None = None, named: bool = True
) -> HandmadeModel:
    model = HandmadeModel(schema)
    storey = model.storey("Level 1", 0.0)
    for name, (x0, y0, x1, y1) in (rooms or ROOMS).items():
        outline = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        model.space(storey, outline, 0.0, 2700.0, name if named else "Room")
    slab = model.body([(-1000, -1000), (20000, -1000), (20000, 9000), (-1000, 9000)], 3300.0, 3500.0)
    model.element("IfcSlab", storey, slab, Name="slab")
    return model


def build(file: ifcopenshell.file, plan: str = "", **how) -> ifcopenshell.file:
    done = ifcgrid.build(file, parse_plan(plan, list_systems()))
    ifcgrid.write_ceilings(file, done.ceilings, done.findings, provenance={"InputSha256": "1"}, **how)
    return file


def copy(file: ifcopenshell.file) -> ifcopenshell.file:
    return ifcopenshell.file.from_string(file.to_string())


def move_wall(file: ifcopenshell.file, room: str, by: float) -> None:
    """Moves the wall at the end of a room's X."""
    (space,) = [s for s in file.by_type("IfcSpace") if s.Name == room]
    profile = space.Representation.Representations[0].Items[0].SweptArea
    points = profile.OuterCurve.Points[:-1]
    far = max(p.Coordinates[0] for p in points)
    for point in points:
        x, y = point.Coordinates
        if x == far:
            point.Coordinates = (x + by, y)


def new_space_ids(file: ifcopenshell.file, salt: str = "new") -> None:
    for space in file.by_type("IfcSpace"):
        key = uuid.uuid5(uuid.NAMESPACE_OID, f"{salt}{space.GlobalId}")
        space.GlobalId = ifcopenshell.guid.compress(key.hex)


def ours(file: ifcopenshell.file) -> dict[str, str]:
    """GlobalId to tag or class of our elements."""
    return {
        e.GlobalId: getattr(e, "Tag", None) or e.is_a()
        for e in file.by_type("IfcProduct")
        if not e.is_a("IfcSpatialStructureElement") and not e.is_a("IfcSlab")
    }


def elements_of(file: ifcopenshell.file, room: str) -> set[str]:
    """GlobalIds of all elements of the ceiling in a room."""
    (space,) = [s for s in file.by_type("IfcSpace") if s.Name == room]
    found = set()
    for relation in space.ContainsElements:
        for element in relation.RelatedElements:
            found |= {
                element.GlobalId,
                *(e.GlobalId for e in ifcopenshell.util.element.get_decomposition(element)),
            }
    return found


class TestSecondRun:
    @pytest.mark.parametrize("schema", SCHEMAS)
    def test_it_differs_in_nothing(self, schema: str):
        once = build(a_building(schema).file, detail="panels")
        again = build(copy(once), detail="panels")
        assert find_differences(once, again).all == frozenset()

    @pytest.mark.parametrize("by", [100.0, -250.0])
    def test_after_a_wall_was_moved_only_that_rooms_elements_differ(self, by: float):
        once = build(a_building().file)
        again = copy(once)
        move_wall(again, "102", by)
        before = copy(again)
        build(again)
        found = find_differences(before, again)
        names = {e.GlobalId: e for f in (before, again) for e in f.by_type("IfcRoot")}
        room = elements_of(before, "102") | elements_of(again, "102")
        touched = {k for k in found.all if names[k].is_a("IfcProduct")}
        assert touched
        assert touched <= room
        # Sets and relations that differ are those of that room, or lists of the whole model.
        for key in found.all - touched:
            root = names[key]
            if root.is_a("IfcRelationship"):
                members = {o.GlobalId for value in root if isinstance(value, tuple) for o in value}
                assert members & room or root.is_a() in SHARED
            else:
                assert root.is_a("IfcPropertySetDefinition")

    def test_where_the_piece_survives_its_id_does(self):
        once = build(a_building().file)
        again = copy(once)
        move_wall(again, "102", 100.0)
        build(again)
        before, after = elements_of(once, "102"), elements_of(again, "102")
        kept = len(before & after) / len(before)
        print(f"{kept:.0%} of {len(before)} elements of the room kept their GlobalId")
        assert kept > 0.95

    def test_with_another_module_what_has_the_same_role_keeps_its_id(self):
        once = build(a_building().file)
        again = build(copy(once), 'system = "lay-in-2x2-ft"')
        before, after = set(ours(once)), set(ours(again))
        kept = len(before & after) / len(before)
        print(f"{kept:.0%} of {len(before)} elements kept their GlobalId")
        assert kept > 0.85

    def test_a_room_that_lost_its_ceiling_leaves_nothing(self):
        once = build(a_building().file)
        again = build(copy(once), '[[rooms]]\nnumber = "102"\nskip = "open to the roof"')
        alone = a_building()
        other = build(alone.file, '[[rooms]]\nnumber = "102"\nskip = "open to the roof"')
        assert Counter(e.is_a() for e in again) == Counter(e.is_a() for e in other)
        assert find_differences(other, again).all == frozenset()


class TestNewGlobalIdsOfRooms:
    def test_ceilings_in_the_model_keep_theirs_by_storey_number_and_name(self):
        once = build(a_building().file)
        again = copy(once)
        new_space_ids(again)
        spaces = {s.GlobalId for s in again.by_type("IfcSpace")}
        build(again)
        assert ours(again) == ours(once)
        assert survey_edits(again).edits == {}
        told = {
            ifcopenshell.util.element.get_pset(c, MARKER_SET, "Rooms") for c in again.by_type("IfcCovering")
        }
        assert told == spaces
        # And once more, and after a third export.
        twice = build(copy(again))
        assert find_differences(again, twice).all == frozenset()
        new_space_ids(twice, "third")
        assert ours(build(twice)) == ours(once)

    def test_they_keep_theirs_by_footprint_where_all_rooms_have_one_name(self):
        once = build(a_building(named=False).file)
        again = copy(once)
        new_space_ids(again)
        move_wall_of_any(again, 11300.0, 100.0)
        build(again)
        before, after = ours(once), ours(again)
        assert len(before.keys() & after.keys()) / len(before) > 0.95

    def test_a_fresh_export_takes_them_from_an_earlier_output(self):
        once = build(a_building().file)
        fresh = a_building().file
        new_space_ids(fresh)
        without = ours(build(copy(fresh)))
        assert not without.keys() & ours(once).keys()
        assert ours(build(fresh, earlier=once)) == ours(once)

    def test_ceilings_are_read_back_though_their_rooms_got_new_ids(self):
        once = build(a_building().file)
        again = copy(once)
        new_space_ids(again)
        before, after = (ifcgrid.read_back(model_from_file(f)) for f in (once, again))
        assert [len(c.members) for c in after.ceilings] == [len(c.members) for c in before.ceilings]
        assert {r.key for c in after.ceilings for r in c.zone.rooms} == {
            s.GlobalId for s in again.by_type("IfcSpace")
        }

    def test_two_rooms_that_changed_their_names_do_not_change_places(self):
        once = build(a_building().file)
        again = copy(once)
        spaces = {s.Name: s for s in again.by_type("IfcSpace")}
        spaces["101"].Name, spaces["102"].Name = "102", "101"
        build(again)
        assert ours(again) == ours(once)

    def test_a_room_that_is_still_there_lends_its_ids_to_nobody(self):
        once = build(a_building().file, '[[rooms]]\nnumber = "103"\nskip = "later"')
        again = copy(once)
        # 101 loses its ceiling, and 103 gets its name.
        spaces = {s.Name: s for s in again.by_type("IfcSpace")}
        spaces["101"].Name, spaces["103"].Name = "gone", "101"
        build(again, '[[rooms]]\nnumber = "gone"\nskip = "later"')
        assert not elements_of(once, "101") & elements_of(again, "101")

    def test_no_two_rooms_share_what_ids_are_made_from(self):
        once = build(a_building().file)
        facts = read_facts(once)
        again = copy(once)
        new_space_ids(again)
        rooms = list(ifcgrid.build(again).intake.rooms)
        spaces = [s.GlobalId for s in again.by_type("IfcSpace")]
        owners = find_owners(rooms, facts, spaces)
        assert sorted(owners.values()) == sorted(f.key for f in facts)
        # The old GlobalId of 101 comes back as that of a new room.
        stranger = ifcgrid.build(a_building(rooms={"101": (0, 9000, 3000, 12000)}).file).intake.rooms[0]
        assert stranger.key == facts[0].key or stranger.key in {f.key for f in facts}
        owners = find_owners([*rooms, stranger], facts, [*spaces, stranger.key])
        used = [owners.get(r.key, r.key) for r in (*rooms, stranger)]
        assert len(set(used)) == len(used)

    @pytest.mark.parametrize("text", ["", "{", "[1]", '[["a"]]', "null"])
    def test_damaged_memory_counts_as_none(self, text: str):
        assert list(parse_facts(text)) == []


def move_wall_of_any(file: ifcopenshell.file, far: float, by: float) -> None:
    for space in file.by_type("IfcSpace"):
        for point in space.Representation.Representations[0].Items[0].SweptArea.OuterCurve.Points[:-1]:
            if point.Coordinates[0] == far:
                point.Coordinates = (far + by, point.Coordinates[1])
