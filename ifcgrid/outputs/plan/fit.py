"""Which paper and which scale a storey's plan is drawn on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import chain

from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.dimension import is_metric
from ifcgrid.outputs.paper.sheet import INCH_PAPERS, MARGIN, PAPERS, Paper, pick_scale, usual_scales

__all__ = ["Around", "Fit", "choose_fit"]

_LIST_WIDTH = 92.0
_USUAL = {True: 100, False: 96}
"""Metric or not. Usual for ceiling plans, 1:100 or 1/8 in to a foot (US VA design manual, 1.17.7): larger
paper is taken to reach it."""

_INCH = 25.4
_LARGE = {True: ("A0", 1189.0, 841.0), False: ("E", 44.0 * _INCH, 34.0 * _INCH)}
"""Metric or not: the largest sheet (ISO 216; ASME Y14.1, from memory)."""

_TOO_SMALL = ("A4 ", "Letter ")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """The paper, the boxes on it for the plan, the lists, the title block and the legend, and the scale."""

    paper: Paper
    plan: Box
    column: Box
    block: Box
    legend: Box
    scale: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What stands around a plan.

    `frame` gives the y below the head and above the foot of a paper, `legend_height` the
    height of the legend at a width, `left_over` how many lines of the list find no place
    in a column; `block_height` is that of the title block, `margin` what is kept free
    around the plan for tags of axes.
    """

    frame: Callable[[Paper], tuple[float, float]]
    legend_height: Callable[[float], float]
    left_over: Callable[[Box], int]
    block_height: float
    margin: float = 0.0


def _papers(units: str) -> list[Paper]:
    own = PAPERS if is_metric(units) else INCH_PAPERS
    name, long, short = _LARGE[is_metric(units)]
    large = [
        Paper(name=f"{name} {way}", width=w, height=h)
        for way, w, h in (("landscape", long, short), ("portrait", short, long))
    ]
    return [paper for paper in chain(own.values(), large) if not paper.name.startswith(_TOO_SMALL)]


def _fit(
    paper: Paper,
    units: str,
    size: tuple[float, float],
    around: Around,
) -> Fit:
    top, bottom = around.frame(paper)
    split = paper.width - MARGIN - _LIST_WIDTH
    legend_left = MARGIN + 86.0
    height = max(around.legend_height(split - 4.0 - legend_left) + 4.0, 14.0)
    legend = Box(legend_left, bottom - height + 2.0, split - 4.0, bottom)
    plan = Box(MARGIN + 4.0, top + 8.0, split - 8.0, bottom - height - 8.0).grow(-around.margin)
    scales = usual_scales(units)
    scale = pick_scale(*size, plan, scales) or scales[-1]
    block = Box(split, bottom - around.block_height, paper.width - MARGIN, bottom)
    column = Box(split, top + 1.5, paper.width - MARGIN, block.top - 3.0)
    return Fit(paper=paper, plan=plan, column=column, block=block, legend=legend, scale=scale)


def choose_fit(units: str, size: tuple[float, float], around: Around) -> Fit:
    """The smallest paper on which the storey is at least at the usual scale and the list fits.

    Where none reaches that scale, the one of the largest; the list gives way first.
    """

    def cost(fit: Fit) -> tuple[int, int, float]:
        area = fit.paper.width * fit.paper.height
        return max(fit.scale, _USUAL[is_metric(units)]), around.left_over(fit.column), area

    return min((_fit(paper, units, size, around) for paper in _papers(units)), key=cost)
