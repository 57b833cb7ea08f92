"""What is ours is found at once as it is told one by one."""

import pytest
from written import SCHEMAS, a_model, adopted_model, four_ceilings

from ifcgrid.ifc.identity import find_ours, is_ours
from ifcgrid.ifc.writing.write import write_ceilings


@pytest.mark.parametrize("detail", ["grid", "panels"])
@pytest.mark.parametrize("schema", SCHEMAS)
def test_all_elements_are_told_apart_the_same_way(schema, detail):
    file, ceiling = adopted_model(schema, (30000.0, 0.0), four_ceilings())
    assert not find_ours(file)
    write_ceilings(file, [ceiling, *four_ceilings()], detail=detail)
    ours = find_ours(file)
    elements = file.by_type("IfcElement")
    assert {e.id() for e in elements if is_ours(e)} == ours & {e.id() for e in elements}
    assert any(e.id() not in ours for e in elements)
    assert any(e.is_a("IfcOpeningElement") for e in elements if e.id() in ours)
    assert len(a_model(schema, four_ceilings()).by_type("IfcElement")) < len(elements)
