"""Heights, ceilings, soffits and fixtures of real models, against facts read from the files by hand.

The models are published under open licences (CC BY 4.0, MIT); models/README.md beside them
names sources and licences. Every number here was read from the files with ifcopenshell and
shapely, apart from ifcgrid's readers.
"""

from collections import Counter

import numpy as np
import pytest
import shapely

from ifcgrid.domain.obstacle import Kind
from ifcgrid.domain.room import HeightSource
from ifcgrid.domain.soffit import find_soffits
from ifcgrid.ifc.geometry import Kernel
from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.reading.coverings import read_coverings, survey_coverings
from ifcgrid.ifc.reading.obstacles import read_obstacles
from ifcgrid.ifc.reading.rooms import read_rooms

pytestmark = pytest.mark.models

CACHE: dict = {}


class Reading:
    """All that is read of one model, once for all tests."""

    def __init__(self, path):
        self.model = open_model(path)
        kernel = Kernel(self.model.file)
        stairs = {s.GlobalId for s in self.model.file.by_type("IfcSpace")}
        self.rooms = read_rooms(self.model, kernel).rooms
        self.all_rooms = read_rooms(self.model, kernel, keep=stairs).rooms
        self.coverings = survey_coverings(self.model, kernel)
        self.obstacles = read_obstacles(self.model, kernel)

    def room(self, number):
        (room,) = [r for r in self.all_rooms if r.number == number]
        return room

    def of_kind(self, *kinds):
        return [o for o in self.obstacles if o.kind in kinds]

    @property
    def structure(self):
        return self.of_kind(Kind.SLAB, Kind.ROOF)


@pytest.fixture(scope="module")
def read(shared_models):
    def reading(name):
        if name not in CACHE:
            path = shared_models / name
            if not path.exists():
                pytest.skip(f"{path} is missing")
            CACHE[name] = Reading(path)
        return CACHE[name]

    yield reading
    CACHE.clear()


def spots(outline, count=7):
    """A grid of points inside an outline."""
    x0, y0, x1, y1 = outline.bounds
    points = np.stack(np.meshgrid(np.linspace(x0, x1, count + 2), np.linspace(y0, y1, count + 2)), -1)
    points = points.reshape(-1, 2)
    return points[shapely.contains_xy(outline.buffer(-50), *points.T)]


def soffits(reading, room, above, structure=None):
    z, _ = find_soffits(spots(room.section), above, structure or reading.structure)
    return z


def overlap(obstacle, room):
    return obstacle.outline.intersection(room.section).area / 1e6


class TestLargeBuilding:
    """bimwhale_LargeBuilding: the covering, not the room's top, gives the height."""

    @pytest.fixture
    def building(self, read):
        return read("bimwhale_LargeBuilding.ifc")

    def test_four_of_eight_rooms_have_a_ceiling_at_2600_under_a_body_of_4000(self, building):
        found = {r.number: (round(r.height.value, 3), r.height.source) for r in building.rooms}
        assert found == {
            **{n: (2600.0, HeightSource.COVERING) for n in "1234"},
            **{n: (4000.0, HeightSource.PROPERTY) for n in "5678"},
        }
        assert all((r.covering is not None) == (r.number in "1234") for r in building.rooms)
        assert {(round(r.floor, 3), round(r.top, 3)) for r in building.rooms} == {(0.0, 4000.0)}

    def test_every_other_source_says_4000_and_is_kept_as_a_conflict(self, building):
        for number in "1234":
            conflicts = building.room(number).height.conflicts
            assert [c.value for c in conflicts] == pytest.approx([4000.0] * 4)
            assert {c.where.split()[0].rpartition(".")[2] for c in conflicts} == {
                "Limit",
                "Unbounded",
                "Height",
                "top",
            }

    def test_each_ceiling_says_2600_of_itself(self, building):
        for number in "1234":
            values = [c.value for c in building.room(number).height.candidates if "ceiling" in c.where]
            assert values == pytest.approx([2600, 2600])

    def test_the_five_ceilings_are_read(self, building):
        found = read_coverings(building.model)
        assert sorted(round(c.underside, 3) for c in found) == [2600, 2600, 2600, 2600, 6600]
        assert [c.top - c.underside for c in found] == pytest.approx([57] * 5)
        lower = [c.outline.area for c in found if c.underside < 3000]
        assert sum(lower) / 1e6 == pytest.approx(149.74, abs=0.005)
        (upper,) = [c.outline.area for c in found if c.underside > 3000]
        assert upper / 1e6 == pytest.approx(154.4, abs=0.05)

    def test_each_lower_ceiling_covers_one_room_wholly(self, building):
        rooms = [building.room(n) for n in "1234"]
        assert len({r.covering.key for r in rooms}) == 4
        for room in rooms:
            assert room.covering.outline.intersection(room.section).area == pytest.approx(room.section.area)

    def test_soffits_are_the_slab_at_3850_and_the_roof_at_4000(self, building):
        for room in building.rooms:
            z = soffits(building, room, 2657.0)
            assert len(z) > 20
            assert z == pytest.approx(3850.0 if room.number in "1234" else 4000.0)


