"""Ceilings in which one measure has a wanted value, for tests of rules at their limits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from handmade_ceilings import build_ceiling, rectangle
from shapely import box

from ifcgrid.checks.judge import judge_rules
from ifcgrid.checks.rule_data import read_rule_file
from ifcgrid.checks.rule_sets import Chosen
from ifcgrid.checks.units import find_unit
from ifcgrid.domain.bracing import PerimeterWall, Stabilisers
from ifcgrid.domain.ceiling import Ceiling, Hangers, Opening, Role
from ifcgrid.domain.finding import Finding, Verdict
from ifcgrid.domain.hanging import Braces, Pieces, Wires
from ifcgrid.domain.load_path import measure_loads
from ifcgrid.domain.loads import GRAVITY, POUND_N
from ifcgrid.domain.obstacle import Kind, Obstacle
from ifcgrid.domain.seismic import Seismic
from ifcgrid.domain.weights import Strength, Weights

FOOT, INCH = 304.8, 25.4
LEVEL = 2700.0


def judge(
    ceiling: Ceiling,
    file_id: str,
    rule: str,
    *,
    obstacles: Sequence[Obstacle] = (),
    seismic: Seismic | None = None,
    switches: Mapping[str, str] | None = None,
) -> list[Finding] | str:
    """What one rule of one file says; the reason where it was not applied."""
    chosen = Chosen(files=(read_rule_file(file_id),), switches=switches or {})
    findings, unchecked = judge_rules(ceiling, obstacles, chosen, seismic)
    found = [f for f in findings if f.rule == rule]
    return found or next(u.reason for u in unchecked if u.rule == rule)


def verdict_of(answer: list[Finding] | str) -> str:
    """The worst verdict, or `not checked`."""
    if isinstance(answer, str):
        return "not checked"
    order = [Verdict.FAIL, Verdict.UNKNOWN, Verdict.PASS]
    return str(min((f.verdict for f in answer), key=order.index))


def room(length: float = 6000.0, width: float = 4800.0, **given: Any) -> Ceiling:
    return build_ceiling(rectangle(length, width), (300.0, 300.0), **given)


def with_system(ceiling: Ceiling, **changes: Any) -> Ceiling:
    return replace(ceiling, system=replace(ceiling.system, **changes))


def with_panels(ceiling: Ceiling, kg_per_m2: float) -> Ceiling:
    """Only panels weigh anything."""
    weights = Weights(panel_kg_per_m2=kg_per_m2, main_kg_per_m=0.0, tee_kg_per_m=0.0, basis="test")
    return with_system(ceiling, weights=weights)


def with_hangers(ceiling: Ceiling, places: Sequence[float], **changes: Any) -> Ceiling:
    """Hangers at the same distances from the start of every main."""
    members = ceiling.members
    mains = np.flatnonzero(members.role == Role.MAIN_RUNNER)
    count = len(places)
    line = np.repeat(members.line[mains], count).astype(np.int32)
    point = np.repeat(members.start[mains], count, axis=0)
    point[:, 0] += np.tile(np.asarray(places, dtype=float), len(mains))
    number = len(line)
    hangers = Hangers(
        line=line,
        index=np.tile(np.arange(count), len(mains)).astype(np.int32),
        room=np.zeros(number, dtype=np.int32),
        point=point,
        bottom=np.full(number, LEVEL + 38.0),
        top=np.full(number, LEVEL + 638.0),
        support=("slab",) * number,
    )
    return replace(ceiling, hangers=replace(hangers, **changes))


def scaled(make: Callable[[float], Ceiling], measure: Callable[[Ceiling], float], wanted: float) -> Ceiling:
    """A ceiling whose measure, proportional to its panels' weight, has a wanted value."""
    return make(wanted / measure(make(1.0)))


