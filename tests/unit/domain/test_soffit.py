"""Soffits against shapes whose undersides are known by formula."""

import itertools
import math

import numpy as np
import pytest
import shapely

from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.soffit import SoffitIndex, find_soffits, undersides


def fan(corners):
    """Triangles of a convex polygon in space."""
    return [(corners[0], corners[i], corners[i + 1]) for i in range(1, len(corners) - 1)]


def prism(bottom, top):
    """A closed body between two rings of equal length, outward-looking; bottom counter-clockwise."""
    faces = [*fan(bottom[::-1]), *fan(top)]
    for i in range(len(bottom)):
        j = (i + 1) % len(bottom)
        faces += fan([bottom[i], bottom[j], top[j], top[i]])
    return np.array(faces, dtype=float)


def box(x0, y0, z0, x1, y1, z1):
    ring = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    return prism([(*p, z0) for p in ring], [(*p, z1) for p in ring])


def obstacle(mesh, key="a", kind=Kind.SLAB):
    points = mesh.reshape(-1, 3)
    return Obstacle(
        key=key,
        kind=kind,
        name=key,
        outline=shapely.MultiPoint(points[:, :2]).convex_hull,
        bottom=points[:, 2].min(),
        top=points[:, 2].max(),
        mesh=mesh,
    )


def test_the_underside_of_a_flat_slab_is_its_bottom():
    z, index = find_soffits([(500, 500)], 2600.0, [obstacle(box(0, 0, 3000, 1000, 1000, 3200))])
    assert z.tolist() == [3000]
    assert index.tolist() == [0]


def test_beside_the_slab_there_is_nothing():
    z, index = find_soffits([(1001, 500)], 2600.0, [obstacle(box(0, 0, 3000, 1000, 1000, 3200))])
    assert math.isnan(z[0])
    assert index.tolist() == [-1]


@pytest.mark.parametrize("spot", [(0, 0), (1000, 1000), (500, 0), (0, 400), (500, 500), (1000 + 0.009, 300)])
def test_points_on_corners_on_edges_and_on_the_diagonal_are_under_the_slab(spot):
    z, _ = find_soffits([spot], 0.0, [obstacle(box(0, 0, 3000, 1000, 1000, 3200))])
    assert z.tolist() == [3000]


def test_a_beam_under_a_slab_is_met_first_and_only_where_it_lies():
    slab = obstacle(box(0, 0, 3000, 4000, 4000, 3200))
    beam = obstacle(box(0, 1900, 2700, 4000, 2100, 3000), kind=Kind.BEAM)
    z, index = find_soffits([(100, 2000), (100, 1000)], 2600.0, [slab, beam])
    assert z.tolist() == [2700, 3000]
    assert index.tolist() == [1, 0]


def test_each_point_has_its_own_least_height():
    two = [obstacle(box(0, 0, 3000, 1000, 1000, 3200)), obstacle(box(0, 0, 6000, 1000, 1000, 6200))]
    z, index = find_soffits([(500, 500)] * 3, [2600.0, 3100.0, 6100.0], two)
    assert z[:2].tolist() == [3000, 6000]
    assert math.isnan(z[2])
    assert index.tolist() == [0, 1, -1]


def test_a_soffit_at_exactly_the_least_height_is_not_above_it():
    slab = obstacle(box(0, 0, 3000, 1000, 1000, 3200))
    assert find_soffits([(500, 500)], 3000.0, [slab])[1].tolist() == [-1]
    assert find_soffits([(500, 500)], 2999.9, [slab])[1].tolist() == [0]


def test_a_ray_that_starts_inside_a_body_does_not_stop_at_its_top():
    deep = obstacle(box(0, 0, 2500, 1000, 1000, 3000), kind=Kind.BEAM)
    slab = obstacle(box(0, 0, 3400, 1000, 1000, 3600))
    z, index = find_soffits([(500, 500)], 2600.0, [deep, slab])
    assert z.tolist() == [3400]
    assert index.tolist() == [1]


def test_a_body_wound_inside_out_has_the_same_underside():
    mesh = box(0, 0, 3000, 1000, 1000, 3200)[:, ::-1]
    assert find_soffits([(500, 500)], 2600.0, [obstacle(mesh)])[0].tolist() == [3000]
    assert find_soffits([(500, 500)], 3100.0, [obstacle(mesh)])[1].tolist() == [-1]


@pytest.mark.parametrize("turn", [1, -1])
def test_an_open_shell_counts_whichever_way_it_looks(turn):
    sheet = np.array(fan([(0, 0, 3000), (1000, 0, 3000), (1000, 1000, 3000), (0, 1000, 3000)]), float)[
        :, ::turn
    ]
    assert find_soffits([(500, 500)], 2600.0, [obstacle(sheet)])[0].tolist() == [3000]


def test_a_gable_roof_follows_its_slope():
    """Two sloped plates, eaves at y = 0 and 8000, ridge at 4000: z = 3000 + y * tan 30°."""
    slope = math.tan(math.radians(30))
    ring = [(0, 0), (6000, 0), (6000, 4000), (0, 4000)]
    half = prism([(x, y, 3000 + y * slope) for x, y in ring], [(x, y, 3300 + y * slope) for x, y in ring])
    other = half * [1, -1, 1] + [0, 8000, 0]
    rng = np.random.default_rng(3)
    points = rng.uniform((0, 0), (6000, 8000), (200, 2))
    z, index = find_soffits(points, 2600.0, [obstacle(half), obstacle(other[:, ::-1])])
    expected = 3000 + np.minimum(points[:, 1], 8000 - points[:, 1]) * slope
    assert np.allclose(z, expected, atol=1e-6)
    assert index.tolist() == [int(y > 4000) for y in points[:, 1]]


