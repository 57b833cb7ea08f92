"""Further models that do not fit are told before the rooms are."""

from __future__ import annotations

from ifcgrid.outputs.federation import federation_lines


def _other(**alignment: object) -> dict[str, object]:
    return {"path": "out/services\x07.ifc", "alignment": {"basis": "map conversion", **alignment}}


def test_models_that_fit_are_not_spoken_of() -> None:
    fits = _other(shift_mm=[0.0, 0.0, 0.0], turn_deg=0.0, notes=[])
    assert federation_lines({"with": [fits, {"path": "old-record.ifc"}]}) == []


def test_a_note_and_a_move_are_told_by_the_models_name() -> None:
    lines = federation_lines(
        {
            "with": [
                _other(shift_mm=[1500.0, -250.0, 0.0], turn_deg=90.0, notes=["its axis 'B' lies 9 mm beside"])
            ]
        }
    )
    assert lines[2:] == [
        "  services.ifc: put by its map conversion to 1.500, -0.250, 0.000 m, turned by 90 degrees",
        "  services.ifc: its axis 'B' lies 9 mm beside",
    ]
