"""Which wires a device in a ceiling gets, by its weight and size, in two published sets."""

from __future__ import annotations

from dataclasses import dataclass

from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import SystemDataError
from ifcgrid.domain.obstacle import Kind

__all__ = ["WIRE_TIERS", "WireDemand", "WireTiers", "find_wire_tiers"]

_POUND = 0.45359237
_FOOT = 304.8


@dataclass(frozen=True, slots=True, kw_only=True)
class WireDemand:
    """How many wires a device gets, and whether they may hang slack.

    `is_defined` is False at a weight that the set leaves open ("less than", "more than"):
    then the demand is that of the heavier tier.
    """

    count: int
    is_slack: bool
    is_defined: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tier:
    """What a device gets up to a weight in kg; None as the weight: whatever is heavier."""

    below: float | None
    count: int
    is_slack: bool

    def is_at(self, weight_kg: float) -> bool:
        return self.below is not None and abs(weight_kg - self.below) <= tolerance.WEIGHT

    def holds(self, weight_kg: float) -> bool:
        return self.below is None or (weight_kg < self.below and not self.is_at(weight_kg))


@dataclass(frozen=True, slots=True, kw_only=True)
class WireTiers:
    """One set of tiers. `lights` and `services` (air terminals and other devices), lightest first.

    `is_open_at_limits`: a weight of exactly a tier's limit is in neither tier. `large` is the
    least size in mm in both directions from which a device gets a wire at each corner, None
    where the set has no such rule. `assumed_kg` stands in where the model gives no weight.
    """

    id: str
    title: str
    source: str
    basis: str
    lights: tuple[_Tier, ...]
    services: tuple[_Tier, ...]
    is_open_at_limits: bool
    large: float | None = None
    assumed_kg: float = 25 * _POUND

    def demand(self, kind: Kind, weight_kg: float, size: tuple[float, float]) -> WireDemand:
        """What a device of that weight and size (mm) gets."""
        tiers = self.lights if kind is Kind.LIGHT else self.services
        at_limit = any(t.is_at(weight_kg) for t in tiers)
        tier = next(t for t in tiers if t.holds(weight_kg))
        count, is_slack = tier.count, tier.is_slack
        is_large = self.large is not None and min(size) >= self.large - tolerance.LAY_IN_SLACK
        if is_large and kind is Kind.LIGHT and tier.below is not None:
            count = max(count, 4)
        return WireDemand(
            count=count, is_slack=is_slack, is_defined=not (at_limit and self.is_open_at_limits)
        )


WIRE_TIERS: tuple[WireTiers, ...] = (
    WireTiers(
        id="nwcb",
        title="by weight: 10 and 56 lb for lights, 20 and 56 lb for terminals and services",
        source="lights: Northwest Wall & Ceiling Bureau, Technical Document 401 (edition filed with the City "
        "of Everett); terminals: ASTM E580 5.4, from memory; four wires above 56 lb: default of this project",
        basis="second-hand",
        lights=(
            _Tier(below=10 * _POUND, count=1, is_slack=True),
            _Tier(below=56 * _POUND, count=2, is_slack=True),
            _Tier(below=None, count=4, is_slack=False),
        ),
        services=(
            _Tier(below=20 * _POUND, count=0, is_slack=True),
            _Tier(below=56 * _POUND, count=2, is_slack=True),
            _Tier(below=None, count=4, is_slack=False),
        ),
        is_open_at_limits=True,
    ),
    WireTiers(
        id="dsa",
        title="two slack wires below 56 lb, one at each corner of 4 x 4 ft lights, four taut from 56 lb on",
        source="plan sheet filed with San Joaquin County restating California DSA rules (2016 CBC), note 12; "
        "four taut wires: from memory",
        basis="second-hand",
        lights=(
            _Tier(below=56 * _POUND, count=2, is_slack=True),
            _Tier(below=None, count=4, is_slack=False),
        ),
        services=(
            _Tier(below=56 * _POUND, count=2, is_slack=True),
            _Tier(below=None, count=4, is_slack=False),
        ),
        is_open_at_limits=False,
        large=4 * _FOOT,
    ),
)
"""The sets, the default first. Where a device's weight is unknown, 25 lb are assumed: two wires in both."""


def find_wire_tiers(tiers_id: str) -> WireTiers:
    """The set of that id.

    Raises:
        SystemDataError: there is no such set; the message lists those there are.
    """
    for tiers in WIRE_TIERS:
        if tiers.id == tiers_id:
            return tiers
    raise SystemDataError(f"no wire rules {tiers_id!r}; choose one of {', '.join(t.id for t in WIRE_TIERS)}")
