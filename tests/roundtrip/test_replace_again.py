"""A ceiling that took the place of the architect's counts as that one in every later run."""

from __future__ import annotations

import pytest
from handmade_models import HandmadeModel
from written import DETAILS, SCHEMAS, data

import ifcgrid
from ifcgrid.ifc.reading.replaced import replaced_key


def rectangle(x0, y0, x1, y1):
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def a_model(schema="IFC4"):
    """Two rooms with a gap between under one ceiling, one under a doubled and one under two half ones."""
    model = HandmadeModel(schema)
    storey = model.storey("Level 1", 0.0)
    for name, x0, x1 in (("1", 0, 4000), ("2", 4100, 8100), ("3", 9000, 13000), ("4", 14000, 18000)):
        model.space(storey, rectangle(x0, 0, x1, 5000), 0.0, 3600.0, name)
    keys = {}
    for name, x0, x1 in (
        ("over both", 0, 8100),
        ("doubled", 9000, 13000),
        ("its double", 9000, 13000),
        ("larger half", 14000, 16500),
        ("smaller half", 16500, 18000),
    ):
        shape = model.body(rectangle(x0, 0, x1, 5000), 2700.0, 2750.0)
        keys[name] = model.element("IfcCovering", storey, shape, Name=name, PredefinedType="CEILING").GlobalId
    return model.file, keys


def build(file, detail="grid", **how):
    done = ifcgrid.build(file)
    report = ifcgrid.write_ceilings(file, done.ceilings, detail=detail, **how)
    return done, report


def facts(done):
    return [
        (
            [r.number for r in c.zone.rooms],
            c.zone.level,
            c.layout.frame,
            c.layout.borders,
            c.zone.rooms[0].height.value,
        )
        for c in done.ceilings
    ]


@pytest.mark.parametrize("detail", DETAILS)
@pytest.mark.parametrize("schema", SCHEMAS)
def test_later_runs_find_the_same_height_and_the_same_rooms_under_one_ceiling(schema, detail):
    file, keys = a_model(schema)
    first, report = build(file, detail, replace=True)
    assert [(numbers, level) for numbers, level, *_ in facts(first)] == [
        (["1", "2"], 2700.0),
        (["3"], 2700.0),
        (["4"], 2700.0),
    ]
    assert set(report.replaced) == set(keys.values())
    second, report = build(file, detail, replace=True)
    assert facts(second) == facts(first)
    assert report.replaced == ()
    written = data(file)
    third, _ = build(file, detail)  # and without the word too: there is nothing left to take over
    assert facts(third) == facts(first)
    assert data(file) == written


def test_ours_say_which_one_they_replaced():
    file, keys = a_model()
    build(file, replace=True)
    assert {replaced_key(c) for c in file.by_type("IfcCovering")} == {
        keys["over both"],
        min(keys["doubled"], keys["its double"]),
        keys["larger half"],
    }


def test_an_adopted_ceiling_is_replaced_by_none():
    file, _ = a_model()
    before = len(file.by_type("IfcCovering"))
    build(file)
    assert len(file.by_type("IfcCovering")) == before
    assert {replaced_key(c) for c in file.by_type("IfcCovering")} == {None}


def test_a_new_ceiling_of_the_architect_under_the_old_name_goes_before_ours():
    file, keys = a_model()
    build(file, replace=True)
    model = HandmadeModel()
    model.file = file
    model._context = file.by_type("IfcGeometricRepresentationContext", include_subtypes=False)[0]
    model._count = 10_000
    shape = model.body(rectangle(0, 0, 8100, 5000), 2400.0, 2450.0)
    (storey,) = file.by_type("IfcBuildingStorey")
    new = model.element("IfcCovering", storey, shape, Name="new", PredefinedType="CEILING")
    new.GlobalId = keys["over both"]
    done, _ = build(file)
    assert facts(done)[0][:2] == (["1", "2"], 2400.0)
