"""How things are ordered, read from TOML: the defaults that ship, and a file of one's own over them."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from ifcgrid.domain.cutting import CutRules
from ifcgrid.domain.errors import SystemDataError, UnitError
from ifcgrid.domain.quantity import Item, OrderRule
from ifcgrid.domain.units import parse_length

__all__ = ["OrderRules", "read_order_rules"]

_CUTTING = ("bar_kerf", "panel_kerf", "border_tees_from_one", "fixing_spacing", "basis")
_ORDER = ("allowance", "pack", "basis")


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRules:
    """What cuts take, and how each item is ordered."""

    cutting: CutRules
    order: Mapping[Item, OrderRule]


def read_order_rules(path: str | Path | None = None) -> OrderRules:
    """The rules that ship, with the entries of a file in their place.

    Raises:
        SystemDataError: the file cannot be read, or an entry is wrong.
    """
    shipped = files("ifcgrid.outputs.takeoff").joinpath("order.toml").read_text(encoding="utf-8")
    table = tomllib.loads(shipped)
    if path is not None:
        own = _read(Path(path))
        for name in own:
            if name not in ("cutting", "order"):
                raise SystemDataError(f"{path}: {name!r} is none of cutting, order")
        table["cutting"] |= _table(own.get("cutting", {}), f"{path}: cutting")
        for item, entry in _table(own.get("order", {}), f"{path}: order").items():
            given = _table(entry, f"{path}: {item}")
            table["order"][item] = {"basis": f"{Path(path).name}", **table["order"].get(item, {}), **given}
            if "basis" not in given:
                table["order"][item]["basis"] = f"from {Path(path).name}"
    return OrderRules(
        cutting=_cutting(table["cutting"]),
        order={rule.item: rule for rule in (_rule(k, v) for k, v in table["order"].items())},
    )


def _read(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise SystemDataError(f"order file {path} cannot be read: {reason}") from error
    except tomllib.TOMLDecodeError as error:
        raise SystemDataError(f"order file {path}: {error}") from error


def _table(value: Any, where: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise SystemDataError(f"{where} is {value!r}; it must be a table")
    return value


def _known(table: Mapping[str, Any], names: tuple[str, ...], where: str) -> None:
    for name in table:
        if name not in names:
            raise SystemDataError(f"{where}: {name!r} is none of {', '.join(names)}")


def _cutting(table: Mapping[str, Any]) -> CutRules:
    _known(table, _CUTTING, "cutting")
    lengths = {}
    for name in ("bar_kerf", "panel_kerf", "fixing_spacing"):
        try:
            lengths[name] = parse_length(table[name])
        except UnitError as error:
            raise SystemDataError(f"cutting: {name}: {error}") from error
        if lengths[name] < 0 or (name == "fixing_spacing" and lengths[name] == 0):
            raise SystemDataError(f"cutting: {name} is {table[name]!r}; it must not be negative")
    tees = table["border_tees_from_one"]
    if tees not in (1, 2) or isinstance(tees, bool):
        raise SystemDataError(
            f"cutting: border_tees_from_one is {tees!r}; a tee has two ends, so give 1 or 2"
        )
    return CutRules(**lengths, tees_from_one=tees, basis=str(table["basis"]))


def _rule(name: str, table: Mapping[str, Any]) -> OrderRule:
    try:
        item = Item(name)
    except ValueError:
        allowed = ", ".join(item.value for item in Item)
        raise SystemDataError(f"order: {name!r} is no item; choose one of {allowed}") from None
    _known(table, _ORDER, f"order: {name}")
    allowance, pack = table.get("allowance", 0.0), table.get("pack", 1)
    if isinstance(allowance, bool) or not isinstance(allowance, int | float) or not 0 <= allowance <= 1:
        raise SystemDataError(f"order: {name}: allowance is {allowance!r}; give a share from 0 to 1")
    if isinstance(pack, bool) or not isinstance(pack, int) or pack < 1:
        raise SystemDataError(f"order: {name}: pack is {pack!r}; give 1, 2, 3 ...")
    return OrderRule(item=item, allowance=float(allowance), pack=pack, basis=str(table.get("basis", "")))
