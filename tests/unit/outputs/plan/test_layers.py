"""The table of layers: every part has a row, a user's rows go over ours, wrong ones are named."""

from __future__ import annotations

import re

import pytest
from drawn_storeys import STAMP, storey

from ifcgrid.domain.errors import SystemDataError
from ifcgrid.outputs.plan import draw_storey, read_layers
from ifcgrid.outputs.plan.drawing import Part
from ifcgrid.outputs.plan.layers import LINE_KINDS, LINE_WEIGHTS


def test_every_part_has_a_layer_with_a_weight_and_a_source() -> None:
    layers = read_layers()
    assert set(layers) == set(Part)
    for own in layers.values():
        assert own.basis
        assert own.weight in LINE_WEIGHTS
        assert own.line in LINE_KINDS


def test_names_have_the_form_of_the_national_standard() -> None:
    # Discipline of one or two letters, then groups of four (AIA CAD Layer Guidelines, layer name format).
    for own in read_layers().values():
        assert re.fullmatch(r"[A-Z]{1,2}-[A-Z]{4}(-[A-Z]{4}){0,2}", own.layer)


def test_members_of_each_role_and_devices_of_each_kind_have_a_layer_of_their_own() -> None:
    layers = read_layers()
    parts = [
        Part.MAIN_RUNNER,
        Part.CROSS_TEE,
        Part.SECOND_TEE,
        Part.WALL_ANGLE,
        Part.HANGER,
        Part.LIGHT,
        Part.AIR_TERMINAL,
        Part.SPRINKLER,
        Part.DETECTOR,
        Part.DEVICE,
    ]
    assert len({layers[part].layer for part in parts}) == len(parts)


def test_mains_are_told_from_tees_by_weight() -> None:
    layers = read_layers()
    assert layers[Part.MAIN_RUNNER].weight >= 2 * layers[Part.CROSS_TEE].weight


def test_a_users_row_changes_what_it_names_and_leaves_the_rest() -> None:
    layers = read_layers('["main runner"]\nlayer = "Unterdecke Träger"\nweight = 0.7\n')
    assert layers[Part.MAIN_RUNNER].layer == "Unterdecke Träger"
    assert layers[Part.MAIN_RUNNER].weight == 0.7
    assert layers[Part.MAIN_RUNNER].colour == read_layers()[Part.MAIN_RUNNER].colour
    assert layers[Part.MAIN_RUNNER].basis == "the user's table"
    assert layers[Part.CROSS_TEE] == read_layers()[Part.CROSS_TEE]


def test_a_users_weight_holds_on_paper_too() -> None:
    layers = read_layers('["main runner"]\nweight = 1.58\n')
    assert 'stroke-width="1.58"' in draw_storey("x", storey()[:1], stamp=STAMP, layers=layers)
    assert 'stroke-width="1.58"' not in draw_storey("x", storey()[:1], stamp=STAMP)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[mains]\nlayer='X'", "there is no part 'mains'"),
        ("light = 3", "[light] is 3"),
        ("[light]\nname='X'", "[light] has no entry 'name'"),
        ("[light]\nlayer=''", "layer is ''"),
        ("[light]\nlayer=' X'", "layer is ' X'"),
        ("[light]\nlayer='A/B'", "holds '/'"),
        ("[light]\nlayer='A\\tB'", "holds '\\\\'"),
        ("[light]\nlayer=7", "layer is 7"),
        ("[light]\ncolour=0", "colour is 0"),
        ("[light]\ncolour=256", "colour is 256"),
        ("[light]\ncolour=true", "colour is True"),
        ("[light]\nweight=0.33", "weight is 0.33"),
        ("[light]\nweight='thin'", "weight is 'thin'"),
        ("[light]\nline='wavy'", "line is 'wavy'"),
        ("[light", "office.toml"),
    ],
)
def test_a_wrong_row_is_named_with_its_value(text: str, told: str) -> None:
    with pytest.raises(SystemDataError) as error:
        read_layers(text, "office.toml")
    assert told in str(error.value)
    assert str(error.value).startswith("office.toml")


def test_a_byte_order_mark_is_borne() -> None:
    assert read_layers('\ufeff[light]\nlayer = "L"')[Part.LIGHT].layer == "L"
