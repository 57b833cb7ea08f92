"""Wires of devices by tiers of weight."""

from __future__ import annotations

import numpy as np

from ifcgrid.checks.case import Case
from ifcgrid.checks.measures.fixture import Device
from ifcgrid.checks.rule import Measures, at_least
from ifcgrid.checks.rule_data import RuleRow
from ifcgrid.checks.units import find_unit
from ifcgrid.domain import tolerance

__all__ = ["DIRECT", "device_wires", "wires_needed"]

DIRECT = 4
"""Taut wires that count as carried directly by the structure (the number four is from memory)."""


def wires_needed(
    row: RuleRow, weight: float, size: tuple[float, float] = (0.0, 0.0), *, is_first_wired: bool = True
) -> tuple[int, bool] | None:
    """How many wires a device needs, and whether the structure carries it; None where that is left open.

    Args:
        row: `values` second and direct are the tiers in the row's unit; `open` tells that
            exactly a tier's weight is in neither (less than, more than).
        weight: in N.
        size: least and greatest side in mm.
        is_first_wired: whether a device below the first tier needs one wire, or none.
    """
    own = weight / find_unit(row.unit)[1]
    second, direct = row.values["second"], row.values["direct"]
    at = [abs(own - tier) <= tier * tolerance.RELATIVE for tier in (second, direct)]
    if row.also.get("open_ratio") and any(at):
        return None
    if own > direct or at[1]:
        return DIRECT, True
    count = 2 if own > second or at[0] else int(is_first_wired)
    if "large_ft" in row.also and size[0] >= row.further("large") - tolerance.LAY_IN_SLACK:
        count = DIRECT
    return count, False


def device_wires(case: Case, row: RuleRow, devices: list[Device], *, is_first_wired: bool) -> Measures | str:
    """Wires of devices against what their weight asks for; taut ones where the structure carries them."""
    if not devices:
        return "there are none of these devices here"
    value, limit, reasons = [], [], set()
    for device in devices:
        needed = wires_needed(row, device.weight, device.size, is_first_wired=is_first_wired)
        if needed is None:
            reasons.add("at exactly this weight the rule leaves open what holds")
            value.append(np.nan)
            limit.append(np.nan)
            continue
        count, is_direct = needed
        have = device.taut if is_direct or device.taut is None else device.taut + (device.slack or 0)
        if have is None and count > 0:
            reasons.add("wires of devices are not in the model")
        value.append(np.nan if have is None and count > 0 else float(have or 0))
        limit.append(float(count))
    assumed = sum(device.is_assumed for device in devices)
    unit = find_unit(row.unit)[1]
    heaviest = max(device.weight for device in devices) / unit
    return at_least(
        case,
        _counted(row),
        value,
        subjects=[device.key for device in devices],
        points=np.array([device.point for device in devices]),
        noun="devices",
        limit=np.array(limit),
        detail=f"heaviest {heaviest:.1f} {row.unit}" + (f"; weight of {assumed} assumed" if assumed else ""),
        missing="; ".join(sorted(reasons)),
    )


def _counted(row: RuleRow) -> RuleRow:
    """The row for a count of wires: its tiers are weights, its measure is not."""
    return RuleRow(
        rule=row.rule, unit="wires", source=row.source, clause=row.clause, basis=row.basis, value=0.0
    )
