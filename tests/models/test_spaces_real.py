"""Rooms of real models. The facts were read from the files once and hold for their unchanged bytes.

The models: Duplex Apartment and PCERT sample scene, (C) buildingSMART International, CC BY 4.0;
gymzaal_grf005 from buildingSMART/ifc-gherkin-rules, MIT; LargeBuilding from
andrewisen/bim-whale-ifc-samples, MIT; demo2 from IfcOpenShell/voxelization_toolkit, MIT.
"""

from __future__ import annotations

import math
from collections import Counter

import numpy as np
import pytest
import shapely

from ifcgrid.ifc.geometry import Kernel, section, silhouette
from ifcgrid.ifc.project import length_scale, open_model
from ifcgrid.ifc.reading.spaces import outline_at, read_spaces

pytestmark = pytest.mark.models

FILES = {
    "bimwhale_LargeBuilding": ("IFC2X3", "millimetre", 8),
    "demo2_19rooms": ("IFC2X3", "millimetre", 19),
    "duplex_A_20110907": ("IFC2X3", "metre", 21),
    "duplex_Electrical_20121207": ("IFC2X3", "foot", 1),
    "gymzaal_grf005": ("IFC4", "millimetre", 48),
    "pcert_ifc4_Building-Architecture": ("IFC4", "millimetre", 2),
    "pcert_ifc4_Building-Hvac": ("IFC4", "millimetre", 0),
    "pcert_ifc4_Building-Structural": ("IFC4", "millimetre", 0),
    "pcert_ifc4x3_Building-Architecture": ("IFC4X3", "millimetre", 2),
    "pcert_ifc4x3_Building-Hvac": ("IFC4X3", "millimetre", 0),
    "pcert_ifc4x3_Building-Structural": ("IFC4X3", "millimetre", 0),
}


@pytest.fixture(scope="module")
def read(shared_models):
    """Reads a model once a test run: its file, its rooms and its skipped rooms by number."""
    known = {}

    def read_once(name):
        if name not in known:
            path = shared_models / f"{name}.ifc"
            if not path.exists():
                pytest.skip(f"no model {path.name}")
            model = open_model(path)
            spaces, skipped = read_spaces(model, Kernel(model.file))
            known[name] = (model, {s.number: s for s in spaces}, {s.number: s for s in skipped})
        return known[name]

    return read_once


def outline(space):
    return outline_at(space, space.body.level_top)


def sides(polygon):
    """The sides of the smallest turned rectangle around a polygon, in mm, the shorter first."""
    ring = np.array(polygon.minimum_rotated_rectangle.exterior.coords)
    lengths = np.hypot(*np.diff(ring, axis=0).T)
    return sorted(lengths[:2].tolist())


@pytest.mark.parametrize("name", FILES)
def test_every_space_is_read_or_has_one_reason(read, name):
    schema, unit, count = FILES[name]
    model, rooms, skipped = read(name)
    assert (model.schema, model.unit) == (schema, unit)
    assert len(rooms) + len(skipped) == count
    assert all(s.reason and s.status == "skipped" for s in skipped.values())


@pytest.mark.parametrize("name", FILES)
def test_every_outline_is_a_clean_ring(read, name):
    for space in read(name)[1].values():
        polygon = outline(space)
        assert polygon.is_valid
        assert polygon.exterior.is_ccw
        for ring in (polygon.exterior, *polygon.interiors):
            points = np.array(ring.coords)
            assert np.hypot(*np.diff(points, axis=0).T).min() >= 1.0


@pytest.mark.parametrize("name", FILES)
def test_every_outline_agrees_with_the_body_s_shadow(read, name):
    # No room of these models is wider above or below than at its ceiling.
    for space in read(name)[1].values():
        shadow = shapely.union_all([silhouette(p) for p in space.body.parts])
        assert outline(space).area == pytest.approx(shadow.area, rel=0.005)
        assert outline(space).symmetric_difference(shadow).area < 0.005 * shadow.area


@pytest.mark.parametrize("name", FILES)
def test_every_outline_agrees_with_a_cut_of_the_body_s_middle(read, name):
    for space in read(name)[1].values():
        cut = section(space.mesh, 0.5 * (space.floor + space.body.level_top))
        assert outline(space).area == pytest.approx(cut.area, rel=1e-6)


def test_stated_areas_agree_with_the_outlines(read):
    _, rooms, _ = read("bimwhale_LargeBuilding")
    stated = {n: s.stated_area_m2 for n, s in rooms.items()}
    expected = [49.92, 39.78, 33.18, 26.86]
    assert [stated[str(i)] for i in range(1, 9)] == pytest.approx(expected * 2)
    for space in rooms.values():
        assert outline(space).area / 1e6 == pytest.approx(space.stated_area_m2, rel=0.005)
        assert space.notes == ()


