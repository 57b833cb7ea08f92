"""A zone's outline as it was measured on site: checked, adjusted, and put where it was.

What cannot be is refused with the wall's letter, what was given and what would fit.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ifcgrid.design.measured.judging import CRITICAL, judge_lengths, name_of
from ifcgrid.design.measured.network import Adjustment, Lengths, adjust
from ifcgrid.design.measured.outline import Outline, split_outline
from ifcgrid.design.measured.prior import Shape
from ifcgrid.domain import tolerance
from ifcgrid.domain.errors import RoomError
from ifcgrid.domain.measured import AsMeasured, MeasuredLength, SiteLength, SiteMeasures, WallLength
from ifcgrid.domain.room import Room, Zone

__all__ = ["adjust_zone", "restore_zone"]

Array = NDArray[np.float64]

ALIKE = 0.99
"""Residuals correlated by more tell the same story: which of two lengths is wrong cannot be known."""

GIVE = 1.5
"""With the angles kept, walls may change by this much more than measured lengths differ from the model."""


def adjust_zone(zone: Zone, measures: SiteMeasures) -> Zone:
    """The zone with the outline that fits what was measured; `measured` tells how it came about.

    The model's angles are kept where every length then fits within its standard deviation:
    what cannot be told from square is laid out square.

    Raises:
        RoomError: a name is no wall or corner of the outline, a length cannot be, or the
            lengths contradict each other and it cannot be told which is wrong.
    """
    # Far from the model's origin floats are coarse: the outline is adjusted about its own first corner.
    origin = np.array(zone.outline.exterior.coords[0][:2])
    outline = split_outline(shapely.transform(zone.outline, lambda points: points - origin))
    lengths = _lengths(outline, measures, zone.key)
    judge_lengths(outline, measures, lengths, zone.key)
    fits = _Fits(outline, lengths, {one.name for one in measures.lengths if one.is_wall})
    kept, done = _without_blunders(fits, measures.lengths, zone.key)
    square = fits.square(kept)
    is_square = fits.is_good(square, kept)
    points = square.points if is_square else done.points
    _judge_walls(outline, points, measures, zone.key)
    corners = _placed(outline, points, measures.hold, zone.key)
    polygon = shapely.transform(outline.moved(corners), lambda points: points + origin)
    _judge_shape(polygon, zone.key)
    told = _told(outline, measures, lengths, kept, done, points)
    return _changed(zone, outline, corners, polygon, measures, told, is_square)


class _Fits:
    """The two ways to fit an outline to lengths: free, and with the model's angles kept."""

    def __init__(self, outline: Outline, lengths: Lengths, measured: Collection[str]) -> None:
        weakest = float(lengths.deviation.max(initial=1.0))
        self.lengths = lengths
        self._corners = outline.corners
        self._ends = [s.start for s in outline.spans], [s.end for s in outline.spans]
        shape = Shape(outline, weakest, measured)
        self._free, self._square = shape.free(), shape.square()

    def free(self, kept: NDArray[np.bool_]) -> Adjustment:
        """Fitted to the lengths kept; short walls that these would crush do not turn."""
        done = adjust(self._corners, self.lengths.only(kept), self._free)
        return done if done.is_settled else self.square(kept)

    def square(self, kept: NDArray[np.bool_]) -> Adjustment:
        """The same with no wall turned."""
        return adjust(self._corners, self.lengths.only(kept), *self._square)

    def is_good(self, square: Adjustment, kept: NDArray[np.bool_]) -> bool:
        """Whether every length fits within its deviation, and no wall had to give way by more than they."""
        used = self.lengths.only(kept)
        if (np.abs(square.residual) > used.deviation + tolerance.LENGTH).any():
            return False
        most = float(np.abs(used.at(self._corners) - used.value).max(initial=0.0))
        chords = [p[self._ends[1]] - p[self._ends[0]] for p in (self._corners, square.points)]
        before, after = (np.hypot(*chord.T) for chord in chords)
        return float(np.abs(after - before).max()) <= GIVE * most + tolerance.SHORTEST_EDGE


def _wall_lengths(outline: Outline, corners: Array) -> list[tuple[str, float, float]]:
    """Every wall's letter with its length before and after its corners (m, 2) moved."""
    return [
        (
            span.letter,
            span.factor * float(np.hypot(*(outline.corners[span.end] - outline.corners[span.start]))),
            span.factor * float(np.hypot(*(corners[span.end] - corners[span.start]))),
        )
        for span in outline.spans
    ]


