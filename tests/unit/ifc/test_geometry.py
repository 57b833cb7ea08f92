"""Triangles of elements, their cut and their shadow, against shapely and arithmetic."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from handmade_models import HandmadeModel, rectangle
from handmade_spaces import RING, RING_AREA, SpaceModel, prism_faces, triangles
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon, affinity, box

from ifcgrid.domain.errors import ModelError
from ifcgrid.ifc.geometry import Kernel, cut_segments, section, silhouette


def solid(ring, bottom=0.0, top=2700.0):
    """Triangles of an upright prism over any ring, its floor and ceiling triangulated."""
    cover = shapely.get_parts(shapely.constrained_delaunay_triangles(Polygon(ring)))
    flat = [list(t.exterior.coords)[:3] for t in cover]
    ends = [[(x, y, z) for x, y in t] for z in (bottom, top) for t in flat]
    return triangles([*ends, *prism_faces(ring, bottom, top)[2:]])


def same(one, two, within=1.0):
    """Whether two shapes differ by less than an area in mm²."""
    return shapely.symmetric_difference(one, two).area < within


@pytest.mark.parametrize("unit", ["mm", "m", "ft"])
@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
def test_a_body_has_the_same_millimetres_in_every_unit_and_schema(schema, unit):
    model = SpaceModel(schema=schema, unit=unit)
    space = model.solid_room(RING, 100.0, 2600.0, placement=model.place(x=1000.0, y=2000.0))
    mesh = Kernel(model.file).mesh(space)
    np.testing.assert_allclose(mesh.min(axis=(0, 1)), (1000.0, 2000.0, 100.0), atol=1e-8)
    np.testing.assert_allclose(mesh.max(axis=(0, 1)), (7000.0, 6000.0, 2700.0), atol=1e-8)
    assert section(mesh, 1500.0).area == pytest.approx(RING_AREA, rel=1e-9)


def test_batch_and_single_reading_agree():
    model = SpaceModel()
    spaces = [model.solid_room(RING, placement=model.place(x=i * 7000.0, angle_deg=i)) for i in range(5)]
    kernel = Kernel(model.file)
    together = kernel.meshes(spaces)
    assert list(together) == [s.GlobalId for s in spaces]
    for space in spaces:
        assert same(silhouette(kernel.mesh(space)), silhouette(together[space.GlobalId]))


def test_an_element_without_body_has_no_mesh():
    model = SpaceModel()
    bare = model.room()
    drawn = model.room(model.representation([model.polyline(RING)], "Curve2D", "FootPrint"))
    empty = model.solid_room(RING, height=0.0)
    good = model.solid_room(RING)
    kernel = Kernel(model.file)
    assert [kernel.mesh(e) is None for e in (bare, drawn, empty, good)] == [True, True, True, False]
    assert list(kernel.meshes([bare, drawn, empty, good])) == [good.GlobalId]


def test_the_body_goes_before_other_shapes():
    model = SpaceModel()
    small, large = rectangle(0, 0, 2000, 3000), rectangle(0, 0, 9000, 9000)
    space = model.room(
        model.representation([model.polyline(large)], "Curve2D", "FootPrint"),
        model.representation([model.prism(model.profile(large))], "SweptSolid", "Reference"),
        model.representation(
            [model.file.createIfcBoundingBox(model.point(0, 0, 0), 9e3, 9e3, 9e3)], "BoundingBox", "Box"
        ),
        model.representation([model.prism(model.profile(small))]),
    )
    kernel = Kernel(model.file)
    assert silhouette(kernel.mesh(space)).area == pytest.approx(6e6)
    assert silhouette(kernel.meshes([space])[space.GlobalId]).area == pytest.approx(6e6)


def test_a_wall_lacks_its_opening():
    model = HandmadeModel()
    wall = model.element("IfcWall", None, model.body(rectangle(0, 0, 5000, 200), 0.0, 3000.0))
    hole = model.element("IfcOpeningElement", None, model.body(rectangle(1000, -50, 2000, 250), 0.0, 2100.0))
    model.root("IfcRelVoidsElement", RelatingBuildingElement=wall, RelatedOpeningElement=hole)
    mesh = Kernel(model.file).mesh(wall)
    assert section(mesh, 1000.0).area == pytest.approx(4000.0 * 200.0, rel=1e-9)
    assert section(mesh, 2500.0).area == pytest.approx(5000.0 * 200.0, rel=1e-9)


def test_placements_follow_each_other():
    model = SpaceModel(unit="m")
    outer = model.place(x=1000.0, y=0.0, z=500.0, angle_deg=90.0)
    space = model.solid_room(RING, placement=model.place(x=2000.0, inside=outer))
    matrix = Kernel(model.file).placement(space)
    np.testing.assert_allclose(matrix[:3, 3], (1000.0, 2000.0, 500.0), atol=1e-9)
    corner = matrix @ (6000.0, 0.0, 0.0, 1.0)
    np.testing.assert_allclose(corner[:3], (1000.0, 8000.0, 500.0), atol=1e-9)
    expected = affinity.translate(affinity.rotate(Polygon(RING), 90.0, origin=(0, 0)), 1000.0, 2000.0)
    assert same(silhouette(Kernel(model.file).mesh(space)), expected)


def test_an_upside_down_placement_is_followed():
    model = SpaceModel()
    space = model.solid_room(RING, placement=model.place(z=3000.0, axis=(0.0, 0.0, -1.0)))
    mesh = Kernel(model.file).mesh(space)
    assert (mesh[..., 2].min(), mesh[..., 2].max()) == pytest.approx((300.0, 3000.0))
    assert same(silhouette(mesh), affinity.scale(Polygon(RING), 1.0, -1.0, origin=(0, 0)))


def test_a_mirrored_item_is_mirrored():
    model = SpaceModel()
    inner = model.representation([model.prism(model.profile(RING))])
    space = model.room(model.representation([model.mirrored(inner, x=6000.0)], "MappedRepresentation"))
    expected = affinity.translate(affinity.scale(Polygon(RING), -1.0, 1.0, origin=(0, 0)), 6000.0)
    assert same(section(Kernel(model.file).mesh(space), 1000.0), expected)


def test_items_of_a_body_are_kept_apart():
    model = SpaceModel()
    ones = [model.prism(model.profile(rectangle(x, 0, x + 3000, 2000))) for x in (0, 2000)]
    space = model.room(model.representation(ones))
    parts = Kernel(model.file).parts([space])[space.id()]
    assert sorted(section(p, 1000.0).bounds for p in parts) == [(0, 0, 3000, 2000), (2000, 0, 5000, 2000)]


def test_a_kernel_needs_a_unit():
    model = HandmadeModel()
    model.project.UnitsInContext = None
    with pytest.raises(ModelError, match="no length unit"):
        Kernel(model.file)


@pytest.mark.parametrize(
    "z", [0.0, 1e-9, 0.005, 1.0, 1350.0, 2699.0, 2699.995, 2700.0 - 1e-9, 2700.0, 2700.0 + 1e-9]
)
def test_a_cut_that_touches_floor_or_ceiling_is_the_whole_plan(z):
    assert same(section(solid(RING), z), Polygon(RING))


@pytest.mark.parametrize("z", [-1.0, 2701.0, math.nan])
def test_a_cut_outside_the_body_is_empty(z):
    assert section(solid(RING), z).is_empty


def test_a_cut_at_a_step_is_the_plan_below_it():
    lower, upper = solid(rectangle(0, 0, 4000, 3000), 0, 2400), solid(rectangle(0, 0, 1000, 3000), 2400, 3000)
    body = np.concatenate([lower, upper])
    assert section(body, 2400.0).area == pytest.approx(12e6)
    assert section(body, 2450.0).area == pytest.approx(3e6)


def test_surfaces_need_not_be_closed_above_and_below():
    walls = triangles(prism_faces(RING, 0, 2700)[2:])
    assert same(section(walls, 2700.0), Polygon(RING))
    assert silhouette(walls).is_empty


def test_an_open_chain_bounds_nothing():
    walls = triangles(prism_faces(RING, 0, 2700)[3:])
    assert section(walls, 1000.0).is_empty


def test_gaps_of_drawing_noise_are_closed():
    walls = triangles(prism_faces(rectangle(0, 0, 4000, 3000), 0, 2700)[2:])
    walls[-2:, :, 0] += 0.4
    cut = section(walls, 1000.0)
    assert cut.area == pytest.approx(12e6, rel=1e-3)


def test_a_hole_stays_a_hole():
    hole = rectangle(1000, 1000, 1600, 1400)
    body = np.concatenate([solid(RING), solid(hole)])
    cut = section(body, 1000.0)
    assert same(cut, Polygon(RING, [hole]))


def test_a_pyramid_is_cut_where_it_is():
    base, tip = rectangle(0, 0, 4000, 4000), (2000.0, 2000.0, 4000.0)
    sides = [[(*a, 0.0), (*b, 0.0), tip] for a, b in zip(base, base[1:] + base[:1], strict=True)]
    assert section(triangles(sides), 1000.0).area == pytest.approx(3000.0**2)


def test_far_from_the_origin_nothing_is_lost():
    shift = np.array([149_626_315.9, 413_717_684.2, 0.0])
    cut = section(solid(RING) + shift, 2700.0)
    assert cut.area == pytest.approx(RING_AREA, abs=10.0)
    assert len(cut.interiors) == 0


def test_cut_segments_close_exactly():
    segments = cut_segments(solid(RING), 1000.0)
    ends, counts = np.unique(segments.reshape(-1, 2), axis=0, return_counts=True)
    assert (counts == 2).all()
    assert len(ends) == len(segments)


def test_a_slanted_face_casts_its_shadow():
    mesh = triangles([[(0, 0, 0), (1000, 0, 0), (1000, 500, 900), (0, 500, 900)]])
    assert same(silhouette(mesh), box(0, 0, 1000, 500))


def test_a_shadow_of_two_towers_has_two_parts():
    mesh = np.concatenate([solid(rectangle(0, 0, 100, 100)), solid(rectangle(500, 0, 600, 100))])
    assert silhouette(mesh).geom_type == "MultiPolygon"
    assert silhouette(mesh).area == pytest.approx(20_000.0)


coordinate = st.integers(-20_000, 20_000)


@given(
    points=st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=9, unique=True),
    angle=st.floats(0, 360),
    z=st.floats(1, 2699),
)
def test_the_cut_of_any_prism_is_its_ring(points, angle, z):
    ring = affinity.rotate(shapely.MultiPoint(points).convex_hull, angle, origin=(0, 0))
    if not isinstance(ring, Polygon) or ring.minimum_clearance < 5.0:
        return
    mesh = solid(list(ring.exterior.coords)[:-1])
    assert same(section(mesh, z), ring, within=1e-3 * ring.length)
    assert same(silhouette(mesh), ring, within=2e-2 * ring.length)
