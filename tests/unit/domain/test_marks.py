"""Marks: equal pieces bear one, in the order in which they first occur."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely import box
from take_offs import a_ceiling

from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.marks import mark_lengths, mark_panels, mark_pieces


def _marks(role, length, hole, factory, pitch=600.0):
    count = len(length)
    roles = np.full(count, role, dtype=np.int32)
    return mark_pieces(roles, np.array(length), np.array(hole), np.array(factory), pitch)


def test_equal_parts_bear_one_mark_whatever_member_they_are_of_and_whole_bars_bear_number_0():
    role = np.array([Role.WALL_ANGLE] * 5 + [Role.MAIN_RUNNER], dtype=np.int32)
    length = np.array([3000.0, 1000.0, 3000.0, 1000.04, 1000.2, 1000.0])
    whole = np.array([True, False, True, False, False, False])
    assert mark_lengths(role, length, whole) == ("A0", "A1", "A0", "A1", "A2", "M1")


def test_small_steps_of_length_never_join_what_differs_by_more_than_a_saw_cuts():
    length = [1000.0 + 0.06 * k for k in range(10)]
    marks = _marks(Role.MAIN_RUNNER, length, [np.nan] * 10, [[True, False]] * 10)
    by_mark = {}
    for mark, x in zip(marks, length, strict=True):
        by_mark.setdefault(mark, []).append(x)
    assert max(max(own) - min(own) for own in by_mark.values()) <= 0.1
    assert len(by_mark) == 5


def test_holes_and_ends_tell_mains_apart_and_a_turned_tee_is_the_same_tee():
    ends = [[True, False], [False, True], [True, False]]
    holes = [100.0, 100.0, 250.0]
    assert _marks(Role.MAIN_RUNNER, [900.0] * 3, holes, ends) == ("M1", "M2", "M3")
    # A cut tee of 900 mm from one of 1,200: its hole 600 mm from its factory end, 300 mm from its cut end.
    assert _marks(Role.CROSS_TEE, [900.0] * 2, [600.0, 300.0], ends[:2]) == ("T1", "T1")


def test_an_outline_bears_its_mark_wherever_its_ring_starts_and_whatever_noise_it_has():
    panels = a_ceiling(outline=box(0, 0, 6100, 4270) - box(2000, 1500, 2457, 1957)).panels
    wanted = mark_panels(panels)
    k = min(panels.outlines)
    ring = shapely.get_coordinates(panels.outlines[k].exterior)[:-1]
    for turn in range(len(ring)):
        noise = np.linspace(-2e-6, 2e-6, 2 * len(ring)).reshape(-1, 2)
        outline = shapely.Polygon(np.roll(ring, turn, axis=0)[:: -1 if turn % 2 else 1] + noise)
        assert mark_panels(replace(panels, outlines={**panels.outlines, k: outline})) == wanted


def test_whole_panels_are_p0_and_cut_ones_are_told_apart_by_shape():
    panels = a_ceiling().panels
    marks = mark_panels(panels)
    assert {mark for mark, full in zip(marks, panels.is_full, strict=True) if full} == {"P0"}
    sizes = {}
    for mark, bounds in zip(marks, panels.bounds, strict=True):
        sizes.setdefault(mark, set()).add((round(bounds[2] - bounds[0]), round(bounds[3] - bounds[1])))
    assert all(len(found) == 1 for found in sizes.values())
    assert {next(iter(s)) for m, s in sizes.items() if m != "P0"} == {(350, 335), (350, 600), (600, 335)}


def test_a_notched_panel_has_a_mark_of_its_own():
    column = box(0, 0, 6100, 4270) - box(2000, 1500, 2457, 1957)
    panels = a_ceiling(outline=column).panels
    marks = mark_panels(panels)
    assert panels.outlines
    assert (
        len(
            {marks[k] for k in panels.outlines} & {m for k, m in enumerate(marks) if k not in panels.outlines}
        )
        == 0
    )