def _without_blunders(
    fits: _Fits, given: Sequence[SiteLength], key: str
) -> tuple[NDArray[np.bool_], Adjustment]:
    """Which lengths agree with each other, and the outline fitted to them; the worst is left out first."""
    kept = np.ones(len(given), dtype=bool)
    done = fits.free(kept)
    while (worst := _worst(done)) is not None:
        used = [one for one, is_kept in zip(given, kept, strict=True) if is_kept]
        _refuse_unclear(done, worst, used, fits, kept, key)
        kept[np.flatnonzero(kept)[worst]] = False
        done = fits.free(kept)
    if not done.is_settled:
        raise RoomError("the measured lengths could not be brought together; measure again", key)
    return kept, done


def _judge_walls(outline: Outline, corners: Array, measures: SiteMeasures, key: str) -> None:
    """Refuses lengths that agree only where a wall that was not measured is far from the model."""
    for letter, before, after in _wall_lengths(outline, corners):
        if abs(after - before) > 2 * measures.within:
            raise RoomError(
                f"the measured lengths fit only if wall {letter} is {after:.1f} mm long, the model has "
                f"{before:.1f} mm: measure that wall, and the others again",
                key,
            )


def _lengths(outline: Outline, measures: SiteMeasures, key: str) -> Lengths:
    walls = {span.letter: span for span in outline.spans}
    corners = outline.corner_names()
    ends, factors = [], []
    for one in measures.lengths:
        if one.is_wall:
            if one.name not in walls:
                raise RoomError(f"measured wall {one.name}: {_has_walls(outline)}", key)
            span = walls[one.name]
            ends.append((span.start, span.end))
            factors.append(span.factor)
            continue
        names = one.name.split("-")
        for name in names:
            if name not in corners:
                known = ", ".join(sorted(dict.fromkeys(_first_names(corners)))) or "none"
                raise RoomError(
                    f"measured distance {one.name}: no walls meet in a corner {name}; the room's corners are "
                    f"{known}",
                    key,
                )
        if corners[names[0]] == corners[names[1]]:
            raise RoomError(f"measured distance {one.name}: both ends are the same corner", key)
        ends.append((corners[names[0]], corners[names[1]]))
        factors.append(1.0)
    both = np.array(ends, dtype=np.int64).reshape(-1, 2)
    return Lengths(
        start=both[:, 0],
        end=both[:, 1],
        factor=np.array(factors, dtype=float),
        value=np.array([one.length for one in measures.lengths], dtype=float),
        deviation=np.array([one.deviation for one in measures.lengths], dtype=float),
    )


def _first_names(corners: dict[str, int]) -> list[str]:
    """One name a corner: as the walls follow each other."""
    return list({at: name for name, at in corners.items()}.values())


def _has_walls(outline: Outline) -> str:
    letters = [span.letter for span in outline.spans]
    return f"there is no such wall; the room has {letters[0]} to {letters[-1]}, see its sheet or explain"


def _worst(done: Adjustment) -> int | None:
    """The length whose residual is the greatest blunder, None where there is none."""
    size = np.nan_to_num(np.abs(done.standardised))
    if not len(size) or size.max() <= CRITICAL:
        return None
    return int(np.argmax(size))


def _refuse_unclear(
    done: Adjustment,
    worst: int,
    given: Sequence[SiteLength],
    fits: _Fits,
    kept: NDArray[np.bool_],
    key: str,
) -> None:
    """Which of several lengths is wrong cannot be told when their residuals go together."""
    alike = np.flatnonzero(np.abs(done.correlation[worst]) > ALIKE).tolist()
    if len(alike) < 2:
        return
    parts = []
    for k in alike:
        others = kept.copy()
        others[np.flatnonzero(kept)[k]] = False
        asked = float(fits.lengths.only(kept).at(fits.free(others).points)[k])
        parts.append(f"{name_of(given[k])} {given[k].length:.1f} (the others ask for {asked:.1f})")
    raise RoomError(
        f"the measured lengths contradict each other, and they do not tell which is wrong: "
        f"{'; '.join(parts)} mm. Measure them again, or one more length to tell by",
        key,
    )