def test_scrambled_area_quantities_agree_with_the_outlines(read):
    # The names of its quantities are scrambled, the values are those of the floor area.
    model, rooms, _ = read("gymzaal_grf005")
    for space in rooms.values():
        quantities = [
            q.AreaValue
            for r in space.entity.IsDefinedBy
            if r.RelatingPropertyDefinition.is_a("IfcElementQuantity")
            for q in r.RelatingPropertyDefinition.Quantities
            if q.is_a("IfcQuantityArea")
        ]
        assert len(quantities) == 2
        assert outline(space).area / 1e6 == pytest.approx(quantities[0], rel=0.005)
    assert length_scale(model.file) == 1.0


def test_planned_areas_agree_with_the_outlines(read):
    model, rooms, _ = read("pcert_ifc4_Building-Architecture")
    planned = {
        p.NominalValue.wrappedValue
        for p in model.file.by_type("IfcPropertySingleValue")
        if p.Name == "NetPlannedArea"
    }
    found = sorted(outline(s).area / 1e6 for s in rooms.values())
    assert found == pytest.approx(sorted(planned), rel=0.005)


def test_large_building_rooms_have_their_sizes(read):
    _, rooms, _ = read("bimwhale_LargeBuilding")
    sizes = [(6400.0, 7800.0), (5100.0, 7800.0), (4200.0, 7900.0), (3400.0, 7900.0)]
    for i in range(8):
        space = rooms[str(i + 1)]
        assert sides(outline(space)) == pytest.approx(sizes[i % 4], abs=0.5)
        assert (space.floor, space.top) == pytest.approx((0.0, 4000.0), abs=0.01)
        assert (space.storey, space.name) == ("Level 1", "Room")
        assert len(outline(space).exterior.coords) - 1 == 4


def test_demo2_rooms_have_their_sizes_and_heights(read):
    _, rooms, skipped = read("demo2_19rooms")
    assert skipped == {}
    heights = Counter(round(s.top - s.floor) for s in rooms.values())
    assert heights == {2350: 3, 3850: 4, 4000: 12}
    found = [tuple(sides(outline(s))) for s in rooms.values()]
    assert sum(1 for f in found if f == pytest.approx((2400.0, 4800.0), abs=0.5)) == 10
    assert sum(1 for f in found if f == pytest.approx((3607.0, 4800.0), abs=0.6)) == 2
    assert tuple(sides(outline(rooms["1"]))) == pytest.approx((10800.0, 17834.0), abs=0.6)
    corners = Counter(len(outline(s).exterior.coords) - 1 for s in rooms.values())
    assert corners == {4: 18, 8: 1}


def test_duplex_rooms_have_their_sizes(read):
    _, rooms, skipped = read("duplex_A_20110907")
    assert sides(outline(rooms["A102"])) == pytest.approx((4783.0, 5783.0), abs=0.6)
    assert sides(outline(rooms["A103"])) == pytest.approx((2230.0, 5809.0), abs=0.6)
    assert sides(outline(rooms["A104"])) == pytest.approx((1456.0, 2171.0), abs=0.6)
    for number in ("A202", "A203", "B202", "B203"):
        assert outline(rooms[number]).area / 1e6 == pytest.approx(22.04, abs=0.005)
        assert len(outline(rooms[number]).exterior.coords) - 1 == 6
    assert {s.storey for s in rooms.values()} == {"Level 1", "Level 2"}
    assert {n: s.reason.partition(" says ")[2].partition(":")[0] for n, s in skipped.items()} == {
        "A105": "stair",
        "B105": "stair",
        "R301": "outdoor space",
    }
    # The name of B105 is "Room": only a property tells that it is a stairway.
    assert "Stairway" in skipped["B105"].reason


def test_duplex_hallways_have_a_stepped_top_and_open_shells(read):
    _, rooms, _ = read("duplex_A_20110907")
    for number in ("A201", "B201"):
        space = rooms[number]
        kinds = {r.RepresentationType for r in space.entity.Representation.Representations}
        assert "SurfaceModel" in kinds
        assert (space.top, space.body.level_top) == pytest.approx((6000.0, 5700.0), abs=0.6)
        assert outline_at(space, 5700.0).area / 1e6 == pytest.approx(6.889, abs=0.001)
        assert outline_at(space, 5700.0 - 0.3).area / 1e6 == pytest.approx(6.889, abs=0.001)


def test_duplex_rooms_that_no_wall_parts_are_open_to_each_other(read):
    _, rooms, skipped = read("duplex_A_20110907")
    number = {s.key: n for n, s in (rooms | skipped).items()}
    found = {n: {number[k] for k in s.open_to} for n, s in rooms.items() if s.open_to}
    assert found["A102"] == {"A101", "A103"}
    assert found["B102"] == {"B101", "B103"}
    # What one says of the other, the other says of the one.
    assert all(n in found[m] for n, others in found.items() for m in others if m in found)
    assert set(found) == {"A101", "A102", "A103", "B101", "B102", "B103"}