def leaning(value: float) -> Ceiling:
    ceiling = with_hangers(room(), [400, 1500, 2600, 3700, 4800, 5600])
    aside = ceiling.hangers.point.copy()
    aside[0, 1] += value * 600.0
    return replace(ceiling, hangers=replace(ceiling.hangers, top_point=aside))


def loaded(newtons: float) -> Ceiling:
    return scaled(lambda kg: with_panels(room(), kg), lambda c: measure_loads(c).tension_n.max(), newtons)


def weighing(per_mm2: float) -> Ceiling:
    return with_panels(room(), per_mm2 * 1000**2 / GRAVITY)


def bending(ratio: float, part: str) -> Ceiling:
    """The stiffest-to-softest measure: the least span over deflection of mains or tees."""

    def worst(ceiling: Ceiling) -> float:
        loads = measure_loads(ceiling)
        if part == "tee_deflection":
            tees = ceiling.members.role == Role.CROSS_TEE
            return float((loads.tee_deflection[tees] / ceiling.members.length[tees]).max())
        return float((getattr(loads, part) / loads.span_length).max())

    return scaled(lambda kg: with_panels(room(), kg), worst, 1 / ratio)


def line_loaded(newtons_per_mm: float, test_span: float) -> Ceiling:
    def worst(ceiling: Ceiling) -> float:
        loads = measure_loads(ceiling)
        return float((loads.span_load * (loads.span_length / test_span) ** 3).max())

    heavy = Strength(duty="light", basis="test")
    return scaled(lambda kg: with_system(with_panels(room(), kg), strength=heavy), worst, newtons_per_mm)


def spliced(value: float) -> Ceiling:
    """The first main has a splice `value` mm from its nearest hanger."""
    ceiling = with_hangers(room(), [400, 1500, 2600, 3700, 4800, 5600])
    main = int(np.flatnonzero(ceiling.members.role == Role.MAIN_RUNNER)[0])
    cut = 2600.0 + value
    return replace(
        ceiling,
        pieces=Pieces(
            member=np.array([main, main], dtype=np.int32),
            number=np.array([0, 1], dtype=np.int32),
            start=np.array([0.0, cut]),
            end=np.array([cut, 6000.0]),
            first_hole=np.array([75.0, 75.0]),
            is_factory=np.ones((2, 2), dtype=bool),
            mark=("A", "B"),
        ),
    )


def stepped(value: float) -> Ceiling:
    """The second hanger of each main hangs `value` mm higher than the others."""
    ceiling = with_hangers(room(), [400, 1100, 1800, 2600, 3400, 4200, 5000, 5700])
    bottom = ceiling.hangers.bottom.copy()
    bottom[ceiling.hangers.index == 1] += value
    return replace(ceiling, hangers=replace(ceiling.hangers, bottom=bottom))


def lit(value: float) -> tuple[Ceiling, list[Obstacle]]:
    """A lay-in light that has a wire over three corners and one `value` mm from the fourth."""
    outline = box(1800, 1200, 2400, 1800)
    opening = Opening(key="lamp", outline=outline, room=0, is_lay_in=True, cells=(3, 2, 1, 1))
    ceiling = room(openings=(opening,))
    corners = np.array([[1800, 1200], [2400, 1200], [2400, 1800], [1800 - value, 1800]], dtype=float)
    return replace(ceiling, wires=wires_at("lamp", corners)), [device("lamp", Kind.LIGHT, 40.0)]


def wires_at(key: str, points: np.ndarray, slack: int | None = None) -> Wires:
    number = len(points)
    return Wires(
        device=(key,) * number,
        number=np.arange(number, dtype=np.int32),
        point=np.asarray(points, dtype=float).reshape(-1, 2),
        bottom=np.full(number, LEVEL),
        top=np.full(number, LEVEL + 600),
        is_slack=np.arange(number) < (number if slack is None else slack),
        support=("slab",) * number,
    )


