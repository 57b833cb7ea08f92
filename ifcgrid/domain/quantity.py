"""What a take-off says: net quantities, order quantities, prices; each with the rule behind it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from ifcgrid.domain.cutting import BarPlan, PanelPlan
from ifcgrid.domain.room import Zone

__all__ = [
    "CutRow",
    "Item",
    "OrderLine",
    "OrderRule",
    "Price",
    "Quantity",
    "RoomCost",
    "RoomLine",
    "TakeOff",
    "Unit",
    "line_key",
]


class Item(StrEnum):
    """What is counted or measured."""

    CEILING_AREA = "ceiling area"
    PANEL_AREA = "panel area"
    OPENING_AREA = "opening area"
    PERIMETER = "perimeter"
    PANEL = "panel"
    CUT_PANEL = "cut panel"
    MAIN_RUNNER = "main runner"
    CROSS_TEE = "cross tee"
    SECOND_TEE = "second tee"
    WALL_ANGLE = "wall angle"
    MAIN_LENGTH = "main runner length"
    CROSS_TEE_LENGTH = "cross tee length"
    SECOND_TEE_LENGTH = "second tee length"
    ANGLE_LENGTH = "wall angle length"
    SPLICE = "main runner splice"
    CONNECTION = "tee end in a runner"
    INSIDE_CORNER = "inside corner"
    OUTSIDE_CORNER = "outside corner"
    HANGER = "hanger"
    HANGER_LENGTH = "hanger length"
    ANCHOR = "anchor"
    TRAPEZE = "trapeze"
    BRACE = "brace set"
    DEVICE_WIRE = "device wire"
    LAY_IN_OPENING = "lay-in opening"
    CUT_OPENING = "cut opening"
    TRIM_FIXING = "wall angle fixing"
    TEE = "tee"


class Unit(StrEnum):
    """The unit of a value; lengths are in mm here and shown in m or ft."""

    PIECES = "pcs"
    LENGTH = "mm"
    AREA = "m2"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomLine:
    """What a row says of its room. Its key is the GlobalId of the space or of the gridded soffit."""

    key: str
    number: str
    name: str
    storey: str
    zone: str
    system: str


def line_key(zone: Zone, room: int) -> str:
    """The key of the row of a zone's room: the room's, but the zone's where that is a soffit in the room."""
    return zone.rooms[room].key if any(r.key == zone.key for r in zone.rooms) else zone.key


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A net quantity of one room, as measured from geometry, without waste or spares.

    `size` holds the lengths in mm that tell sorts of an item apart (panel u x v, a tee's
    length, the limits of a hanger's length class).
    """

    room: str
    item: Item
    unit: Unit
    value: float
    rule: str
    size: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRule:
    """How an item is ordered: allowance as a share, pieces to a pack, and who says so."""

    item: Item
    allowance: float
    pack: int
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """What to buy of one article.

    `net` pieces are hung, `stock` pieces are needed after cutting, `allowance` is a share
    on top, `pieces` are `stock` with it, `packs` of `pack` pieces are ordered. `spec` tells
    the article in words, `size` its lengths in mm; `rule` says what produced it.
    """

    item: Item
    spec: str
    size: tuple[float, ...]
    net: int
    stock: int
    allowance: float
    pieces: int
    pack: int
    packs: int
    rule: str
    basis: str

    @property
    def ordered(self) -> int:
        """Pieces in whole packs."""
        return self.packs * self.pack


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRow:
    """One row of the cut list: equal parts of one room, in the order of work.

    `size` is the length of a bar part or the bounds of a panel piece, in mm; `first_hole` the
    distance from a cut main's start to its first hole, NaN where that does not matter;
    `sources` names the bars or panels of the plans that they are cut from.
    """

    room: str
    step: int
    item: Item
    mark: str
    size: tuple[float, ...]
    count: int
    note: str
    sources: tuple[str, ...]
    first_hole: float = math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """One row of a price table: the price of one piece, metre or square metre of an item.

    `size` () and `system` "" fit every size and system.
    """

    item: Item
    unit: str
    price: float
    size: tuple[float, ...] = ()
    system: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomCost:
    """What a room costs laid out in one way; `missing` names items without a price."""

    room: str
    system: str
    angle_deg: float
    cost: float
    missing: tuple[str, ...]
    is_chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeOff:
    """A whole take-off: rooms, net quantities, plans, order, cut list, costs and what was assumed."""

    rooms: tuple[RoomLine, ...]
    quantities: tuple[Quantity, ...]
    bar_plans: tuple[BarPlan, ...]
    panel_plans: tuple[PanelPlan, ...]
    orders: tuple[OrderLine, ...]
    cut_list: tuple[CutRow, ...]
    assumptions: tuple[tuple[str, str, str], ...]
    costs: tuple[RoomCost, ...] = ()
    source: Mapping[str, str] = field(default_factory=dict)

    def total(self, item: Item, room: str | None = None) -> float:
        """The net quantity of an item in one room or in all."""
        return sum(q.value for q in self.quantities if q.item is item and room in (None, q.room))
