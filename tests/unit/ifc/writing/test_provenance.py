"""What a ceiling says of its origin changes exactly when the ceiling does."""

from dataclasses import replace

import numpy as np
import pytest
from ceilings import make_ceiling, make_model, make_room
from shapely import box

from ifcgrid.domain.ceiling import Opening
from ifcgrid.ifc.writing.context import read_context
from ifcgrid.ifc.writing.provenance import digest, provenance_values


@pytest.fixture
def ceiling():
    return make_ceiling([make_room("1", box(0, 0, 4000, 3000))])


def test_the_digest_overlooks_noise_and_sees_a_hundredth_of_a_mm(ceiling):
    members = ceiling.members
    noisy = replace(members, start=members.start + 1e-7)
    moved = replace(members, start=members.start + np.array([0.01, 0.0]))
    assert digest(replace(ceiling, members=noisy)) == digest(ceiling)
    assert digest(replace(ceiling, members=moved)) != digest(ceiling)


def test_the_digest_sees_level_openings_hangers_and_system(ceiling):
    opening = Opening(key="x", outline=box(100, 100, 200, 200), room=0, is_lay_in=False)
    others = [
        replace(ceiling, zone=replace(ceiling.zone, level=ceiling.zone.level + 1)),
        replace(ceiling, openings=(opening,)),
        replace(ceiling, hangers=replace(ceiling.hangers, top=ceiling.hangers.top + 1)),
        replace(ceiling, system=replace(ceiling.system, panel_thickness=16.0)),
    ]
    assert len({digest(c) for c in (ceiling, *others)}) == 5


def test_the_callers_words_on_the_input_are_kept_for_an_equal_ceiling_only(ceiling):
    context = read_context(make_model("IFC4", list(ceiling.zone.rooms)), [ceiling], [])
    now = {"InputSha256": "new", "Library": "2"}
    for known, kept in ((digest(ceiling), "old"), ("another", "new")):
        earlier = {"Digest": known, "InputSha256": "old", "Library": "1", "InputGone": "x"}
        values = provenance_values(ceiling, context, now, earlier, False)
        assert values["InputSha256"].value == kept
        assert values["Library"].value == "2"
        assert "InputGone" not in values


@pytest.mark.parametrize(("unit", "level"), [("mm", 2700.0), ("m", 2.7), ("ft", 8.858267717)])
def test_lengths_are_in_the_files_unit(ceiling, unit, level):
    context = read_context(make_model("IFC4", list(ceiling.zone.rooms), unit=unit), [ceiling], [])
    values = provenance_values(ceiling, context, {}, {}, True)
    assert values["Level"].value == pytest.approx(level, abs=1e-8)
    assert values["Adopted"].value is True
    assert values["PanelsFull"].value + values["PanelsCut"].value == len(ceiling.panels)
