"""What a grid system weighs and bears, as data with its basis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from ifcgrid.domain.errors import SystemDataError

__all__ = ["CLASSES", "Strength", "Weights", "strength_from_table", "weights_from_table"]

CLASSES = ("light", "intermediate", "heavy")
"""Duty classes of main runners, lightest first (ASTM C635/C635M-17 4.1.3)."""

DEVICES = ("light", "air terminal", "detector", "device")
"""Kinds of device that the ceiling carries; a sprinkler hangs from its pipe."""

_DEVICE_KG_PER_M2 = {"light": 12.0, "air terminal": 10.0, "detector": 20.0, "device": 10.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class Weights:
    """Weights of what is hung. `main`, `tee` None: worked out from the section.

    `device_kg_per_m2` gives, by kind, what a device weighs per plan area where the model
    does not say what it weighs. `basis` says where the numbers come from.
    """

    panel_kg_per_m2: float = 5.0
    insulation_kg_per_m2: float = 0.0
    main_kg_per_m: float | None = None
    tee_kg_per_m: float | None = None
    device_kg_per_m2: Mapping[str, float] = field(default_factory=lambda: dict(_DEVICE_KG_PER_M2))
    basis: str = (
        "assumed: panels 5 kg/m2, the middle of the usual 3 to 7 (from memory); "
        "members from their section at 7850 kg/m3; devices by plan area (from memory)"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Strength:
    """What members bear. `duty` "" : not stated; inertias in mm4, None: worked out from the section."""

    duty: str = ""
    main_inertia_mm4: float | None = None
    tee_inertia_mm4: float | None = None
    hanger_failure_n: float | None = None
    basis: str = "bending worked out from the section: web and face of two sheets, bulb neglected"


def _amount(value: Any, name: str, owner: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise SystemDataError(f"grid system {owner}: {name} is {value!r}; give a number")
    if value < 0:
        raise SystemDataError(f"grid system {owner}: {name} is {value!r}; it must not be negative")
    return float(value)


def _positive(value: Any, name: str, owner: str) -> float:
    amount = _amount(value, name, owner)
    if amount == 0:
        raise SystemDataError(f"grid system {owner}: {name} is 0; it must be greater than zero")
    return amount


def _check_names(table: Any, known: set[str], name: str, owner: str) -> None:
    if not isinstance(table, Mapping):
        raise SystemDataError(f"grid system {owner}: {name} is {table!r}; give a table [{name}]")
    if unknown := sorted(set(table) - known):
        raise SystemDataError(
            f"grid system {owner}: {name} has no entry {unknown[0]!r}; allowed: {', '.join(sorted(known))}"
        )
    if not isinstance(table.get("basis"), str) or not table["basis"].strip():
        raise SystemDataError(
            f"grid system {owner}: {name}.basis is missing; say where the numbers come from"
        )


def weights_from_table(table: Any, owner: str) -> Weights | None:
    """Weights from the table `[weights]` of a system; None when there is none.

    Raises:
        SystemDataError: an entry is unknown, is no number, is negative, or `basis` is missing.
    """
    if table is None:
        return None
    names = {"panel_kg_per_m2", "insulation_kg_per_m2", "main_kg_per_m", "tee_kg_per_m", "device_kg_per_m2"}
    _check_names(table, names | {"basis"}, "weights", owner)
    given: dict[str, Any] = {"basis": table["basis"]}
    for name in sorted(names - {"device_kg_per_m2"}):
        if table.get(name) is not None:
            given[name] = _amount(table[name], f"weights.{name}", owner)
    if table.get("device_kg_per_m2") is not None:
        devices = table["device_kg_per_m2"]
        if not isinstance(devices, Mapping) or set(devices) - set(DEVICES):
            raise SystemDataError(
                f"grid system {owner}: weights.device_kg_per_m2 is {devices!r}; "
                f"give a table with some of {', '.join(DEVICES)}"
            )
        own = {kind: _amount(kg, f"weights.{kind}", owner) for kind, kg in devices.items()}
        given["device_kg_per_m2"] = {**_DEVICE_KG_PER_M2, **own}
    return Weights(**given)


def strength_from_table(table: Any, owner: str) -> Strength | None:
    """Strength from the table `[strength]` of a system; None when there is none.

    Raises:
        SystemDataError: an entry is unknown, is no number above zero, the duty is no class,
            or `basis` is missing.
    """
    if table is None:
        return None
    numbers = {"main_inertia_mm4", "tee_inertia_mm4", "hanger_failure_n"}
    _check_names(table, numbers | {"duty", "basis"}, "strength", owner)
    duty = table.get("duty") or ""
    if duty and duty not in CLASSES:
        raise SystemDataError(
            f"grid system {owner}: strength.duty is {duty!r}; choose one of {', '.join(CLASSES)}"
        )
    given = {
        name: _positive(table[name], f"strength.{name}", owner)
        for name in sorted(numbers)
        if table.get(name) is not None
    }
    return Strength(duty=duty, basis=table["basis"], **given)
