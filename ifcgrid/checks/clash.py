"""Clashes of a ceiling with everything else in the building: one finding a cause, in a stable order.

The ceiling is measured anew from its own arrays and the obstacles' shapes; how it was
designed is not asked. Boxes and indices find the candidates, true shapes decide. Expected
contacts are no findings: a device in its cell, a head through its panel, a duct that ends
at its terminal, a hanger at its own soffit, a wall met by the trim.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ifcgrid.checks.braces import check_braces, check_device_wires
from ifcgrid.checks.build_up import check_build_up
from ifcgrid.checks.devices import check_members, check_modules, check_overlaps, check_sizes, crossed_members
from ifcgrid.checks.fixture import find_fixtures
from ifcgrid.checks.hangers import check_hangers, check_spans, check_supports, find_crossings
from ifcgrid.checks.limits import Limit, read_limits
from ifcgrid.checks.partitions import check_partitions
from ifcgrid.checks.scene import Scene
from ifcgrid.checks.sprinklers import check_shared_panels, check_sprinklers
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import Obstacle

__all__ = ["find_clashes"]


def find_clashes(
    ceiling: Ceiling, obstacles: Sequence[Obstacle], limits: Mapping[str, Limit] | None = None
) -> tuple[Finding, ...]:
    """What of the obstacles clashes with a ceiling, one finding a cause.

    Args:
        ceiling: one zone's ceiling.
        obstacles: whatever stands near it, in any order, in model coordinates and mm.
        limits: numbers to judge by; those of `checks/data/clash.toml` when not given.

    Returns:
        Findings in the order of the rules in the data, then of room and subjects. Measures
        are in mm, areas in m².
    """
    limits = read_limits() if limits is None else limits
    scene = Scene.of(ceiling, limits)
    known = sorted(obstacles, key=lambda o: (o.key, o.source))
    fixtures = find_fixtures(scene, known)
    crossed = crossed_members(scene, fixtures)
    crossings = find_crossings(scene, known)
    in_build_up = tuple(check_build_up(scene, known, fixtures, crossings))
    told = {key for finding in in_build_up for key in finding.subjects}
    findings = [
        *check_modules(scene, fixtures, crossed),
        *check_sizes(scene, fixtures),
        *check_members(scene, fixtures, crossed),
        *check_overlaps(scene, fixtures),
        *check_sprinklers(scene, fixtures),
        *check_shared_panels(scene, fixtures, crossed),
        *in_build_up,
        *check_hangers(scene, known, crossings, told),
        *check_spans(scene, known),
        *check_supports(scene, crossings, told),
        *check_braces(scene, known),
        *check_device_wires(scene, known),
        *check_partitions(scene, known),
    ]
    rank = {rule: place for place, rule in enumerate(limits)}
    return tuple(sorted(findings, key=lambda f: (rank[f.rule], f.room, f.subjects)))
