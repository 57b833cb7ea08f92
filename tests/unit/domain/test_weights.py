"""What a system may say of its weights and strength."""

from __future__ import annotations

import json
from dataclasses import asdict

import pytest

from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.system import GridSystem, system_from_table
from ifcgrid.systems import read_system

STATED = {
    "weights": {
        "panel_kg_per_m2": 4.2,
        "main_kg_per_m": 0.3,
        "device_kg_per_m2": {"light": 9.0},
        "basis": "scale",
    },
    "strength": {"duty": "heavy", "main_inertia_mm4": 9000, "hanger_failure_n": 1100, "basis": "certificate"},
}


def _table(**changes: object) -> dict[str, object]:
    sizes: dict[str, object] = json.loads(json.dumps(asdict(read_system("lay-in-600x600"))))
    return {**{name: value for name, value in sizes.items() if value is not None}, **changes}


def test_a_system_states_weights_and_strength_with_their_basis() -> None:
    system = system_from_table(_table(**STATED))
    assert system.weights is not None
    assert system.strength is not None
    assert (system.weights.panel_kg_per_m2, system.weights.main_kg_per_m) == (4.2, 0.3)
    assert system.weights.tee_kg_per_m is None
    assert system.weights.device_kg_per_m2 == {
        "light": 9.0,
        "air terminal": 10.0,
        "detector": 20.0,
        "device": 10.0,
    }
    assert (system.strength.duty, system.strength.main_inertia_mm4) == ("heavy", 9000.0)
    assert system.strength.tee_inertia_mm4 is None


@pytest.mark.parametrize("stated", [{}, STATED])
def test_what_is_stated_comes_back_from_the_model(stated: dict[str, object]) -> None:
    # A written ceiling carries its system as JSON.
    system = system_from_table(_table(**stated))
    sizes = {name: value for name, value in asdict(system).items() if value is not None}
    again: GridSystem = system_from_table(json.loads(json.dumps(sizes)))
    assert again == system


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ({"weights": 5.0}, "give a table"),
        ({"weights": {"panel_kg_per_m2": 5.0}}, "basis is missing"),
        ({"weights": {"panel": 5.0, "basis": "b"}}, "no entry 'panel'; allowed: basis, device_kg_per_m2"),
        ({"weights": {"panel_kg_per_m2": -1.0, "basis": "b"}}, "must not be negative"),
        ({"weights": {"panel_kg_per_m2": "5 kg", "basis": "b"}}, "give a number"),
        ({"weights": {"panel_kg_per_m2": float("nan"), "basis": "b"}}, "give a number"),
        ({"weights": {"device_kg_per_m2": {"lamp": 5.0}, "basis": "b"}}, "some of light, air terminal"),
        ({"strength": {"duty": "strong", "basis": "b"}}, "choose one of light, intermediate, heavy"),
        ({"strength": {"main_inertia_mm4": 0, "basis": "b"}}, "greater than zero"),
    ],
)
def test_a_mistake_is_answered_with_what_is_right(table: dict[str, object], message: str) -> None:
    with pytest.raises(SystemDataError, match=message):
        system_from_table(_table(**table))
