"""Clashes of a ceiling with everything else in the building: one finding a cause, in a stable order.

The ceiling is measured anew from its own arrays and the obstacles' shapes; how it was
designed is not asked. Boxes and indices find the candidates, true shapes decide. Expected
contacts are no findings: a device in its cell, a head through its panel, a duct that ends
at its terminal, a hanger at its own soffit, a wall met by the trim.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from ifcgrid.checks.access import check_access
from ifcgrid.checks.braces import check_braces, check_device_wires
from ifcgrid.checks.build_up import check_build_up
from ifcgrid.checks.clear_zone import check_clear_zone, check_insulation
from ifcgrid.checks.devices import check_members, check_modules, check_overlaps, check_sizes, crossed_members
from ifcgrid.checks.fields import check_fields, check_heights, check_joints
from ifcgrid.checks.fixture import Fixtures, find_fixtures
from ifcgrid.checks.hangers import (
    Crossings,
    check_fixings,
    check_hangers,
    check_spans,
    check_supports,
    find_crossings,
)
from ifcgrid.checks.heads import check_headroom, check_heads
from ifcgrid.checks.life_safety import check_deflectors, check_detectors, check_obstructions, check_rings
from ifcgrid.checks.limits import Limit, read_limits
from ifcgrid.checks.partitions import check_partitions
from ifcgrid.checks.scene import Scene
from ifcgrid.checks.sprinklers import check_shared_panels, check_sprinklers
from ifcgrid.checks.walls import check_rated_walls
from ifcgrid.domain.ceiling import Ceiling
from ifcgrid.domain.finding import Finding
from ifcgrid.domain.obstacle import STRUCTURE, Obstacle

__all__ = ["find_clashes", "find_clashes_between", "tell_once"]


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
    findings = [
        *_device_findings(scene, fixtures, known),
        *_void_findings(scene, fixtures, known),
        *check_braces(scene, known),
        *check_device_wires(scene, known),
        *check_partitions(scene, known),
        *check_rated_walls(scene, known),
        *check_heads(scene, known),
        *check_headroom(scene),
        *check_joints(scene, known),
    ]
    return _in_order(findings, limits)


def _device_findings(scene: Scene, fixtures: Fixtures, known: Sequence[Obstacle]) -> Iterator[Finding]:
    """What is wrong with devices in the ceiling's plane."""
    crossed = crossed_members(scene, fixtures)
    yield from check_modules(scene, fixtures, crossed)
    yield from check_sizes(scene, fixtures)
    yield from check_members(scene, fixtures, crossed)
    yield from check_overlaps(scene, fixtures)
    yield from check_sprinklers(scene, fixtures)
    yield from check_shared_panels(scene, fixtures, crossed)
    yield from check_deflectors(scene, fixtures)
    yield from check_obstructions(scene, known, fixtures)
    yield from check_detectors(scene, fixtures)
    yield from check_rings(scene, fixtures)


def _void_findings(scene: Scene, fixtures: Fixtures, known: Sequence[Obstacle]) -> Iterator[Finding]:
    """What is wrong above the ceiling; what reaches into the build-up is told once, with its hangers."""
    crossings: Crossings = find_crossings(scene, known)
    in_build_up = tuple(check_build_up(scene, known, fixtures, crossings))
    told = {key for finding in in_build_up for key in finding.subjects}
    yield from in_build_up
    in_clear_zone = tuple(check_clear_zone(scene, known, fixtures, crossings, told))
    yield from in_clear_zone
    structure = {o.key for o in known if o.kind in STRUCTURE}
    told |= structure.intersection(key for finding in in_clear_zone for key in finding.subjects)
    yield from check_insulation(scene, known, fixtures)
    yield from check_access(scene, known, fixtures)
    yield from check_hangers(scene, known, crossings, told)
    yield from check_spans(scene, known)
    yield from check_supports(scene, crossings, told)
    yield from check_fixings(scene, known)


def find_clashes_between(
    ceilings: Sequence[Ceiling], limits: Mapping[str, Limit] | None = None
) -> tuple[Finding, ...]:
    """What is wrong of all ceilings of a building together: fields overlap, heights disagree."""
    limits = read_limits() if limits is None else limits
    return _in_order([*check_heights(ceilings, limits), *check_fields(ceilings, limits)], limits)


def tell_once(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings of several ceilings, in their order, those on a wall between two rooms only at the first."""
    told: set[tuple[str, tuple[str, ...]]] = set()
    kept = []
    for finding in findings:
        cause = (finding.rule, finding.subjects)
        if finding.rule in _SHARED and cause in told:
            continue
        told.add(cause)
        kept.append(finding)
    return tuple(kept)


_SHARED = frozenset({"rated-wall-short", "cavity-barrier"})


def _in_order(findings: Sequence[Finding], limits: Mapping[str, Limit]) -> tuple[Finding, ...]:
    """Findings by the rules in the data, then by room and subjects; of rules that are left out, none."""
    rank = {rule: place for place, rule in enumerate(limits)}
    kept = [f for f in findings if limits[f.rule].is_judged]
    return tuple(sorted(kept, key=lambda f: (rank[f.rule], f.room, f.subjects)))
