"""Marks: equal pieces bear one, in the order in which they first occur."""

from __future__ import annotations

from shapely import box
from take_offs import a_ceiling

from ifcgrid.domain.ceiling import Role
from ifcgrid.domain.marks import mark_members, mark_panels


def test_walls_of_one_length_bear_one_mark():
    members = a_ceiling().members
    marks = [
        m for m, role in zip(mark_members(members), members.role, strict=True) if role == Role.WALL_ANGLE
    ]
    assert marks == ["A1", "A2", "A1", "A2"]


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
