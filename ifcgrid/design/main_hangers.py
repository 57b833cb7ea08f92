"""The hangers of one run of a main: straight ones if that can be, else what gets past an obstacle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ifcgrid.design.covering import Answer, Kind, Run, keeps, spread
from ifcgrid.design.overhead import Line, Overhead
from ifcgrid.design.stretches import Stretch, common, complement, unite
from ifcgrid.design.ways import Bar, Bars, Leans, Places
from ifcgrid.design.windows import Demands
from ifcgrid.domain.hanging import HangerKind
from ifcgrid.domain.system import GridSystem

__all__ = ["MainHangers", "Spot"]

_STRAIGHT, _SPLAYED, _BAR, _TIGHT, _CLOSE = range(5)
"""Kinds of hangers.

A tight one stands where structure leaves it no room; a close one goes straight up past
something nearer than the clearance, where else the main hung free.
"""

_SHARES = (0.75, 0.5, 0.25)
"""Shares of the clearance that close hangers keep, the greatest that does is taken.

Common practice, no source: a wire does not touch a duct.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """One hanger: where on its main, its kind, its lean in u and v for each mm of rise, its bar."""

    place: float
    kind: HangerKind = HangerKind.STRAIGHT
    lean: tuple[float, float] = (0.0, 0.0)
    bar: Bar | None = None


@dataclass(frozen=True, slots=True)
class _Told:
    """What is to be said of a hanger or a gap of a length, and the hurdles that it is due to."""

    what: str
    hurdles: tuple[int, ...]
    length: float = 0.0