class TestNineteenRooms:
    """demo2_19rooms: nothing but bodies; beams inside rooms."""

    @pytest.fixture
    def building(self, read):
        return read("demo2_19rooms.ifc")

    def test_heights_come_from_the_bodies(self, building):
        found = Counter(round(r.height.value) for r in building.rooms)
        assert found == {2350: 3, 3850: 4, 4000: 12}
        assert {r.height.source for r in building.rooms} == {HeightSource.BODY}
        assert {r.number for r in building.rooms if round(r.height.value) == 2350} == {"5", "6", "7"}
        assert {r.number for r in building.rooms if round(r.height.value) == 3850} == {"1", "2", "3", "4"}
        assert building.coverings == ()

    def test_six_beams_hang_into_rooms_5_6_and_7(self, building):
        beams = building.of_kind(Kind.BEAM)
        assert len(beams) == 6
        assert {(round(b.bottom, 1), round(b.top, 1)) for b in beams} == {(9550.0, 10350.0)}
        for beam in beams:
            cut = sorted(round(a, 2) for n in "567" if (a := overlap(beam, building.room(n))) > 0.01)
            assert cut == [0.51, 1.24]

    def test_there_is_1550_clear_under_a_beam(self, building):
        room = building.room("5")
        under = [b for b in building.of_kind(Kind.BEAM) if overlap(b, room) > 0.1]
        spot = under[0].outline.intersection(room.section).representative_point()
        z, index = find_soffits([(spot.x, spot.y)], room.floor, under)
        assert z[0] - room.floor == pytest.approx(1550)
        assert index.tolist() == [0]

    @pytest.mark.parametrize(("numbers", "z"), [("567", 10350), ("234", 7850)])
    def test_the_soffit_is_the_top_of_the_room(self, building, numbers, z):
        for number in numbers:
            room = building.room(number)
            # The soffit lies at the level itself, so ask from a hand's breadth below.
            assert soffits(building, room, room.level - 100) == pytest.approx(z)

    def test_room_1_lies_under_the_slab_for_77_percent_and_rooms_8_to_19_under_none(self, building):
        room = building.room("1")
        slabs = [s.outline for s in building.structure if abs(s.bottom - 3850) < 1]
        share = shapely.union_all(slabs).intersection(room.section).area / room.section.area
        assert share == pytest.approx(0.77, abs=0.005)
        points = spots(room.section, 40)
        z, _ = find_soffits(points, 3750.0, building.structure)
        assert np.isclose(z, 3850).mean() == pytest.approx(0.77, abs=0.03)
        for number in range(8, 20):
            assert np.isnan(soffits(building, building.room(str(number)), 3900.0)).all()