def test_a_round_duct_is_met_on_its_lower_half():
    """A cylinder of radius 200 about z = 3000, chords of 3 degrees: sagitta 0.07 mm."""
    angle = np.radians(np.arange(0, 360, 3))
    ring = [(200 * math.cos(a), 3000 + 200 * math.sin(a)) for a in angle]
    mesh = prism([(0, y, z) for y, z in ring], [(5000, y, z) for y, z in ring])
    y = np.linspace(-190, 190, 77)
    z, _ = find_soffits(np.column_stack([np.full(77, 2500.0), y]), 2600.0, [obstacle(mesh)])
    assert np.allclose(z, 3000 - np.sqrt(200**2 - y**2), atol=0.5)
    assert (z <= 3000).all()


def test_a_slab_with_a_hole_lets_the_ray_through():
    outer = shapely.box(0, 0, 3000, 3000).difference(shapely.box(1000, 1000, 2000, 2000))
    parts = [box(0, 0, 3000, 3000, 1000, 3200), box(0, 2000, 3000, 3000, 3000, 3200)]
    parts += [box(0, 1000, 3000, 1000, 2000, 3200), box(2000, 1000, 3000, 3000, 2000, 3200)]
    rng = np.random.default_rng(4)
    points = rng.uniform(0, 3000, (300, 2))
    _, index = find_soffits(points, 2600.0, [obstacle(np.concatenate(parts))])
    assert (index == 0).tolist() == shapely.contains_xy(outer, *points.T).tolist()


def test_structure_without_a_mesh_is_flat_at_its_bottom():
    flat = Obstacle(
        key="b", kind=Kind.SLAB, name="", outline=shapely.box(0, 0, 1000, 1000), bottom=3100, top=3300
    )
    meshed = obstacle(box(0, 0, 3000, 500, 1000, 3200))
    z, index = find_soffits([(250, 500), (750, 500), (1000, 1000)], 2600.0, [flat, meshed])
    assert z.tolist() == [3000, 3100, 3100]
    assert index.tolist() == [1, 0, 0]


def test_of_two_soffits_at_one_height_the_first_is_named():
    slabs = [obstacle(box(0, 0, 3000, 1000, 1000, 3200)), obstacle(box(500, 0, 3000, 1500, 1000, 3200))]
    assert find_soffits([(700, 500)], 2600.0, slabs)[1].tolist() == [0]
    assert find_soffits([(700, 500)], 2600.0, slabs[::-1])[1].tolist() == [0]


def test_no_structure_and_no_points_are_answered_too():
    z, index = find_soffits([(0, 0)], 0.0, [])
    assert math.isnan(z[0])
    assert index.tolist() == [-1]
    z, index = find_soffits(np.empty((0, 2)), 0.0, [obstacle(box(0, 0, 1, 1, 1, 2))])
    assert len(z) == len(index) == 0


def test_random_boxes_agree_with_a_plain_loop():
    rng = np.random.default_rng(11)
    low = rng.uniform(0, 9000, (60, 3)).round(1)
    high = low + rng.uniform(50, 3000, (60, 3)).round(1)
    structure = [obstacle(box(*a, *b)) for a, b in zip(low, high, strict=True)]
    points = rng.uniform(0, 12000, (400, 2))
    above = rng.uniform(0, 9000, 400)
    z, index = SoffitIndex(structure).find(points, above)
    for p, (spot, least) in enumerate(zip(points, above, strict=True)):
        over = [
            (a[2], i)
            for i, (a, b) in enumerate(zip(low, high, strict=True))
            if a[0] <= spot[0] <= b[0] and a[1] <= spot[1] <= b[1] and a[2] > least
        ]
        if over:
            assert (z[p], index[p]) == pytest.approx(min(over))
        else:
            assert index[p] == -1


def test_only_faces_that_look_down_are_undersides_of_a_closed_body():
    faces = undersides(box(0, 0, 3000, 1000, 1000, 3200))
    assert len(faces) == 2
    assert {z for _, _, z in itertools.chain.from_iterable(faces.tolist())} == {3000.0}


def test_a_body_from_which_a_sliver_was_left_out_is_still_closed():
    """A box whose bottom edge has a vertex that only one of the two faces knows."""
    faces = box(0, 0, 3000, 1000, 1000, 3200).tolist()
    bottom = [t for t in faces if all(z == 3000 for _, _, z in t)]
    rest = [t for t in faces if t not in bottom]
    split = [
        [(0, 0, 3000), (1000, 1000, 3000), (500, 0, 3000)],
        [(500, 0, 3000), (1000, 1000, 3000), (1000, 0, 3000)],
        [(0, 0, 3000), (0, 1000, 3000), (1000, 1000, 3000)],
    ]
    mesh = np.array(rest + split, dtype=float)
    assert len(undersides(mesh)) == 3
    assert find_soffits([(500, 200)], 3100.0, [obstacle(mesh)])[1].tolist() == [-1]
