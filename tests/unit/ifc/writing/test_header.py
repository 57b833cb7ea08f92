"""The header names us by the policy, keeps who came before, and is the same through both sinks.

The policy: buildingSMART/IFC4.x-IF, docs/IFC-file-header; its checks as in buildingSMART/validate,
header_policy/validate_header.py.
"""

from __future__ import annotations

import re

import ifcopenshell
import pytest
from ceilings import make_ceiling, make_model, make_room
from packaging.version import Version
from same_model import header_of
from shapely import box

from ifcgrid.ifc.project import open_model
from ifcgrid.ifc.writing.header import SYSTEM
from ifcgrid.ifc.writing.write import write_file

BEFORE = {
    "both": (("Exporter (5.3); it''s", "Tool 24 (64)"), "Exporter (5.3); it's; authored with: Tool 24 (64)"),
    "no preprocessor": (("", "Tool - Tool - 1.0"), "authored with: Tool - Tool - 1.0"),
    "no system": (("Exporter 2", ""), "Exporter 2"),
    "neither": (("", ""), ""),
    "foreign": ((r"\X2\00FC\X0\ 2", r"\S\|"), "ü 2; authored with: ü"),
    "older run of ours": (("Exporter 2", "ifcgrid - ifcgrid - 0.0.1"), "Exporter 2"),
}


@pytest.fixture(scope="module")
def ceiling():
    return make_ceiling([make_room("1", box(0, 0, 3000, 2400))])


@pytest.mark.parametrize("sink", ["text", "model"])
@pytest.mark.parametrize("case", BEFORE)
def test_it_names_us_and_keeps_who_came_before(tmp_path, ceiling, case, sink):
    (preprocessor, system), expected = BEFORE[case]
    text = make_model("IFC4", list(ceiling.zone.rooms)).to_string()
    name = f"FILE_NAME('n.ifc','2001-01-01T00:00:00',('A','B'),('O'),'{preprocessor}','{system}','none');"
    (tmp_path / "a.ifc").write_text(re.sub(r"FILE_NAME\(.*?\);", lambda _: name, text))
    for source, target in (("a", "b"), ("b", "c")):  # the second run changes nothing
        write_file(
            open_model(tmp_path / f"{source}.ifc"),
            [ceiling],
            (),
            tmp_path / f"{target}.ifc",
            timestamp="2026-01-02T03:04:05",
            sink=sink,
        )
        file = ifcopenshell.open(tmp_path / f"{target}.ifc")
        said = header_of(file)
        assert (said["preprocessor_version"], said["originating_system"]) == (expected, SYSTEM)
        assert file.header.file_name.time_stamp == "2026-01-02T03:04:05"
        assert (said["author"], said["organization"], said["name"]) == (("A", "B"), ("O",), "n.ifc")
        assert said["authorization"] == "none"


def test_our_name_is_as_the_policy_wants_it():
    match = re.fullmatch(r"(.+) - (.+) - (.+)", SYSTEM)
    assert match
    assert not any("-" in word for word in match.groups()[:2])
    assert str(Version(match[3])) == match[3]