def _placed(outline: Outline, corners: Array, hold: str, key: str) -> Array:
    """The corners turned until the longest wall, or the one held, looks where it did, and moved there."""
    spans = outline.on_ring(0)
    if hold:
        spans = [span for span in outline.spans if span.letter == hold]
        if not spans:
            raise RoomError(f"measured with hold = {hold}: {_has_walls(outline)}", key)
    straight = [span for span in spans if not span.is_curve] or spans
    first, last = [s.start for s in straight], [s.end for s in straight]
    before = outline.corners[last] - outline.corners[first]
    after = corners[last] - corners[first]
    length = np.hypot(*before.T)
    longest = length >= length.max() - tolerance.LENGTH
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = float(np.arctan2(cross, (before * after).sum(axis=1))[longest].mean())
    c, s = np.cos(turn), np.sin(turn)
    turned = corners @ np.array([[c, -s], [s, c]])
    own = (
        [straight[0].start, straight[0].end]
        if hold
        else sorted({i for s in outline.on_ring(0) for i in (s.start, s.end)})
    )
    placed: Array = turned + (outline.corners[own].mean(axis=0) - turned[own].mean(axis=0))
    return placed


def _judge_shape(polygon: Polygon, key: str) -> None:
    if not polygon.is_valid or polygon.area < tolerance.PIECE_AREA:
        reason = shapely.is_valid_reason(polygon)
        raise RoomError(f"the measured lengths give an outline that cannot be ({reason}); measure again", key)


def _told(
    outline: Outline,
    measures: SiteMeasures,
    lengths: Lengths,
    kept: NDArray[np.bool_],
    done: Adjustment,
    points: Array,
) -> tuple[tuple[MeasuredLength, ...], int]:
    """What the adjustment says of each length, and how many there were beyond those needed."""
    before, after = lengths.at(outline.corners), lengths.at(points)
    place = np.cumsum(kept) - 1
    told = tuple(
        MeasuredLength(
            name=one.name,
            before=float(before[k]),
            given=one.length,
            after=float(after[k]),
            deviation=one.deviation,
            redundancy=float(done.redundancy[place[k]]) if kept[k] else 1.0,
            standardised=_finite(float(done.standardised[place[k]])) if kept[k] else None,
            is_set_aside=not kept[k],
        )
        for k, one in enumerate(measures.lengths)
    )
    return told, round(float(done.redundancy.sum()))


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _changed(
    zone: Zone,
    outline: Outline,
    corners: Array,
    polygon: Polygon,
    measures: SiteMeasures,
    told: tuple[tuple[MeasuredLength, ...], int],
    is_square: bool,
) -> Zone:
    lengths, redundancy = told
    walls = tuple(
        WallLength(letter=letter, before=before, after=after)
        for letter, before, after in _wall_lengths(outline, corners)
    )
    measured = AsMeasured(
        design=zone.outline,
        lengths=lengths,
        walls=walls,
        redundancy=redundancy,
        level=measures.level,
        date=measures.date,
        by=measures.by,
        hold=measures.hold,
        is_square=is_square,
    )
    return replace(zone, outline=polygon, rooms=_rooms(zone, outline, corners, polygon), measured=measured)


def restore_zone(zone: Zone, measured: AsMeasured, polygon: Polygon) -> Zone:
    """The zone with an outline that an earlier adjustment gave, its rooms taken along.

    `polygon` has the points of `measured.design`, elsewhere.
    """
    origin = np.array(measured.design.exterior.coords[0][:2])
    outline = split_outline(shapely.transform(measured.design, lambda points: points - origin))
    corners = np.empty_like(outline.corners)
    rings = (polygon.exterior, *polygon.interiors)
    for span in outline.spans:
        points = np.asarray(rings[span.ring].coords)[:, :2] - origin
        corners[span.start] = points[span.points[0]]
        if span.is_round:
            corners[span.end] = points[span.points[len(span.points) // 2]]
    design = replace(zone, outline=measured.design)
    return replace(zone, outline=polygon, rooms=_rooms(design, outline, corners, polygon), measured=measured)


def _rooms(zone: Zone, outline: Outline, corners: Array, polygon: Polygon) -> tuple[Room, ...]:
    """The zone's rooms, their outlines and sections taken along."""
    origin = np.array(zone.outline.exterior.coords[0][:2])
    local = outline.mover(corners)

    def move(points: Array) -> Array:
        moved: Array = local(points - origin) + origin
        return moved

    def carried(shape: Polygon) -> Polygon:
        if shape.equals(zone.outline):
            return polygon
        moved = shapely.transform(shape, move)
        return moved if moved.is_valid else shape

    return tuple(
        replace(room, outline=carried(room.outline), section=carried(room.section)) for room in zone.rooms
    )
