"""Ceilings with the study of what is above them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from ifcgrid.checks.limits import limits_for
from ifcgrid.checks.plenum import find_plenum
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.obstacle import Obstacle
from ifcgrid.pipeline.nearby import Nearby

__all__ = ["with_plenums"]


def with_plenums(
    ceilings: Iterable[Ceiling],
    obstacles: Sequence[Obstacle],
    numbers: Mapping[str, float | bool] | None = None,
) -> tuple[Ceiling, ...]:
    """The ceilings, each with how high it could hang; as they are where nothing is known to be in the way.

    `numbers` are a project's own for clash rules.
    """
    if not obstacles:
        return tuple(ceilings)
    nearby, limits = Nearby(obstacles), limits_for(numbers or {})
    return tuple(replace(c, plenum=find_plenum(c, nearby.find(c.zone), limits)) for c in ceilings)