def test_the_roof_in_feet_stands_where_the_one_in_metres_stands(read):
    shadows = []
    for name in ("duplex_A_20110907", "duplex_Electrical_20121207"):
        model, rooms, skipped = read(name)
        assert "R301" in skipped
        assert "R301" not in rooms
        (roof,) = [s for s in model.file.by_type("IfcSpace") if s.Name == "R301"]
        mesh = Kernel(model.file).mesh(roof)
        assert mesh[..., 2].min() == pytest.approx(6000.0, abs=1.0)
        shadows.append(silhouette(mesh))
    metres, feet = shadows
    assert metres.area / 1e6 == pytest.approx(135.15, abs=0.01)
    assert feet.area / 1e6 == pytest.approx(145.72, abs=0.01)
    assert metres.intersection(feet).area > 0.99 * metres.area


def test_gymzaal_rooms_are_read_once_each(read):
    _, rooms, skipped = read("gymzaal_grf005")
    assert len(rooms) == 16
    assert len(skipped) == 32
    assert Counter(s.name for s in rooms.values()) == {
        **dict.fromkeys(("werkkast", "kast", "toilet", "kleedkamer", "doucheruimte"), 2),
        **dict.fromkeys(("kleedruimte docent", "sanitair", "cv ruimte", "gang", "gymzaal"), 1),
        "toestellenberging": 1,
    }
    keys = {s.key for s in rooms.values()} | {s.key for s in skipped.values()}
    also = [k for s in rooms.values() for k in s.also]
    assert len(also) == len(set(also)) == 32
    assert {s.key for s in rooms.values()} | set(also) == keys
    hall = next(s for s in rooms.values() if s.name == "gymzaal")
    assert outline(hall).area / 1e6 == pytest.approx(252.0, abs=0.005)
    for space in skipped.values():
        assert space.reason.startswith("same room as ")
        assert space.name in space.reason


def test_gymzaal_rooms_do_not_overlap_after_one_was_chosen(read):
    _, rooms, _ = read("gymzaal_grf005")
    shapes = [outline(s) for s in rooms.values()]
    total = math.fsum(s.area for s in shapes)
    assert shapely.union_all(shapes).area == pytest.approx(total, rel=1e-4)


def test_gymzaal_outlines_are_all_turned_alike(read):
    _, rooms, _ = read("gymzaal_grf005")
    for space in rooms.values():
        assert (space.floor, space.top) == pytest.approx((0.0, 3400.0), abs=0.01)
        points = np.array(outline(space).exterior.coords)
        edges = np.diff(points, axis=0)
        angles = np.degrees(np.arctan2(edges[:, 1], edges[:, 0])) % 90.0
        lengths = np.hypot(*edges.T)
        turned = float(np.average(angles[lengths > 500.0], weights=lengths[lengths > 500.0]))
        assert turned == pytest.approx(24.2, abs=0.05) or turned == pytest.approx(65.8, abs=0.05)


@pytest.mark.parametrize("schema", ["ifc4", "ifc4x3"])
def test_pcert_rooms_have_their_sizes(read, schema):
    _, rooms, _ = read(f"pcert_{schema}_Building-Architecture")
    living, entry = outline(rooms["living room"]), outline(rooms["entry hall"])
    assert living.area / 1e6 == pytest.approx(18.50, abs=0.006)
    assert len(living.exterior.coords) - 1 == 8
    assert sides(living) == pytest.approx((3800.0, 4950.0), abs=0.5)
    assert sides(entry) == pytest.approx((1600.0, 3800.0), abs=0.5)
    assert entry.area / 1e6 == pytest.approx(6.08, abs=0.001)
    assert all(s.top - s.floor == pytest.approx(2200.0, abs=0.01) for s in rooms.values())
    # The newer twin gives no long name: the name serves.
    assert {s.name for s in rooms.values()} == {"living room", "entry hall"}
    assert {s.storey for s in rooms.values()} == {"00 groundfloor"}


def test_the_registry_s_duplex_reads_like_the_shared_one(duplex):
    model = open_model(duplex)
    spaces, skipped = read_spaces(model, Kernel(model.file))
    assert len(spaces) + len(skipped) == 21
    assert {s.number for s in skipped} >= {"A105", "R301"}
    areas = {s.number: outline(s).area / 1e6 for s in spaces}
    assert areas["A102"] == pytest.approx(27.66, abs=0.01)


def test_the_registry_s_small_house_is_read(small_house):
    model = open_model(small_house)
    spaces, skipped = read_spaces(model, Kernel(model.file))
    assert len(spaces) + len(skipped) == 7
    for space in spaces:
        assert outline(space).area / 1e6 > 0.5
        if space.stated_area_m2 is not None and not space.notes:
            assert outline(space).area / 1e6 == pytest.approx(space.stated_area_m2, rel=0.005)