class TestDuplex:
    """duplex_A: three sources that agree, ceilings over several rooms, a shallow plenum."""

    @pytest.fixture
    def building(self, read):
        return read("duplex_A_20110907.ifc")

    def test_the_thirteen_ceilings_are_read_and_the_doubled_one_once(self, building):
        found = building.coverings
        count = Counter()
        for covering in found:
            count[round(covering.covering.underside, 1)] += 1 + len(covering.also)
        assert count == {2600.0: 5, 5700.0: 8}
        assert [len(c.also) for c in found if c.also] == [1]
        assert [c.covering.top - c.covering.underside for c in found] == pytest.approx([57] * len(found))
        area = sum(c.covering.outline.area * (1 + len(c.also)) for c in found) / 1e6
        assert area == pytest.approx(243.46, abs=0.05)

    def test_twenty_of_21_rooms_lie_under_a_ceiling(self, building):
        under = {r.number: r for r in building.all_rooms if r.height.source == HeightSource.COVERING}
        assert len(building.all_rooms) == 21
        assert set(under) == {r.number for r in building.all_rooms} - {"R301"}

    def test_shares_are_84_percent_in_the_hallways_94_in_b104_and_over_99_elsewhere(self, building):
        shares = {}
        for room in building.all_rooms:
            if room.number != "R301":
                where = room.height.candidates[0].where
                shares[room.number] = int(where.partition(" over ")[2].partition("%")[0])
        assert (shares.pop("A201"), shares.pop("B201"), shares.pop("B104")) == (84, 84, 94)
        assert min(shares.values()) >= 99

    @pytest.mark.parametrize(
        "numbers",
        ["A101 A102 A103", "B101 B102 B103", "A204 A205", "B204 B205", "A201 A105", "B201 B105"],
    )
    def test_one_ceiling_spans_several_rooms(self, building, numbers):
        assert len({building.room(n).covering.key for n in numbers.split()}) == 1

    def test_the_two_large_ceilings_have_56_and_57_square_metres(self, building):
        a, b = (building.room(n).covering.outline.area / 1e6 for n in ("A102", "B102"))
        assert (a, b) == pytest.approx((56.5, 57.0), abs=0.05)

    def test_stairs_have_ceiling_pieces_at_two_levels(self, building):
        for number in ("A105", "B105"):
            room = building.room(number)
            assert (room.level, room.top) == pytest.approx((5700, 5700), abs=0.01)
            assert [round(s.underside, 1) for s in room.soffits] == [2600.0]
            assert room.soffits[0].outline.area < 0.5 * room.section.area

    def test_room_tops_equal_the_undersides_but_in_the_hallways(self, building):
        for room in building.all_rooms:
            if room.number in ("A201", "B201"):
                assert (room.level, room.top) == pytest.approx((5700, 6000), abs=0.01)
            elif room.number != "R301":
                assert room.level == pytest.approx(room.top, abs=0.01)

    def test_sources_agree_but_for_the_stepped_hallways(self, building):
        odd = {r.number for r in building.all_rooms if r.height.conflicts}
        assert odd == {"A201", "B201"}
        for room in building.rooms:
            named = {
                c.where.rpartition(".")[2].split(" of ")[0].split(" from ")[0] for c in room.height.candidates
            }
            assert {"Height Offset From Level", "Limit Offset", "Unbounded Height"} <= named

    def test_heights_are_above_the_rooms_own_floor(self, building):
        for room in building.rooms:
            assert 13 <= round(room.floor) % 3100 <= 19
            assert room.floor + room.height.value == pytest.approx(2600 if room.number[1] == "1" else 5700)

    def test_the_gap_from_room_top_to_the_slab_above(self, building):
        gaps = {}
        for room in building.all_rooms:
            z = soffits(building, room, room.top - 1)
            gaps[room.number] = None if np.isnan(z).all() else round(float(np.nanmin(z)) - room.top, 1)
        assert gaps.pop("R301") is None
        assert {n for n, g in gaps.items() if g == 195.0} == {f"{w}10{k}" for w in "AB" for k in range(1, 5)}
        assert {n for n, g in gaps.items() if g == 0.0} == {"A201", "B201"}
        assert Counter(gaps.values()) == {195.0: 8, 300.0: 10, 0.0: 2}

    def test_two_beams_cross_rooms_level_with_the_soffit(self, building):
        beams = building.of_kind(Kind.BEAM)
        assert len(beams) == 8
        crossed = {b.key: {r.number for r in building.rooms if overlap(b, r) > 0.001} for b in beams}
        inside = [b for b in beams if crossed[b.key]]
        assert [crossed[b.key] for b in inside] in (
            [{"A102", "A103"}, {"B102", "B103"}],
            [{"B102", "B103"}, {"A102", "A103"}],
        )
        assert [b.bottom for b in inside] == pytest.approx([2797, 2797], abs=0.5)
        assert [b.bottom - building.room("A102").covering.top for b in inside] == pytest.approx(
            [140, 140], abs=0.5
        )


