"""Prices from a table of the user's own; none ship. A room pays its share of what it is cut from."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import SystemDataError, UnitError
from ifcgrid.domain.quantity import Item, Price, Quantity, RoomLine, TakeOff, Unit
from ifcgrid.domain.units import parse_length, parse_size

__all__ = ["UNITS", "cost_rooms", "parse_prices", "read_prices"]

UNITS = {"pcs": 1.0, "m": 1e-3, "ft": 1 / 304.8, "m2": 1.0, "ft2": 1 / 0.3048**2}
"""The units that a price may be for, and how many of them are in a piece, a mm or a m2."""

_COLUMNS = ("item", "unit", "price", "size", "system")
_LENGTHS = {
    Item.MAIN_RUNNER: Item.MAIN_LENGTH,
    Item.WALL_ANGLE: Item.ANGLE_LENGTH,
    Item.HANGER: Item.HANGER_LENGTH,
}
_SHARED = (Item.MAIN_RUNNER, Item.TEE, Item.WALL_ANGLE, Item.PANEL)
_COUNTED = (Item.HANGER, Item.ANCHOR, Item.TRAPEZE, Item.BRACE, Item.DEVICE_WIRE, Item.SPLICE)


def read_prices(path: str | Path) -> tuple[Price, ...]:
    """The price table in a CSV file.

    Raises:
        SystemDataError: it cannot be read, or a row is wrong; the message names the row.
    """
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise SystemDataError(f"price table {path} cannot be read: {reason}") from error
    return parse_prices(text, str(path))


def parse_prices(text: str, name: str = "price table") -> tuple[Price, ...]:
    """Prices from CSV text with the columns item, unit, price and, when wanted, size and system.

    Raises:
        SystemDataError: a column is missing or a row is wrong.
    """
    head = text.splitlines()[0] if text.strip() else ""
    rows = csv.DictReader(text.splitlines(), delimiter=";" if head.count(";") > head.count(",") else ",")
    columns = [str(c).strip().lower() for c in rows.fieldnames or ()]
    if missing := [c for c in _COLUMNS[:3] if c not in columns]:
        raise SystemDataError(f"{name}: column {missing[0]!r} is missing; the first row names the columns")
    return tuple(
        _price({(k or "").strip().lower(): str(v or "").strip() for k, v in row.items()}, f"{name}, row {n}")
        for n, row in enumerate(rows, start=2)
        if any(row.values())
    )


def _price(row: Mapping[str, str], where: str) -> Price:
    try:
        item = Item(row["item"].lower())
    except ValueError:
        raise SystemDataError(
            f"{where}: {row['item']!r} is no item; choose one of {', '.join(i.value for i in Item)}"
        ) from None
    if row["unit"] not in UNITS:
        raise SystemDataError(f"{where}: {row['unit']!r} is no unit; choose one of {', '.join(UNITS)}")
    try:
        price = float(row["price"].replace(",", "."))
    except ValueError:
        price = math.nan
    if not math.isfinite(price) or price < 0:
        raise SystemDataError(f"{where}: price {row['price']!r} is no amount; write for example 12.50")
    return Price(
        item=item,
        unit=row["unit"],
        price=price,
        size=_size(row.get("size", ""), where),
        system=row.get("system", ""),
    )


def _size(text: str, where: str) -> tuple[float, ...]:
    if not text:
        return ()
    try:
        return parse_size(text) if "x" in text.lower() else (parse_length(text),)
    except UnitError as error:
        raise SystemDataError(f"{where}: size: {error}") from error


def cost_rooms(take_off: TakeOff, prices: Sequence[Price]) -> dict[str, tuple[float, tuple[str, ...]]]:
    """For each room's key: what it costs, and the items that have no price.

    Bars and panels priced by the piece are shared among the rooms that are cut from them,
    so that the rooms' costs sum to the job's. Priced by length or area, a room pays its net
    quantity. Allowances and packs are not in it.
    """
    shares = _shares(take_off)
    nets = _nets(take_off.quantities)
    found: dict[str, tuple[float, tuple[str, ...]]] = {}
    for room in take_off.rooms:
        total, missing = 0.0, []
        articles = [(item, size, n) for (key, item, size), n in shares.items() if key == room.key]
        for item, size, number in articles:
            cost = _cost(room, item, size, number, prices, nets)
            if cost is None and item is Item.SPLICE:
                continue  # most mains bear their own
            if cost is None:
                missing.append(f"{item.value} {' x '.join(f'{x:g}' for x in size)}".strip())
            else:
                total += cost
        found[room.key] = (total, tuple(missing))
    return found


def _shares(take_off: TakeOff) -> dict[tuple[str, Item, tuple[float, ...]], float]:
    """Pieces by room, item and size; what several rooms are cut from is shared by length or evenly."""
    shares: dict[tuple[str, Item, tuple[float, ...]], float] = {}

    def add(room: str, item: Item, size: tuple[float, ...], number: float) -> None:
        shares[room, item, size] = shares.get((room, item, size), 0.0) + number

    for plan in take_off.bar_plans:
        for bar in plan.bars:
            parts = [plan.parts[placed.part] for placed in bar]
            used = math.fsum(part.length for part in parts)
            for part in parts:
                add(part.room, Item(plan.stock.item), (plan.stock.length,), part.length / used)
    for q in take_off.quantities:
        if q.item in (*_COUNTED, Item.PANEL):
            add(q.room, q.item, q.size if q.item is Item.PANEL else (), q.value)
    for panel_plan in take_off.panel_plans:
        for sheet in panel_plan.sheets:
            for k in sheet:
                size = (panel_plan.along, panel_plan.across)
                add(panel_plan.demands[k].room, Item.PANEL, size, 1 / len(sheet))
    return shares


def _nets(quantities: Iterable[Quantity]) -> dict[tuple[str, Item], float]:
    nets: dict[tuple[str, Item], float] = {}
    for q in quantities:
        nets[q.room, q.item] = nets.get((q.room, q.item), 0.0) + q.value
    return nets


def _cost(
    room: RoomLine,
    item: Item,
    size: tuple[float, ...],
    number: float,
    prices: Sequence[Price],
    nets: Mapping[tuple[str, Item], float],
) -> float | None:
    """The cost of so many pieces; None without a price."""
    price = _find(prices, item, size, room.system)
    if price is None:
        return None
    if price.unit == "pcs":
        return number * price.price
    measure = Item.CEILING_AREA if item is Item.PANEL else _LENGTHS.get(item)
    is_area = price.unit in ("m2", "ft2")
    if measure is None or is_area != (item is Item.PANEL):
        unit = Unit.AREA if item is Item.PANEL else Unit.PIECES
        raise SystemDataError(
            f"price of {item.value}: {price.unit} does not fit it; give a price per {unit.value}"
        )
    return nets.get((room.key, measure), 0.0) * UNITS[price.unit] * price.price


def _find(prices: Sequence[Price], item: Item, size: tuple[float, ...], system: str) -> Price | None:
    """The price that names the most: system and size go before either, either before none."""
    fitting = [
        p
        for p in prices
        if p.item is item and p.system in ("", system) and (not p.size or _same(p.size, size))
    ]
    return max(fitting, key=lambda p: (bool(p.system) + bool(p.size), bool(p.size)), default=None)


def _same(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return len(one) == len(other) and all(
        tolerance.is_equal(a, b, tolerance.SHORTEST_MEMBER)
        for a, b in zip(sorted(one), sorted(other), strict=True)
    )
