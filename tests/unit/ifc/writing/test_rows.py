"""Rows know their ids before anything is written, and blocks are only a shorter way to say them."""

import ifcopenshell
import pytest

from ifcgrid.ifc.writing.model_sink import write_rows
from ifcgrid.ifc.writing.rows import DERIVED, Column, Enum, Own, Ref, Rows, Typed


def test_ids_follow_one_another_across_rows_and_blocks():
    rows = Rows(10)
    first = rows.add("IfcA")
    block = rows.add_block([("IfcB", ()), ("IfcC", (Own(0),))], 3)
    last = rows.add("IfcD", first, tuple(block.ids(1)))
    assert [r.id for r in rows] == list(range(10, 18))
    assert (first, last, len(rows)) == (10, 17, 8)
    assert block.ids(0) == [11, 13, 15]
    assert block.ids(1) == [12, 14, 16]


def test_a_block_gives_each_item_its_column_values_and_its_own_rows():
    rows = Rows(1)
    rows.add_block(
        [("IfcB", (Column(["a", "b"]), None)), ("IfcC", ((Own(0), Ref(99)), Column([1.0, 2.0])))], 2
    )
    assert [(r.entity, r.attributes) for r in rows] == [
        ("IfcB", ("a", None)),
        ("IfcC", ((1, 99), 1.0)),
        ("IfcB", ("b", None)),
        ("IfcC", ((3, 99), 2.0)),
    ]


def test_the_model_sink_writes_every_kind_of_value():
    file = ifcopenshell.file(schema="IFC4")
    parent = file.createIfcGeometricRepresentationContext(None, "Model", 3, 1e-5)
    rows = Rows(7)
    rows.add(
        "IfcGeometricRepresentationSubContext",
        *("Body", "Model", DERIVED, DERIVED, DERIVED, DERIVED, Ref(parent.id()), None, Enum("MODEL_VIEW")),
    )
    rows.add("IfcPropertySingleValue", "P", None, Typed("IfcBoolean", False), None)
    rows.add("IfcPropertySet", "g", None, "S", None, (Ref(8),))
    write_rows(file, rows)
    assert file.by_id(7).ParentContext == parent
    assert file.by_id(7).TargetView == "MODEL_VIEW"
    assert file.by_id(9).HasProperties[0].NominalValue.wrappedValue is False


def test_rows_made_for_another_state_of_the_model_are_refused():
    file = ifcopenshell.file(schema="IFC4")
    file.createIfcDirection((0.0, 0.0, 1.0))
    rows = Rows(1)
    rows.add("IfcDirection", (1.0, 0.0, 0.0))
    with pytest.raises(ValueError, match="#1 is already in the model"):
        write_rows(file, rows)
