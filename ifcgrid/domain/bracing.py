"""What holds a ceiling sideways: the numbers it is laid out by, and what is laid out.

Numbers are those of the United States' prescriptive route (ASTM E580/E580M with ASCE 7,
restated by public agencies); they are settings, for published sources disagree. Each
field of `BracingRules` names its source. What stands "from memory" was not read in it.

Coordinates named local are (u, v) of the layout's frame in mm, z is model height in mm.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.errors import SystemDataError

__all__ = ["BracingRules", "PerimeterWall", "SeparationJoint", "Stabilisers", "find_bracing_rules"]

_FOOT = 304.8
_INCH = 25.4


@dataclass(frozen=True, slots=True, kw_only=True)
class BracingRules:
    """Numbers by which a ceiling is held sideways. Lengths in mm, areas in mm².

    `category` is the seismic design category.

    Braces: `is_braced` and `brace_area` (more than 1,000 ft² needs them: ASTM E580-09a 1.5;
    ASCE 7-05 13.5.6.2.2 c), 0 for every room; `spacing` each way (12 ft: City of Daly City
    b18; NWCB Technical Document 401) and `first_brace` from every wall (6 ft: Daly City,
    NWCB 401; 4 ft: a plan sheet restating California DSA rules); `node_reach` from the
    crossing of main and cross runner (2 in: Daly City); `splay_deg` from the ceiling's plane
    at most (45: Daly City, NWCB 401); `clearance` of splay wires from services (6 in, from
    memory: DSA IR 25-2).

    Joints: `is_jointed`, `joint_area` (2,500 ft²: ASCE 7-05 13.5.6.2.2 d, second-hand);
    `joint_ratio` of long to short side of each part (4, from memory: ASCE 7-10 13.5.6.2.2);
    `is_ratio_alone` asks for a joint because of the ratio alone, also below the area;
    `joint_gap` is the free gap there.

    Edges: `is_attached` whether two adjacent walls hold the grid (ASCE 7-05 13.5.6.2.2 b;
    at most two adjacent: San Joaquin County plan sheet 1, n. 4); `free_gap` at all others
    (3/4 in: ASCE 7-05 b; category C 3/8 in, from memory: ASTM E580 section 4); `hanger_end`
    the greatest distance of the end hangers from the wall (8 in: NWCB 401, second-hand);
    `bar_within` of a free wall the ends of runners are tied together (8 in, from memory), not
    where the first parallel runner is at most `bar_free` from the wall (12 in, from memory).
    """

    category: str
    is_braced: bool = True
    brace_area: float = 1000 * _FOOT**2
    spacing: float = 12 * _FOOT
    first_brace: float = 6 * _FOOT
    node_reach: float = 2 * _INCH
    splay_deg: float = 45.0
    clearance: float = 6 * _INCH
    is_jointed: bool = True
    joint_area: float = 2500 * _FOOT**2
    joint_ratio: float = 4.0
    is_ratio_alone: bool = False
    joint_gap: float = 19.05
    is_attached: bool = True
    free_gap: float = 19.05
    hanger_end: float = 8 * _INCH
    bar_within: float = 8 * _INCH
    bar_free: float = 12 * _INCH


_D_TO_F = BracingRules(category="D")
_BY_CATEGORY = {
    "C": replace(_D_TO_F, category="C", is_braced=False, is_jointed=False, is_attached=False, free_gap=9.525),
    **{name: replace(_D_TO_F, category=name) for name in "DEF"},
}


def find_bracing_rules(category: str, **changes: Any) -> BracingRules | None:
    """The rules of a seismic design category (A to F), None in A and B, which ask for none.

    Which category asks for what is from memory where `BracingRules` names no source (ASTM
    E580 sections 4 and 5).

    Raises:
        SystemDataError: there is no such category.
    """
    name = category.strip().upper()
    if name in ("A", "B"):
        return None
    if name not in _BY_CATEGORY:
        raise SystemDataError(f"seismic category {category!r}; choose one of A, B, C, D, E, F")
    return replace(_BY_CATEGORY[name], **changes)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeparationJoint:
    """A line at which a ceiling is parted. Its key is `joint/axis/line/number`.

    `axis` is "u" where the joint lies on a cross-tee line (`line` = i, mains are parted),
    "v" where it lies on a main (`line` = j, cross tees are parted); `number` counts the
    pieces of one line. `start`, `end` are local. The line's own members belong to the part
    before it; what comes after rests free on them, a `gap` in mm away.
    """

    axis: str
    line: int
    number: int
    start: tuple[float, float]
    end: tuple[float, float]
    gap: float

    @property
    def key(self) -> str:
        """The joint's key."""
        return f"joint/{self.axis}/{self.line}/{self.number}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PerimeterWall:
    """How the grid ends at one wall: the edge (`ring`, `edge`) of its wall angle, in one part.

    `part` counts the parts between separation joints. The grid is attached to the wall
    angle there, or rests on it, a `gap` in mm from the wall and free to slide.
    """

    part: int
    ring: int
    edge: int
    is_attached: bool
    gap: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stabilisers:
    """Bars that keep the ends of runners from spreading at free walls.

    A bar's key is `stabiliser/ring/edge/number`. `ring`, `edge` (n,) of the wall's edge;
    `number` (n,) counts along it; `start`, `end` (n, 2) local, on the runners that it ties.
    """

    ring: NDArray[np.int32]
    edge: NDArray[np.int32]
    number: NDArray[np.int32]
    start: NDArray[np.float64]
    end: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.number)

    def keys(self) -> list[str]:
        """One key a bar, in array order."""
        return [
            f"stabiliser/{r}/{e}/{n}"
            for r, e, n in zip(self.ring.tolist(), self.edge.tolist(), self.number.tolist(), strict=True)
        ]