class TestDuplexElectrical:
    """duplex_Electrical in feet: what hangs in the rooms of duplex_A in metres."""

    @pytest.fixture
    def services(self, read):
        return read("duplex_Electrical_20121207.ifc")

    def test_fourteen_of_28_lights_are_wall_switches(self, services):
        lights = services.of_kind(Kind.LIGHT)
        kinds = Counter(o.name.partition(":")[0] for o in lights)
        assert sorted(kinds.values()) == [6, 8]
        switches = [o for o in services.obstacles if o.type_name == "Single Pole"]
        assert len(switches) == 14
        assert {o.kind for o in switches} == {Kind.OTHER}
        low = [o for o in switches if o.bottom < 3000]
        assert (min(o.bottom for o in low), max(o.top for o in low)) == pytest.approx((1160, 1280), abs=5)

    def test_pendants_hang_from_the_ceilings_of_the_other_model(self, services, read):
        architecture = read("duplex_A_20110907.ifc")
        pendants = [o for o in services.of_kind(Kind.LIGHT) if "Pendant" in o.name]
        assert Counter(round(o.top, 1) for o in pendants) == {2600.0: 2, 5700.0: 6}
        for pendant in pendants:
            x0, y0, x1, y1 = pendant.outline.bounds
            assert (x1 - x0, y1 - y0) == pytest.approx((510, 510), abs=10)
            assert pendant.top - pendant.bottom == pytest.approx(675, abs=10)
            rooms = [
                r
                for r in architecture.all_rooms
                if r.floor < pendant.bottom < r.top and r.section.contains(pendant.outline.centroid)
            ]
            assert [r.level for r in rooms] == pytest.approx([pendant.top], abs=0.5)

    def test_sconces_and_switches_touch_no_ceiling(self, services, read):
        levels = {round(c.underside) for c in read_coverings(read("duplex_A_20110907.ifc").model)}
        wall = [o for o in services.obstacles if o.type_name == "Single Pole" or "Sconce" in o.name]
        assert len(wall) == 20
        sconces = [o for o in wall if "Sconce" in o.name]
        assert {(round(o.bottom), round(o.top)) for o in sconces} == {(1700, 2100), (4800, 5200)}
        assert not [o for o in wall for z in levels if o.bottom <= z + 100 and o.top >= z - 100]

    def test_smoke_detectors_exported_as_controllers_are_detectors(self, services):
        detectors = services.of_kind(Kind.DETECTOR)
        assert len(detectors) == 6
        assert Counter(round(o.top) for o in detectors) == {2600: 2, 5700: 4}

    def test_outlets_and_appliances_are_no_ceiling_devices(self, services):
        outlets = [o for o in services.obstacles if o.type_name == "Duplex Receptacle"]
        assert len(outlets) == 47
        assert {o.kind for o in outlets} == {Kind.OTHER}