def device(key: str, kind: Kind, newtons: float | None, size: float = 600.0) -> Obstacle:
    return Obstacle(
        key=key,
        kind=kind,
        name=key,
        outline=box(1800, 1200, 1800 + size, 1200 + size),
        bottom=LEVEL - 10,
        top=LEVEL + 100,
        weight_kg=None if newtons is None else newtons / GRAVITY,
    )


def carrying(
    kind: Kind, newtons: float | None, slack: int, taut: int = 0, size: float = 600.0
) -> tuple[Ceiling, list[Obstacle]]:
    """A ceiling with one device and its wires."""
    outline = box(1800, 1200, 1800 + size, 1200 + size)
    opening = Opening(key="thing", outline=outline, room=0, is_lay_in=False)
    ceiling = room(openings=(opening,))
    points = np.tile([2000.0, 1500.0], (slack + taut, 1))
    return replace(ceiling, wires=wires_at("thing", points, slack)), [device("thing", kind, newtons, size)]


def walled(*gaps: float | None, ends: Sequence[float] = ()) -> Ceiling:
    """A perimeter of walls with a gap each, None where the grid is attached."""
    _ = ends
    walls = tuple(
        PerimeterWall(part=0, ring=0, edge=edge, is_attached=gap is None, gap=gap or 0.0)
        for edge, gap in enumerate(gaps)
    )
    return replace(room(), perimeter=walls)


def with_bars(count: int, borders: tuple[float, float] = (450.0, 450.0)) -> Ceiling:
    """One free wall with `count` bars; the first parallel runner is a border away from it."""
    ceiling = build_ceiling(rectangle(6000 + 2 * borders[0], 4800 + 2 * borders[1]), borders)
    walls = (PerimeterWall(part=0, ring=0, edge=0, is_attached=False, gap=19.05),)
    bars = Stabilisers(
        ring=np.zeros(count, dtype=np.int32),
        edge=np.zeros(count, dtype=np.int32),
        number=np.arange(count, dtype=np.int32),
        start=np.zeros((count, 2)),
        end=np.ones((count, 2)),
    )
    return replace(ceiling, perimeter=walls, stabilisers=bars)


def braced(
    points: Sequence[tuple[float, float]],
    ceiling: Ceiling | None = None,
    *,
    angle_deg: float = 45.0,
    wires: int = 4,
    has_post: bool = True,
) -> Ceiling:
    """Brace sets at model points, their wires along and across the mains at an angle."""
    ceiling = ceiling or room(24 * FOOT, 24 * FOOT)
    local = ceiling.layout.frame.to_local(np.array(points, dtype=float).reshape(-1, 2))
    number, rise = len(local), 500.0
    run = rise / np.tan(np.radians(angle_deg))
    top = np.full((number, 4, 3), np.nan)
    for k, way in enumerate([(1, 0), (0, 1), (-1, 0), (0, -1)][:wires]):
        top[:, k, :2] = local + np.array(way) * run
        top[:, k, 2] = LEVEL + 38.0 + rise
    return replace(
        ceiling,
        braces=Braces(
            line=np.arange(number, dtype=np.int32),
            column=np.arange(number, dtype=np.int32),
            point=local,
            post_top=np.full(number, LEVEL + 600 if has_post else np.nan),
            wire_top=top,
            support=(("slab",) * 5,) * number,
        ),
    )


def pulled(newtons: float, edition: str) -> tuple[Ceiling, Seismic]:
    """One brace set whose wire is pulled by a force; it is proportional to SDS."""
    ceiling = with_panels(braced([(3000.0, 2400.0)], room()), 30.0)

    def measure(sds: float) -> float:
        found = judge(
            ceiling,
            f"asce{edition}",
            "brace-wire-force",
            seismic=Seismic(sds=sds, z_over_h=1.0, edition=edition),
        )
        return found[0].value * POUND_N

    return ceiling, Seismic(sds=newtons / measure(1.0), z_over_h=1.0, edition=edition)


def in_unit(value: float, unit: str) -> float:
    """A number in a rule's unit as internal units."""
    return value * find_unit(unit)[1]
