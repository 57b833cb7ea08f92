"""Measured points against those set out: slips of unit and axes, a moved station, outliers.

First the distances between points tell the unit, then the way round them tells whether
axes changed places or sign; then the shift and turn that bring all points together best
are found without the outliers, so that a station set up beside its mark is told from
points that were marked wrongly.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain import tolerance
from ifcgrid.domain.points import Deviation, Survey

__all__ = ["compare_points"]

Array = NDArray[np.float64]

UNITS: Mapping[str, float] = {
    "mm": 1.0,
    "m": 1000.0,
    "ft": 304.8,
    "in": 25.4,
    "cm": 10.0,
}
"""Millimetres in the units that are taken for one another."""

US_FOOT = 1_200_000.0 / 3937.0

UNIT_BAND = 1.02
"""Times by which distances may differ from those set out before another unit is thought of."""

LEAST_SPREAD = 100.0
"""Points that stand nearer to one line than this, in mm, do not tell mirrored axes."""

MOST_PAIRED = 40
"""Of more points than these, so many spread over the list are paired to find the best transform."""

BEYOND = 3.0
"""Robust standard deviations beyond which a point does not go with the others (common practice,
no source)."""

MAD = 1.4826
"""Standard deviations in one median absolute deviation of normal errors."""

BETTER = 0.2
"""Another reading of the axes must leave at most this share of the deviations to be believed."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    """A turn about `centre` and a shift, both (north, east), from what was set out to what was measured."""

    turn: float
    centre: Array
    shift: Array

    def apply(self, plan: Array) -> Array:
        c, s = math.cos(self.turn), math.sin(self.turn)
        # Counter-clockwise seen from above with north up: easting is x, northing is y.
        rest = plan - self.centre
        moved: Array = np.stack([c * rest[:, 0] + s * rest[:, 1], c * rest[:, 1] - s * rest[:, 0]], axis=1)
        return moved + self.centre + self.shift


def compare_points(
    design: Mapping[str, tuple[float, float, float]],
    measured: Mapping[str, tuple[float, float, float]],
    within: float,
    says: Sequence[str] = (),
) -> Survey:
    """What a survey says of the points that were set out.

    Args:
        design: northing, easting, elevation in mm by name, as set out.
        measured: the same as measured; an elevation may be NaN.
        within: the farthest in mm, in plan or in height, that a point may be off.
        says: what reading the file has to tell.
    """
    names = [name for name in design if name in measured]
    wanted = np.array([design[name] for name in names]).reshape(-1, 3)
    found = np.array([measured[name] for name in names]).reshape(-1, 3)
    found, slips = _put_right(wanted, found, within)
    fit, is_in = _robust_fit(wanted[:, :2], found[:, :2], within)
    raw = found - wanted
    rest = np.column_stack([found[:, :2] - fit.apply(wanted[:, :2]), raw[:, 2] - _middle(raw[is_in, 2])])
    rms, rest_rms = _rms(raw[is_in, :2]), _rms(rest[is_in, :2])
    up = _middle(raw[is_in, 2])
    is_moved = len(names) > 2 and rms > within and rest_rms < rms / 2
    points = tuple(
        Deviation(
            name=name,
            north=float(raw[k, 0]),
            east=float(raw[k, 1]),
            up=float(raw[k, 2]),
            rest=(float(rest[k, 0]), float(rest[k, 1]), float(rest[k, 2])),
            is_outlier=not is_in[k],
            is_beyond=bool(math.hypot(*raw[k, :2]) > within or abs(raw[k, 2]) > within),
        )
        for k, name in enumerate(names)
    )
    survey = Survey(
        points=points,
        missing=tuple(name for name in design if name not in measured),
        unknown=tuple(name for name in measured if name not in design),
        slips=tuple(slips),
        says=tuple(says),
        shift=(float(fit.shift[0]), float(fit.shift[1]), up),
        turn_deg=math.degrees(fit.turn),
        centre=(float(fit.centre[0]), float(fit.centre[1])),
        is_moved=is_moved,
        rms=rms,
        rest_rms=rest_rms,
        within=within,
    )
    return replace(survey, says=(*survey.says, *_sentences(survey, wanted)))


def _rms(steps: Array) -> float:
    return float(np.sqrt((steps**2).sum(axis=1).mean())) if len(steps) else 0.0


def _middle(values: Array) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else 0.0


def _put_right(wanted: Array, found: Array, within: float) -> tuple[Array, list[str]]:
    """The measured points with units and axes as they were meant, and what had to be put right."""
    slips: list[str] = []
    if len(wanted) < 2:
        return found, slips
    for find_slip in (_unit_slip, _foot_slip):
        factor, told = find_slip(wanted, found, within)
        if told:
            found = found * factor
            slips.append(told)
    matrix, told = _axis_slip(wanted, found, within)
    if told:
        found = np.column_stack([found[:, :2] @ matrix.T, found[:, 2]])
        slips.append(told)
    return found, slips


def _unit_slip(wanted: Array, found: Array, _within: float) -> tuple[float, str]:
    """The factor that makes distances between points what they should be, and the slip in words."""
    pairs = np.array(list(combinations(_spread(len(wanted)), 2)))
    apart = [np.hypot(*(p[pairs[:, 0], :2] - p[pairs[:, 1], :2]).T) for p in (wanted, found)]
    far = apart[0] > LEAST_SPREAD
    if not far.any() or not (apart[1][far] > 0).any():
        return 1.0, ""
    ratio = float(np.median(apart[0][far] / np.maximum(apart[1][far], tolerance.RELATIVE)))
    if 1.0 / UNIT_BAND <= ratio <= UNIT_BAND:
        return 1.0, ""
    for meant, size in UNITS.items():
        for given, other in UNITS.items():
            if given != meant and 1.0 / UNIT_BAND <= ratio * other / size <= UNIT_BAND:
                # Numbers that are in `meant` but were read in `given` come out too small by other/size.
                return size / other, (
                    f"distances between points are {1 / ratio:.4g} times what they should be: the file's "
                    f"numbers fit if they are in {meant} and were read as {given}"
                )
    return 1.0, (
        f"distances between points are {1 / ratio:.5g} times what they should be, which no mix-up of "
        f"{', '.join(UNITS)} explains"
    )


def _foot_slip(wanted: Array, found: Array, within: float) -> tuple[float, str]:
    """International and US survey feet differ by 2 ppm, which shows far from the origin only."""
    off = _rms(found[:, :2] - wanted[:, :2])
    for factor, words in (
        (US_FOOT / 304.8, "US survey feet and were read as international feet"),
        (304.8 / US_FOOT, "international feet and were read as US survey feet"),
    ):
        then = _rms(found[:, :2] * factor - wanted[:, :2])
        if off > within and then < BETTER * off and then <= within:
            return factor, f"the points fit without shift or turn if the file's numbers are in {words}"
    return 1.0, ""


def _axis_slip(wanted: Array, found: Array, within: float) -> tuple[Array, str]:
    """The matrix that puts swapped or mirrored axes right, and the slip in words."""
    plain = np.eye(2)
    if np.linalg.svd(wanted[:, :2] - wanted[:, :2].mean(axis=0), compute_uv=False)[-1] < LEAST_SPREAD:
        return plain, ""
    best, words = plain, ""
    off = _typical(wanted, found, plain, within)
    if off <= within:
        return best, words
    for matrix, told in (
        (np.array([[0.0, 1.0], [1.0, 0.0]]), "northing and easting changed places"),
        (np.array([[-1.0, 0.0], [0.0, 1.0]]), "northings have the wrong sign: the axis is mirrored"),
        (np.array([[1.0, 0.0], [0.0, -1.0]]), "eastings have the wrong sign: the axis is mirrored"),
    ):
        # As measured, without shift or turn: a mirror image fits all three up to a turn.
        then = _rms_median(wanted, found, matrix)
        if then < BETTER * off and then < BETTER * _rms_median(wanted, found, best):
            best, words = matrix, told
    if words:
        return best, words
    swapped = np.array([[0.0, 1.0], [1.0, 0.0]])
    if _typical(wanted, found, swapped, within) < BETTER * off:
        return swapped, (
            "the points are a mirror image of those set out: northing and easting changed places, or one "
            "axis has the wrong sign, and the station is moved besides"
        )
    return plain, ""


def _rms_median(wanted: Array, found: Array, matrix: Array) -> float:
    return float(np.median(np.hypot(*(found[:, :2] @ matrix.T - wanted[:, :2]).T)))


def _typical(wanted: Array, found: Array, matrix: Array, within: float) -> float:
    """The median distance that is left after the best shift and turn."""
    plan = found[:, :2] @ matrix.T
    fit, _ = _robust_fit(wanted[:, :2], plan, within)
    return float(np.median(np.hypot(*(plan - fit.apply(wanted[:, :2])).T)))


def _spread(count: int) -> list[int]:
    """So many indices as are paired, spread evenly."""
    if count <= MOST_PAIRED:
        return list(range(count))
    return sorted({round(k * (count - 1) / (MOST_PAIRED - 1)) for k in range(MOST_PAIRED)})


def _fit(wanted: Array, found: Array) -> _Fit:
    """The turn and shift of least squares in the plane (closed form)."""
    if len(wanted) == 0:
        return _Fit(turn=0.0, centre=np.zeros(2), shift=np.zeros(2))
    centre, there = wanted.mean(axis=0), found.mean(axis=0)
    a, b = wanted - centre, found - there
    cross = float((a[:, 1] * b[:, 0] - a[:, 0] * b[:, 1]).sum())
    dot = float((a * b).sum())
    turn = math.atan2(cross, dot) if len(wanted) > 1 else 0.0
    return _Fit(turn=turn, centre=centre, shift=there - centre)


def _robust_fit(wanted: Array, found: Array, within: float) -> tuple[_Fit, NDArray[np.bool_]]:
    """The best turn and shift without outliers, and which points are none.

    Of the transforms that pairs of points give, the one with the least median distance says
    which points go together.
    """
    count = len(wanted)
    everything = np.ones(count, dtype=bool)
    if count < 4:
        return _fit(wanted, found), everything
    best, least = _fit(wanted, found), math.inf
    for fit in (best, *_pair_fits(wanted, found)):
        median = float(np.median(np.hypot(*(found - fit.apply(wanted)).T)))
        if median < least:
            best, least = fit, median
    is_in = everything
    for _ in range(10):
        off = np.hypot(*(found - best.apply(wanted)).T)
        now = off <= max(within, BEYOND * MAD * float(np.median(off)))
        if (now == is_in).all() and _ > 0:
            break
        is_in, best = now, _fit(wanted[now], found[now])
    return best, is_in


def _pair_fits(wanted: Array, found: Array) -> Iterator[_Fit]:
    for a, b in combinations(_spread(len(wanted)), 2):
        if math.hypot(*(wanted[b] - wanted[a])) > LEAST_SPREAD:
            yield _fit(wanted[[a, b]], found[[a, b]])


def _sentences(survey: Survey, wanted: Array) -> Iterator[str]:
    north, east, up = survey.shift
    if survey.is_moved:
        turn = abs(survey.turn_deg)
        way = "counter-clockwise" if survey.turn_deg > 0 else "clockwise"
        reach = float(np.hypot(*(wanted[:, :2] - wanted[:, :2].mean(axis=0)).T).max(initial=0.0))
        turned = f" and turned by {turn:.4f} degrees {way}" if math.radians(turn) * reach > 0.5 else ""
        yield (
            f"all points together are shifted by {north:+.1f} mm north and {east:+.1f} mm east{turned}; "
            f"without that {survey.rest_rms:.1f} mm (root mean square) is left of {survey.rms:.1f} mm: the "
            "station or its control points stand wrong, not the single points"
        )
    if abs(up) > survey.within:
        yield f"all elevations are off by {up:+.1f} mm: check the benchmark and the instrument's height"
    outliers = [point.name for point in survey.points if point.is_outlier]
    if outliers:
        yield f"{', '.join(outliers)}: off by more than the others; measure again"
    if not survey.points:
        yield "no measured point bears the name of one that was set out"
    elif len(survey.points) < 3:
        yield "fewer than three points: units, axes and station cannot be told apart from errors"
    elif np.linalg.svd(wanted[:, :2] - wanted[:, :2].mean(axis=0), compute_uv=False)[-1] < LEAST_SPREAD:
        yield "the measured points stand on one line: mirrored axes would not show"