class TestGymnasium:
    """gymzaal: a hall whose ceiling hangs far above its space body."""

    @pytest.fixture
    def building(self, read):
        return read("gymzaal_grf005.ifc")

    def test_the_sixteen_ceilings_are_read(self, building):
        assert Counter(round(c.covering.underside) for c in building.coverings) == {3250: 15, 6000: 1}
        assert [c.covering.top - c.covering.underside for c in building.coverings] == pytest.approx([10] * 16)
        assert sum(c.covering.outline.area for c in building.coverings) / 1e6 == pytest.approx(
            448.1, abs=0.05
        )

    def test_the_hall_has_its_ceiling_at_6000_and_the_others_at_3250(self, building):
        assert len(building.rooms) == 16
        for room in building.rooms:
            expected = 6000 if room.name == "gymzaal" else 3250
            assert (room.level, room.height.source) == (pytest.approx(expected), HeightSource.COVERING)
            assert room.top == pytest.approx(3400)

    def test_the_halls_ceiling_has_252_square_metres_and_hangs_2600_above_the_body(self, building):
        (hall,) = [r for r in building.rooms if r.name == "gymzaal"]
        assert hall.covering.outline.area / 1e6 == pytest.approx(252.0, abs=0.05)
        assert hall.level - hall.top == pytest.approx(2600)
        assert hall.section.area / 1e6 == pytest.approx(252.0, abs=0.05)

    def test_two_beams_end_at_the_halls_ceiling_and_the_roof_lies_above(self, building):
        (hall,) = [r for r in building.rooms if r.name == "gymzaal"]
        beams = [b for b in building.of_kind(Kind.BEAM) if overlap(b, hall) > 1]
        assert [(round(b.bottom), round(b.top)) for b in beams] == [(5867, 6000)] * 2
        z, index = find_soffits(spots(hall.section), 6010.0, building.structure)
        assert z == pytest.approx(6190, abs=0.5)
        roof = building.structure[index[0]]
        assert (roof.bottom, roof.top) == pytest.approx((6190, 6390), abs=0.5)

    def test_curtain_walls_are_their_mullions(self, building):
        walls = building.of_kind(Kind.WALL)
        assert len(walls) == 78 + 186
        assert len(building.of_kind(Kind.COLUMN)) == 30


@pytest.mark.parametrize("schema", ["ifc4", "ifc4x3"])
class TestSmallHouse:
    """pcert: three disciplines of one house in two schemas; no covering, a pitched roof."""

    def test_both_rooms_are_as_high_as_their_bodies(self, read, schema):
        rooms = read(f"pcert_{schema}_Building-Architecture.ifc").rooms
        assert [(r.height.value, r.height.source) for r in rooms] == [
            (pytest.approx(2200), HeightSource.BODY)
        ] * 2

    def test_the_lowest_beam_is_74_above_the_room_top(self, read, schema):
        rooms = read(f"pcert_{schema}_Building-Architecture.ifc").rooms
        beams = read(f"pcert_{schema}_Building-Structural.ifc").of_kind(Kind.BEAM)
        assert len(beams) == 6
        assert min(b.bottom for b in beams) == pytest.approx(2274, abs=0.5)
        assert min(b.bottom for b in beams) - rooms[0].top == pytest.approx(74, abs=0.5)

    def test_the_duct_stands_in_no_room(self, read, schema):
        rooms = read(f"pcert_{schema}_Building-Architecture.ifc").rooms
        (duct,) = read(f"pcert_{schema}_Building-Hvac.ifc").of_kind(Kind.DUCT)
        assert (duct.bottom, duct.top) == pytest.approx((900, 4700), abs=0.5)
        x0, y0, x1, y1 = duct.outline.bounds
        assert (x1 - x0, y1 - y0) == pytest.approx((200, 200), abs=0.5)
        assert not any(r.section.intersects(duct.outline) for r in rooms)

    def test_survey_markers_are_no_obstacles(self, read, schema):
        for part in ("Architecture", "Hvac", "Structural"):
            for obstacle in read(f"pcert_{schema}_Building-{part}.ifc").obstacles:
                assert obstacle.name not in ("origin", "geo-reference")
                assert obstacle.outline.bounds[0] > -20_000

    def test_the_pitched_roof_is_met_where_it_slopes(self, read, schema):
        """Over the rooms, from 2200 up, the soffit rises to the ridge and never lies below the ask."""
        building = read(f"pcert_{schema}_Building-Architecture.ifc")
        roofs = building.of_kind(Kind.ROOF)
        assert len(roofs) == 2
        assert min(r.bottom for r in roofs) == pytest.approx(1480, abs=10)
        living = next(r for r in building.rooms if r.name == "living room")
        z = soffits(building, living, 2200.0, roofs)
        assert not np.isnan(z).any()
        assert z.min() > 2200
        assert z.max() - z.min() > 500
