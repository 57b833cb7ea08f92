"""Ceilings with the study of what is above them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from ifcgrid.checks.plenum import find_plenum
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.pipeline.nearby import Nearby

__all__ = ["with_plenums"]


def with_plenums(ceilings: Iterable[Ceiling], obstacles: Sequence[Obstacle]) -> tuple[Ceiling, ...]:
    """The ceilings, each with how high it could hang; as they are where nothing is known to be in the way."""
    if not obstacles:
        return tuple(ceilings)
    nearby = Nearby(obstacles)
    return tuple(replace(c, plenum=find_plenum(c, nearby.find(c.zone))) for c in ceilings)
