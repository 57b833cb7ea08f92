"""Symbols drawn from primitives, told apart without colour (graphics: from memory, common practice)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ifcgrid.domain.obstacle import Kind
from ifcgrid.outputs.paper.box import Box
from ifcgrid.outputs.paper.canvas import Canvas
from ifcgrid.outputs.paper.text import Label, centre_label

__all__ = ["SYMBOL_WORDS", "box_ring", "draw_device", "draw_flag", "draw_hangers", "draw_number"]

SYMBOL_WORDS = {
    Kind.LIGHT: "light",
    Kind.AIR_TERMINAL: "air terminal",
    Kind.SPRINKLER: "sprinkler",
    Kind.DETECTOR: "detector",
    Kind.DEVICE: "other device",
}
"""What the legend calls each symbol."""

_LEAST = 1.1
"""A round symbol's radius on paper is at least this, so that it can be seen."""


def _middle(ring: NDArray[np.float64]) -> tuple[float, float, float]:
    (x0, y0), (x1, y1) = ring.min(axis=0), ring.max(axis=0)
    return float(x0 + x1) / 2, float(y0 + y1) / 2, max(min(float(x1 - x0), float(y1 - y0)) / 2, _LEAST)


def draw_device(canvas: Canvas, kind: Kind, ring: NDArray[np.float64]) -> None:
    """The symbol of a device whose outline on paper is `ring` (n, 2), not closed.

    Light: its outline, filled grey; air terminal: outline with an X; sprinkler: circle
    with a dot; detector: circle with an S; other: outline with one diagonal.
    """
    x, y, radius = _middle(ring)
    if kind is Kind.SPRINKLER:
        canvas.circle(x, y, min(radius, 2.0), 0.25, fill="#fff")
        canvas.circle(x, y, 0.4, 0.1, fill="#000")
    elif kind is Kind.DETECTOR:
        canvas.circle(x, y, max(min(radius, 2.5), 1.5), 0.25, fill="#fff")
        size = 2.2
        label = centre_label(x, y, "S", size)
        if canvas.is_free(label.box):
            canvas.put(label)
    else:
        canvas.areas([ring], 0.3, fill="#ccc" if kind is Kind.LIGHT else "#fff")
        if kind is not Kind.LIGHT and len(ring) >= 4:
            quarter = len(ring) // 4
            corners = [ring[k * quarter] for k in range(4)]
            crossing = [[corners[0], corners[2]], [corners[1], corners[3]]]
            canvas.lines(crossing if kind is Kind.AIR_TERMINAL else crossing[:1], 0.25)


def box_ring(x: float, y: float, size: float) -> NDArray[np.float64]:
    """The four corners of a square on paper whose upper left corner is (x, y)."""
    return np.array([(x, y), (x + size, y), (x + size, y + size), (x, y + size)])


def draw_hangers(canvas: Canvas, points: NDArray[np.float64], size: float = 0.9) -> None:
    """A small upright cross at every point (n, 2) on paper."""
    parts = []
    for x, y in points.tolist():
        parts += [[(x - size, y), (x + size, y)], [(x, y - size), (x, y + size)]]
    canvas.lines(parts, 0.25)


def draw_flag(canvas: Canvas, x: float, y: float, number: int) -> None:
    """A numbered triangle whose tip is at (x, y); the number stands where there is room."""
    tip = [(x, y), (x - 1.3, y - 2.6), (x + 1.3, y - 2.6)]
    canvas.areas([tip], 0.35, fill="#000")
    text, size = str(number), 2.8
    spots = [(1.8, -1.2), (-1.8, -1.2), (1.8, 2.2), (-1.8, 2.2), (1.8, -4.2), (-1.8, -4.2)]
    canvas.put_first_free(
        Label(x=x + dx, y=y + dy, text=text, size=size, anchor="start" if dx > 0 else "end", is_bold=True)
        for dx, dy in spots
    )


def draw_number(canvas: Canvas, x: float, y: float, text: str, radius: float = 2.4) -> None:
    """A number in a circle, for the ends of a string."""
    canvas.circle(x, y, radius, 0.4, fill="#fff")
    canvas.put(centre_label(x, y, text, radius * 1.45, is_bold=True))
    canvas.reserve(Box(x - radius, y - radius, x + radius, y + radius))