class MainHangers:
    """Solves run after run of one ceiling, and gathers what people should know."""

    def __init__(self, system: GridSystem, overhead: Overhead) -> None:
        self._system, self._overhead = system, overhead
        self._told: list[_Told] = []
        self._solved: dict[tuple[object, ...], Answer] = {}
        self._bars: list[Bar] = []

    def solve(
        self, start: NDArray[np.float64], end: NDArray[np.float64], demands: Demands
    ) -> list[Spot] | None:
        """The hangers of a run between two local points, in order; None when nothing is asked of it."""
        line = Line(axis=0, at=float(start[1]), low=float(start[0]), high=float(end[0]))
        taken = self._overhead.taken(line)
        low = self._overhead.low_stretches(line)
        if not (taken or low or demands.windows):
            return None
        run = Run(
            low=line.low,
            high=line.high,
            spacing=self._system.hanger_spacing,
            end=self._system.hanger_end,
            windows=demands.windows,
        )
        shut = [*low, *demands.shut]
        free = complement([*shut, *(s for s, _ in taken)], line.low, line.high)
        straight = Places(cost=(0, 0, 0, 1), stretches=free)
        answer = self._straight(run, straight)
        if answer.cost[0] or answer.unmet:
            return self._past(run, line, taken, low, shut, straight)
        return [Spot(place=place) for place, _ in answer.places]

    def _straight(self, run: Run, straight: Places) -> Answer:
        """Straight hangers only; equal runs, wherever they lie, are solved once."""
        key = (
            round(run.high - run.low, 6),
            *((round(a - run.low, 6), round(b - run.low, 6)) for a, b in run.windows),
            None,
            *((round(a - run.low, 6), round(b - run.low, 6)) for a, b in straight.stretches),
        )
        if key not in self._solved:
            answer = spread(run, [straight])
            self._solved[key] = replace(answer, places=tuple((p - run.low, k) for p, k in answer.places))
        found = self._solved[key]
        return replace(found, places=tuple((p + run.low, k) for p, k in found.places))

    def _past(
        self,
        run: Run,
        line: Line,
        taken: Sequence[tuple[Stretch, int]],
        low: Sequence[Stretch],
        shut: Sequence[Stretch],
        straight: Places,
    ) -> list[Spot]:
        """Hangers of all kinds where straight ones do not keep every demand."""
        rules = self._system.hanging
        leans = Leans(self._overhead, line, shut, rules)
        within = common(unite(s for s, _ in taken), complement(shut, line.low, line.high))
        bars = Bars(overhead=self._overhead, line=line, rules=rules, within=within)
        kinds: list[Kind] = [
            straight,
            Places(cost=(0, 0, 1, 2), stretches=leans.stretches),
            bars,
            Places(cost=(1, 0, 0, 1), stretches=low),
        ]
        answer = self._close_in(run, line, shut, kinds, spread(run, kinds))
        answer = self._share_bars(run, answer, bars)
        spots: list[Spot] = []
        for place, kind in answer.places:
            if kind == _SPLAYED:
                lean = leans.at(place)
                tilt = (lean.along, lean.aside)
                spots.append(Spot(place=place, kind=HangerKind.SPLAYED, lean=tilt))
                back = (-lean.along, -lean.aside)
                spots.append(Spot(place=lean.counter, kind=HangerKind.COUNTER, lean=back))
            elif kind == _BAR:
                bar = bars.at(place)
                spots.append(Spot(place=place, kind=HangerKind.TRAPEZE, bar=bar))
                if bar is not None:
                    self._bars.append(bar)
            elif kind == _CLOSE:
                spots.append(Spot(place=place))
                near, hurdles = self._overhead.beside(line, place)
                self._told.append(_Told("close", hurdles, near))
            else:
                spots.append(Spot(place=place))
        self._tell(answer, spots, taken)
        return spots

    def _close_in(
        self, run: Run, line: Line, shut: Sequence[Stretch], kinds: Sequence[Kind], answer: Answer
    ) -> Answer:
        """The same with less clearance in the gaps that are left, where that closes some of them.

        A main that hangs free sags; one hung a little nearer to a duct than is handy does not.
        """
        answers = [answer]
        for share in _SHARES if answer.gaps else ():
            met = self._overhead.met(line, share * self._system.hanging.clearance)
            free = common(complement([*shut, *met], line.low, line.high), answer.gaps)
            answers.append(spread(run, [*kinds, Places(cost=(0, 1, 0, 1), stretches=free)]))
        return min(answers, key=lambda one: one.cost[0])

    def _share_bars(self, run: Run, answer: Answer, bars: Bars) -> Answer:
        """Hangers on trapezes drawn to bars of other mains that reach over this one, where they may."""
        if answer.gaps:
            return answer
        places = [place for place, _ in answer.places]
        for i, (place, kind) in enumerate(answer.places):
            if kind != _BAR:
                continue
            across = {bar.at for bar in self._bars if bar.axis == 1}
            for other in sorted(across, key=lambda at: (abs(at - place), at)):
                tried = [*places[:i], other, *places[i + 1 :]]
                if abs(other - place) > run.spacing:
                    break
                if keeps(run, answer, tried) and tried == sorted(tried) and bars.at(other) in self._bars:
                    places = tried
                    break
        return replace(answer, places=tuple(zip(places, (kind for _, kind in answer.places), strict=True)))

    def _tell(self, answer: Answer, spots: Sequence[Spot], taken: Sequence[tuple[Stretch, int]]) -> None:
        def over(low: float, high: float) -> tuple[int, ...]:
            return tuple(sorted({k for (a, b), k in taken if a <= high and b >= low}))

        for spot in spots:
            if spot.kind is HangerKind.SPLAYED:
                self._told.append(_Told("splayed", over(spot.place, spot.place)))
            elif spot.bar is not None:
                self._told.append(_Told("trapeze", spot.bar.spans))
        for low, high in answer.gaps:
            self._told.append(_Told("gap", over(low, high), high - low))
        for low, high in answer.unmet:
            self._told.append(_Told("unmet", over(low, high)))

    def notes(self) -> tuple[str, ...]:
        """Sentences on what was splayed, carried by trapezes or could not be hung, one a cause."""
        groups: dict[tuple[str, tuple[int, ...]], list[float]] = {}
        for told in self._told:
            groups.setdefault((told.what, told.hurdles), []).append(told.length)
        return tuple(
            self._sentence(what, hurdles, lengths) for (what, hurdles), lengths in sorted(groups.items())
        )

    def _sentence(self, what: str, hurdles: tuple[int, ...], lengths: Sequence[float]) -> str:
        bodies = [self._overhead.hurdles[k] for k in hurdles]
        names = ", ".join(f"{body.kind} '{body.name or body.key}'" for body in bodies) or "structure"
        many = len(lengths)
        if what == "splayed":
            return f"{many} hangers lean past {names}, each with a counter"
        if what == "trapeze":
            return f"{many} hangers are carried by trapezes under {names}"
        if what == "close":
            return (
                f"{many} hangers pass {names} nearer than the clearance of "
                f"{self._system.hanging.clearance:g} mm, down to {max(min(lengths), 0.0):.0f} mm: "
                "their mains would hang free"
            )
        if what == "unmet":
            return f"{many} splices or corners have no hanger near enough because of {names}"
        return (
            f"{many} mains hang free for up to {max(lengths):.0f} mm under {names}: no hanger gets past it, "
            "straight, splayed or by a trapeze"
        )
